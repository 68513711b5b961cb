package returning

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

func rules() settings.Return {
	return settings.Return{
		WindowMonths: 24, HoldDays: 14, HoldDaysShort: 0, HoldDaysLong: 28, TargetByDay: 28,
		HorizonWeeks: []int{6, 12, 26}, MeanWeeks: []int{26, 12, 6}, AtRiskFloor: 10,
	}
}

func input(episodes ...warehouse.ReturnEpisode) Input {
	for i := range episodes {
		episodes[i].EpisodeKey, episodes[i].PersonKey = i+1, i+1
	}
	return Input{
		Episodes: episodes, Month: monthEnd, Rules: rules(), Batch: 4,
		InjuryTypes: []string{"calf_strain", "hamstring_strain"}, TypeFloor: 1, Sites: []string{"north", "south"},
	}
}

func figures(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		if _, twice := byID[f.ID]; twice {
			t.Errorf("%s stands twice", f.ID)
		}
		byID[f.ID] = f
	}
	return byID
}

func near(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-12 {
		t.Errorf("%s: got %v, want %g", what, got, want)
	}
}

// five people: back on days 10 and 20, a competing end on day 15, left on day
// 12, in care to day 100.
func five() []warehouse.ReturnEpisode {
	var rows []warehouse.ReturnEpisode
	for range 5 {
		rows = append(rows, began(100, 120))
	}
	rows[0].ReturnDay = n(10)
	rows[1].ReturnDay = n(20)
	rows[2].EndDay, rows[2].EndCause = n(15), "surgery"
	rows[3].OutDay, rows[3].OutReason = 12, "transferred"
	return rows
}

// By hand: on day 10 one of 5 comes back: F = 1/5, S = 4/5. On day 12 one
// leaves. On day 15 one of 3 has another end: that share is 4/5 x 1/3 = 4/15,
// S = 8/15. On day 20 one of 2 comes back: F = 1/5 + 8/15 x 1/2 = 7/15.
func TestCurveByHand(t *testing.T) {
	f := figures(t, input(five()...))
	const picture = "return.calf_strain.24m/"
	for id, want := range map[string]float64{
		"began": 5, "at_risk": 5, "at_target": 0, "no_usable": 0,
		"returned": 2, "ended_otherwise": 1, "in_care": 1, "not_followed": 1,
		"cumulative@w0": 0, "cumulative@w1": 0, "cumulative@w2": 1.0 / 5, "cumulative@w3": 7.0 / 15, "share@w6": 7.0 / 15, "share@w12": 7.0 / 15,
		"competing@w2": 0, "competing@w3": 4.0 / 15,
		"at_risk@w0": 5, "at_risk@w1": 5, "at_risk@w2": 3, "at_risk@w3": 1, "at_risk@w14": 1,
		"lower_quartile_weeks": 20.0 / 7,
	} {
		near(t, id, f[picture+id].Value, want)
	}
	for id, want := range map[string]float64{"not_followed": 1, "lost": 0, "left_otherwise": 1, "ended.surgery": 1, "ended.died": 0, "returned_provisional": 0} {
		near(t, "practice "+id, f["return.24m/"+id].Value, want)
	}
	for id, reason := range map[string]string{
		"median_weeks":   "Not reached: by the end of follow-up 47 % were back.",
		"cumulative@w15": "Nobody has been watched to week 15 yet.",
		"share@w26":      "Nobody has been watched to week 26 yet.",
		"mean_weeks@w6":  "Fewer than 10 people were at risk at week 6.",
	} {
		g := f[picture+id]
		if g.Status != result.Withheld || g.Value != nil || g.Reason != reason {
			t.Errorf("%s: status %s, value %v, reason %q", id, g.Status, g.Value, g.Reason)
		}
	}
	share := f[picture+"share@w6"]
	if *share.Persons != 5 || *share.Episodes != 5 || *share.Events != 2 || *share.Missing != 0 || share.Level != 0.95 {
		t.Errorf("share: %+v", share)
	}
	if !slices.Contains(share.Warnings, "Rests on fewer than 10 returns.") || !slices.Contains(share.Warnings, "Fewer than 10 people were still at risk at week 6.") {
		t.Errorf("warnings %q", share.Warnings)
	}
}

