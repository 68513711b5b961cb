package whole

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"evenlimb/pipeline/testkit"
	"evenlimb/pipeline/warehouse"
)

// exactly is how far a number of a row may lie from R's, relative: both add and
// divide the same few numbers.
const exactly = 1e-12

// column is one column of a published table: its name in R's file, and its
// value in a row. A text is compared letter by letter, a number by exactly.
type column[T any] struct {
	name string
	of   func(row T) any
}

// compareRows holds every field of every row against R's, row by row. The columns
// of the key come first.
func compareRows[T any](t *testing.T, a *testkit.Answers, file string, got []T, columns []column[T]) {
	t.Helper()
	if len(got) == 0 {
		t.Fatalf("%s: the pipeline has no rows", file)
	}
	for _, c := range columns {
		want := a.Text(file, c.name)
		if len(want) != len(got) {
			for i := range min(len(want), len(got)) {
				if !same(c.of(got[i]), want[i]) {
					t.Errorf("%s, line %d, %s: got %s, R has %q", file, i+2, c.name, text(c.of(got[i])), want[i])
					break
				}
			}
			t.Errorf("%s, %s: %d rows, R has %d", file, c.name, len(got), len(want))
			continue
		}
		wrong := 0
		for i, row := range got {
			if same(c.of(row), want[i]) {
				continue
			}
			if wrong++; wrong <= 5 {
				t.Errorf("%s, line %d, episode %v, %s: got %s, R has %q", file, i+2, columns[0].of(row), c.name, text(c.of(row)), want[i])
			}
		}
		if wrong > 5 {
			t.Errorf("%s, %s: %d of %d rows differ", file, c.name, wrong, len(got))
		}
	}
}

func same(got any, want string) bool {
	var x float64
	switch v := got.(type) {
	case float64:
		x = v
	case *float64:
		if v == nil {
			return want == ""
		}
		x = *v
	default:
		return text(got) == want
	}
	y, err := strconv.ParseFloat(want, 64)
	return err == nil && math.Abs(x-y) <= exactly*math.Max(1, math.Abs(y))
}

// text writes a value as R's files do; nothing is an empty cell.
func text(value any) string {
	switch v := value.(type) {
	case *int:
		if v == nil {
			return ""
		}
		return strconv.Itoa(*v)
	case *float64:
		if v == nil {
			return ""
		}
		return fmt.Sprint(*v)
	case *time.Time:
		if v == nil {
			return ""
		}
		return v.Format(time.DateOnly)
	case time.Time:
		if v.IsZero() {
			return ""
		}
		return v.Format(time.DateOnly)
	case bool:
		if v {
			return "1"
		}
		return "0"
	default:
		return fmt.Sprint(v)
	}
}