// Two episodes of one person are not independent: the variance says so.
func TestVarianceIsByPersonWhereSomeoneCameTwice(t *testing.T) {
	once := figures(t, input(five()...))["return.calf_strain.24m/share@w6"]
	in := input(five()...)
	in.Episodes[1].PersonKey = 1
	twice := figures(t, in)["return.calf_strain.24m/share@w6"]
	if once.Method == twice.Method || !strings.Contains(twice.Method, "person") {
		t.Errorf("methods %q and %q", once.Method, twice.Method)
	}
	if *twice.Persons != 4 || *twice.Episodes != 5 || *once.StdError == *twice.StdError {
		t.Errorf("persons %d, episodes %d, standard errors %g and %g", *twice.Persons, *twice.Episodes, *once.StdError, *twice.StdError)
	}
}

func TestSensitivities(t *testing.T) {
	rows := five()
	rows[3].OutReason = "gap"
	rows[0].ReturnDayShort, rows[0].ReturnDayLong = n(5), nil
	rows[1].ReturnDayShort, rows[1].ReturnDayLong = n(20), n(20)
	rows[4].OutDay, rows[4].OutReason, rows[4].GoalMetDay = 50, "goal_met", n(41)
	f := figures(t, input(rows...))
	for id, want := range map[string]float64{
		// Nobody leaves: day 10 1/5, day 15 another end, day 20 one of 3 x 3/5.
		"share_if_lost_never@w6": 2.0 / 5,
		// Back on days 10, 12 and 20 of 5.
		"share_if_lost_return@w6": 3.0 / 5,
		// Day 5 in place of day 10.
		"share_hold_0@w6": 7.0 / 15,
		// The first is not back for long and still watched, one is lost on day
		// 12; day 15: one of 4 ends, S = 3/4; day 20: one of 3 comes back.
		"share_hold_28@w6": 3.0 / 4 / 3,
		// Day 41: the last one comes back as well: 7/15 + 4/15.
		"share_goal_met_returned@w6": 11.0 / 15,
	} {
		near(t, id, f["return.calf_strain.24m/"+id].Value, want)
	}
}

func TestNothingCompetes(t *testing.T) {
	rows := five()
	rows[2].EndDay = nil
	f := figures(t, input(rows...))
	near(t, "competing@w3", f["return.calf_strain.24m/competing@w3"].Value, 0)
	// Day 10: 4/5. Day 12: one leaves. Day 20: one of 3. 1 - 4/5 x 2/3 = 7/15.
	near(t, "share@w6", f["return.calf_strain.24m/share@w6"].Value, 7.0/15)
}

func TestPeriodEdges(t *testing.T) {
	from := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		start time.Time
		want  float64
	}{{from.AddDate(0, 0, -1), 0}, {from, 1}, {monthEnd, 1}, {monthEnd.AddDate(0, 0, 1), 0}} {
		e := began(10, 20)
		e.StartDate = c.start
		near(t, c.start.Format(time.DateOnly), figures(t, input(e))["return.24m/began"].Value, c.want)
	}
}

func TestAMonthWithoutAnybody(t *testing.T) {
	f := figures(t, input())
	near(t, "began", f["return.24m/began"].Value, 0)
	near(t, "began at a site", f["return.site=north.24m/began"].Value, 0)
	if _, ok := f["return.calf_strain.24m/began"]; ok {
		t.Error("a type that nobody began with has figures")
	}
}

func TestNobodyAtRisk(t *testing.T) {
	e := began(100, 120)
	e.AtTarget = true
	f := figures(t, input(e))
	for _, id := range []string{"share@w6", "cumulative@w0", "median_weeks", "share_hold_28@w12"} {
		g := f["return.calf_strain.24m/"+id]
		if g.Status != result.Withheld || !strings.HasPrefix(g.Reason, "Nobody was at risk") {
			t.Errorf("%s: %s, %q", id, g.Status, g.Reason)
		}
	}
}