// TestRowsAreThoseOfR compares what the queries derive with what R derives from
// the same files and README's definitions.
func TestRowsAreThoseOfR(t *testing.T) {
	p := built(t)
	a := testkit.Reference(t, "whole/derive")
	testkit.AlmostEqual(t, "episodes", float64(len(p.returns)), a.Float("episodes"), 0)
	testkit.AlmostEqual(t, "pairs", float64(len(p.pairs)), a.Float("pairs"), 0)
	testkit.AlmostEqual(t, "changes", float64(len(p.changes)), a.Float("changes"), 0)
	testkit.AlmostEqual(t, "both", float64(len(p.both)), a.Float("both"), 0)
	p.compareDoseRows(t, a)
	t.Run("return", func(t *testing.T) {
		compareRows(t, a, "rows_return.csv", p.returns, []column[warehouse.ReturnEpisode]{
			{"episode", func(e warehouse.ReturnEpisode) any { return e.EpisodeKey }},
			{"person", func(e warehouse.ReturnEpisode) any { return e.PersonKey }},
			{"site", func(e warehouse.ReturnEpisode) any { return e.Site }},
			{"injury_type", func(e warehouse.ReturnEpisode) any { return e.InjuryType }},
			{"start_date", func(e warehouse.ReturnEpisode) any { return e.StartDate }},
			{"data_through", func(e warehouse.ReturnEpisode) any { return e.DataThrough }},
			{"follow_days", func(e warehouse.ReturnEpisode) any { return e.FollowDays }},
			{"unusable", func(e warehouse.ReturnEpisode) any { return e.Unusable }},
			{"target_stage", func(e warehouse.ReturnEpisode) any { return e.TargetStage }},
			{"target_origin", func(e warehouse.ReturnEpisode) any { return e.TargetOrigin }},
			{"stage_at_start", func(e warehouse.ReturnEpisode) any { return e.StageAtStart }},
			{"at_target", func(e warehouse.ReturnEpisode) any { return e.AtTarget }},
			{"return_day", func(e warehouse.ReturnEpisode) any { return e.ReturnDay }},
			{"return_day_short", func(e warehouse.ReturnEpisode) any { return e.ReturnDayShort }},
			{"return_day_long", func(e warehouse.ReturnEpisode) any { return e.ReturnDayLong }},
			{"provisional", func(e warehouse.ReturnEpisode) any { return e.Provisional }},
			{"end_day", func(e warehouse.ReturnEpisode) any { return e.EndDay }},
			{"end_cause", func(e warehouse.ReturnEpisode) any { return e.EndCause }},
			{"out_day", func(e warehouse.ReturnEpisode) any { return e.OutDay }},
			{"out_reason", func(e warehouse.ReturnEpisode) any { return e.OutReason }},
			{"goal_met_day", func(e warehouse.ReturnEpisode) any { return e.GoalMetDay }},
			{"last_contact_day", func(e warehouse.ReturnEpisode) any { return e.LastContactDay }},
			{"contacts", func(e warehouse.ReturnEpisode) any { return e.Contacts }},
		})
	})
	t.Run("gaps", func(t *testing.T) {
		compareRows(t, a, "rows_gaps.csv", p.gaps, []column[warehouse.ContactGap]{
			{"episode", func(g warehouse.ContactGap) any { return g.EpisodeKey }},
			{"day", func(g warehouse.ContactGap) any { return g.Day }},
			{"gap_days", func(g warehouse.ContactGap) any { return g.GapDays }},
		})
	})
	t.Run("reach", func(t *testing.T) {
		compareRows(t, a, "rows_reach.csv", p.reaches, []column[warehouse.SiteReach]{
			{"site", func(s warehouse.SiteReach) any { return s.Site }},
			{"data_through", func(s warehouse.SiteReach) any { return s.DataThrough }},
			{"stated", func(s warehouse.SiteReach) any { return s.Stated }},
			{"first_start", func(s warehouse.SiteReach) any { return s.FirstStart }},
		})
	})
	t.Run("pairs", func(t *testing.T) {
		compareRows(t, a, "rows_pairs.csv", p.pairs, []column[warehouse.SidePair]{
			{"episode", func(p warehouse.SidePair) any { return p.EpisodeKey }},
			{"measure", func(p warehouse.SidePair) any { return p.Measure }},
			{"day", func(p warehouse.SidePair) any { return p.Day }},
			{"severity", func(p warehouse.SidePair) any { return p.Severity }},
			{"involved", func(p warehouse.SidePair) any { return p.Involved }},
			{"uninvolved", func(p warehouse.SidePair) any { return p.Uninvolved }},
			{"uninvolved_day", func(p warehouse.SidePair) any { return p.UninvolvedDay }},
			{"uninvolved_baseline", func(p warehouse.SidePair) any { return p.UninvolvedBaseline }},
			{"index_percent", func(p warehouse.SidePair) any { return p.IndexPercent }},
			{"baseline_percent", func(p warehouse.SidePair) any { return p.BaselinePercent }},
			{"same_rater", func(p warehouse.SidePair) any { return p.SameRater }},
		})
	})
	t.Run("changes", func(t *testing.T) {
		compareRows(t, a, "rows_changes.csv", p.changes, []column[warehouse.LimbChange]{
			{"episode", func(c warehouse.LimbChange) any { return c.EpisodeKey }},
			{"measure", func(c warehouse.LimbChange) any { return c.Measure }},
			{"day", func(c warehouse.LimbChange) any { return c.Day }},
			{"baseline_day", func(c warehouse.LimbChange) any { return c.BaselineDay }},
			{"value", func(c warehouse.LimbChange) any { return c.Value }},
			{"baseline", func(c warehouse.LimbChange) any { return c.Baseline }},
			{"same_rater", func(c warehouse.LimbChange) any { return c.SameRater }},
		})
	})
	t.Run("both sides", func(t *testing.T) {
		compareRows(t, a, "rows_both.csv", p.both, []column[warehouse.BilateralChange]{
			{"episode", func(c warehouse.BilateralChange) any { return c.EpisodeKey }},
			{"measure", func(c warehouse.BilateralChange) any { return c.Measure }},
			{"limb", func(c warehouse.BilateralChange) any { return c.Limb }},
			{"day", func(c warehouse.BilateralChange) any { return c.Day }},
			{"baseline_day", func(c warehouse.BilateralChange) any { return c.BaselineDay }},
			{"value", func(c warehouse.BilateralChange) any { return c.Value }},
			{"baseline", func(c warehouse.BilateralChange) any { return c.Baseline }},
			{"same_rater", func(c warehouse.BilateralChange) any { return c.SameRater }},
		})
	})
	t.Run("bilateral", func(t *testing.T) {
		compareRows(t, a, "rows_return.csv", p.episodes, []column[warehouse.SymmetryEpisode]{
			{"episode", func(e warehouse.SymmetryEpisode) any { return e.EpisodeKey }},
			{"person", func(e warehouse.SymmetryEpisode) any { return e.PersonKey }},
			{"bilateral", func(e warehouse.SymmetryEpisode) any { return e.Bilateral }},
			{"severity", func(e warehouse.SymmetryEpisode) any { return e.Severity }},
			{"return_day", func(e warehouse.SymmetryEpisode) any { return e.ReturnDay }},
		})
	})
	t.Run("dose", func(t *testing.T) {
		compareRows(t, a, "rows_dose.csv", p.doses, []column[warehouse.DoseEpisode]{
			{"episode", func(d warehouse.DoseEpisode) any { return d.EpisodeKey }},
			{"landmark_day", func(d warehouse.DoseEpisode) any { return d.LandmarkDay }},
			{"missing_reason", func(d warehouse.DoseEpisode) any { return d.MissingReason }},
			{"sessions", func(d warehouse.DoseEpisode) any { return d.Sessions }},
			{"bouts", func(d warehouse.DoseEpisode) any { return d.Bouts }},
			{"sets", func(d warehouse.DoseEpisode) any { return d.Sets }},
			{"reps", func(d warehouse.DoseEpisode) any { return d.Reps }},
			{"inflated_minutes", func(d warehouse.DoseEpisode) any { return d.InflatedMinutes }},
			{"pressure_minutes", func(d warehouse.DoseEpisode) any { return d.PressureMinutes }},
			{"planned_sets", func(d warehouse.DoseEpisode) any { return d.PlannedSets }},
		})
		compareRows(t, a, "rows_return.csv", p.doses, []column[warehouse.DoseEpisode]{
			{"episode", func(d warehouse.DoseEpisode) any { return d.EpisodeKey }},
			{"person", func(d warehouse.DoseEpisode) any { return d.PersonKey }},
			{"site", func(d warehouse.DoseEpisode) any { return d.Site }},
			{"injury_type", func(d warehouse.DoseEpisode) any { return d.InjuryType }},
			{"start_date", func(d warehouse.DoseEpisode) any { return d.StartDate }},
			{"severity", func(d warehouse.DoseEpisode) any { return d.Severity }},
			{"follow_days", func(d warehouse.DoseEpisode) any { return d.FollowDays }},
			{"unusable", func(d warehouse.DoseEpisode) any { return d.Unusable }},
			{"at_target", func(d warehouse.DoseEpisode) any { return d.AtTarget }},
			{"return_day", func(d warehouse.DoseEpisode) any { return d.ReturnDay }},
			{"provisional", func(d warehouse.DoseEpisode) any { return d.Provisional }},
			{"end_day", func(d warehouse.DoseEpisode) any { return d.EndDay }},
			{"out_day", func(d warehouse.DoseEpisode) any { return d.OutDay }},
			{"out_reason", func(d warehouse.DoseEpisode) any { return d.OutReason }},
		})
	})
}