func TestProvisionalReturnsAreMarked(t *testing.T) {
	rows := five()
	rows[1].Provisional = true // back on day 20
	f := figures(t, input(rows...))
	for id, want := range map[string]result.Status{
		"returned": result.Provisional, "began": result.Final,
		"cumulative@w2": result.Final, "cumulative@w3": result.Provisional, "share@w6": result.Provisional, "lower_quartile_weeks": result.Provisional,
	} {
		if got := f["return.calf_strain.24m/"+id].Status; got != want {
			t.Errorf("%s is %s, want %s", id, got, want)
		}
	}
}

func TestVisitSpacing(t *testing.T) {
	in := input(five()...)
	gap := func(day, days int) warehouse.ContactGap {
		return warehouse.ContactGap{EpisodeKey: 1, PersonKey: 1, Site: "north", InjuryType: "calf_strain", StartDate: in.Episodes[0].StartDate, Day: day, GapDays: days}
	}
	in.Gaps = []warehouse.ContactGap{gap(7, 7), gap(10, 3), gap(100, 90), gap(101, 1)} // the last lies after the month
	near(t, "spacing", figures(t, in)["return.calf_strain.24m/visit_spacing_days"].Value, 7)
}

func TestUnknownCodes(t *testing.T) {
	in := input(five()...)
	in.Episodes[0].Site = "east"
	f := figures(t, in)
	near(t, "began", f["return.24m/began"].Value, 5)
	in.Episodes[0].InjuryType = "other"
	if _, err := Analyse(in); err == nil || !strings.Contains(err.Error(), "1 of the 5 episodes that began are of an injury type") {
		t.Errorf("got %v", err)
	}
}

// TestRareTypesAreToldTogether has nine people of one type and ten of another.
func TestRareTypesAreToldTogether(t *testing.T) {
	var rows []warehouse.ReturnEpisode
	for i := range 20 {
		e := began(100, 120)
		if i < 10 {
			e.InjuryType = "hamstring_strain"
		}
		if i == 0 {
			e.InjuryType = "quadriceps_strain"
		}
		rows = append(rows, e)
	}
	rows[0].ReturnDay = n(10)
	in := input(rows...)
	in.InjuryTypes, in.TypeFloor = append(in.InjuryTypes, "quadriceps_strain"), 10
	f := figures(t, in)
	for id, want := range map[string]float64{
		"return.calf_strain.24m/began": 10, "return.other_types.24m/began": 10, "return.other_types.24m/returned": 1, "return.other_types.24m/share@w6": 0.1,
		"return.24m/began": 20,
	} {
		near(t, id, f[id].Value, want)
	}
	if _, alone := f["return.hamstring_strain.24m/began"]; alone {
		t.Error("a type of nine people stands alone")
	}
	if got := f["return.other_types.24m/began"].InjuryType; got != result.OtherTypes {
		t.Errorf("the injury type of all others is %q", got)
	}
}

// crowd is a practice of random rows of both types and sites.
func crowd(size int) Input {
	rng := rand.New(rand.NewPCG(2, 2))
	var rows []warehouse.ReturnEpisode
	for range size {
		e := began(rng.IntN(730), 0)
		follow := max(0, days(e.StartDate, monthEnd)-rng.IntN(30)+10)
		through := e.StartDate.AddDate(0, 0, follow)
		e.DataThrough, e.FollowDays, e.OutDay = &through, n(follow), follow
		e.InjuryType = []string{"calf_strain", "hamstring_strain"}[rng.IntN(2)]
		e.Site = []string{"north", "south"}[rng.IntN(2)]
		day := rng.IntN(300)
		switch rng.IntN(8) {
		case 0, 1, 2, 3:
			if day <= follow {
				e.ReturnDay, e.ReturnDayShort, e.ReturnDayLong = n(day), n(day), n(day)
				e.Provisional = follow-day < 14
			}
		case 4:
			if day <= follow {
				e.EndDay, e.EndCause = n(day), causes[rng.IntN(len(causes))]
			}
		case 5:
			e.OutDay, e.OutReason = min(day, follow), []string{"gap", "transferred", "goal_met"}[rng.IntN(3)]
		case 6:
			e.AtTarget = rng.IntN(3) == 0
		default:
			if rng.IntN(5) == 0 {
				e.Unusable = "no_target"
			}
		}
		rows = append(rows, e)
	}
	in := input(rows...)
	for i := range in.Episodes {
		in.Episodes[i].PersonKey = i/3 + 1
	}
	return in
}

// TestSetHolds checks what every set of figures must keep to: totals that add
// up, finite numbers, a source for each figure, statistics that the gate knows,
// intervals around their value, and an input that is as it was.
func TestSetHolds(t *testing.T) {
	in := crowd(400)
	before := slices.Clone(in.Episodes)
	set, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(before, in.Episodes) {
		t.Error("the input was changed")
	}
	byID := map[string]result.Figure{}
	sums := map[string]map[string]float64{} // by whole, then by what picks the parts out
	for _, f := range set.Figures {
		byID[f.ID] = f
		for _, x := range []*float64{f.Value, f.Low, f.High, f.StdError} {
			if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0)) {
				t.Errorf("%s holds %g", f.ID, *x)
			}
		}
		if f.Value != nil && f.Low != nil && f.High != nil && (*f.Low > *f.Value || *f.High < *f.Value) {
			t.Errorf("%s: %g outside %g to %g", f.ID, *f.Value, *f.Low, *f.High)
		}
		if disclosure.KindOf(f.Question, f.Statistic, f.X != nil) == disclosure.Unknown {
			t.Errorf("the gate does not know %s", f.ID)
		}
		if (f.Status == result.Withheld) != (f.Reason != "") {
			t.Errorf("%s: status %s, reason %q", f.ID, f.Status, f.Reason)
		}
	}
	if len(set.Sources) != len(set.Figures) {
		t.Errorf("%d sources of %d figures", len(set.Sources), len(set.Figures))
	}
	for _, total := range set.Totals {
		whole, part := byID[total.Whole], byID[total.Part]
		if whole.ID == "" || part.ID == "" {
			t.Fatalf("total %v names a figure that is not there", total)
		}
		by := part.InjuryType + "|"
		if part.InjuryType != whole.InjuryType {
			by = "type"
		}
		if part.Site != whole.Site {
			by = "site"
		}
		if sums[total.Whole] == nil {
			sums[total.Whole] = map[string]float64{}
		}
		sums[total.Whole][by] += *part.Value
	}
	for whole, ways := range sums {
		for by, sum := range ways {
			if sum != *byID[whole].Value {
				t.Errorf("the parts of %s by %s sum to %g, it is %g", whole, by, sum, *byID[whole].Value)
			}
		}
	}
	if len(sums["return.24m/returned"]) != 2 {
		t.Errorf("return.24m/returned is split in %d ways, want by type and by site", len(sums["return.24m/returned"]))
	}
	for _, week := range []string{"w6", "w12", "w26"} {
		if byID["return.calf_strain.24m/share@"+week].Value == nil {
			t.Errorf("no share at %s", week)
		}
	}
	if byID["return.calf_strain.24m/cumulative@w52"].Value == nil || byID["return.calf_strain.24m/mean_weeks@w26"].Value == nil {
		t.Error("week 52 or the mean is missing in a crowd")
	}
}

// TestSameRowsSameFigures shuffles nothing and repeats: equal to the last bit.
func TestSameRowsSameFigures(t *testing.T) {
	a, err := Analyse(crowd(300))
	if err != nil {
		t.Fatal(err)
	}
	b, err := Analyse(crowd(300))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a, b) {
		t.Error("two runs over the same rows differ")
	}
}
