package progression

import (
	"fmt"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
)

// moved are the shares of visits at which something moved.
var moved = []struct {
	up, down, condition string
	of                  func(s warehouse.ProgressSum) warehouse.Moves
}{
	{"level_up", "level_down", "level_compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Level }},
	{"range_up", "range_down", "range_compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Range }},
	{"load_up", "load_down", "load_compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Load }},
	{"reps_up", "reps_down", "reps_compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Reps }},
	{"pressure_up", "pressure_down", "pressure_compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Pressure }},
	{"step_up", "step_back", "compared > 0", func(s warehouse.ProgressSum) warehouse.Moves { return s.Steps }},
}

// progress adds the figures of progression of an injury type, or of all.
func (m *maker) progress(injury string) error {
	var rows []warehouse.ProgressSum
	for _, s := range m.in.Progress {
		if injury == "" || s.InjuryType == injury {
			rows = append(rows, s)
		}
	}
	s := subject{
		question: "progression", injury: injury, table: ProgressTable, where: ofType(injury, m.period.months()),
		hash: inputsHash(rows, func(s warehouse.ProgressSum) string {
			return fmt.Sprint(s.EpisodeKey, s.PersonKey, s.Level, s.Range, s.Load, s.Reps, s.Pressure, s.Steps, s.AfterPain, s.BackAfterPain, s.KeptUp, s.Stalled, text(s.FirstStepDay), s.LastDay)
		}),
	}
	share := func(statistic, counted, condition string, of func(r warehouse.ProgressSum) (above, below int)) error {
		by := newSums()
		for _, r := range rows {
			if above, below := of(r); below > 0 {
				by.add(r.PersonKey, 1, float64(above), float64(below))
			}
		}
		return m.share(s, statistic, counted, condition, by)
	}
	for _, k := range moved {
		for _, direction := range []struct {
			statistic string
			of        func(m warehouse.Moves) int
		}{{k.up, func(m warehouse.Moves) int { return m.Up }}, {k.down, func(m warehouse.Moves) int { return m.Down }}} {
			if err := share(direction.statistic, "visits", k.condition, func(r warehouse.ProgressSum) (above, below int) {
				return direction.of(k.of(r)), k.of(r).Compared
			}); err != nil {
				return err
			}
		}
	}
	for _, k := range []struct {
		statistic, counted, condition string
		of                            func(r warehouse.ProgressSum) (above, below int)
	}{
		{"back_after_pain", "visits", "after_pain > 0", func(r warehouse.ProgressSum) (above, below int) { return r.BackAfterPain, r.AfterPain }},
		{"back_otherwise", "visits", "compared > after_pain", func(r warehouse.ProgressSum) (above, below int) {
			return r.Steps.Down - r.BackAfterPain, r.Steps.Compared - r.AfterPain
		}},
		{"stalled", "exercises", "kept_up > 0 or stalled > 0", func(r warehouse.ProgressSum) (above, below int) { return r.Stalled, r.KeptUp }},
	} {
		if err := share(k.statistic, k.counted, "("+k.condition+")", k.of); err != nil {
			return err
		}
	}
	return m.firstStep(s, rows)
}

// firstStepWeeks are the weeks by which the share with a first step up is stated.
var firstStepWeeks = []int{4, 12}

// firstStep adds the time from the start of care to the first step up of any
// exercise: Kaplan-Meier, whoever takes none being watched to the last visit with
// an exercise.
func (m *maker) firstStep(s subject, rows []warehouse.ProgressSum) error {
	var data survival.Data
	persons := map[int]bool{}
	for _, r := range rows {
		day, event := r.LastDay, 0
		if r.FirstStepDay != nil {
			day, event = *r.FirstStepDay, 1
		}
		data.Time, data.Event, data.Person = append(data.Time, float64(day)), append(data.Event, event), append(data.Person, r.PersonKey)
		persons[r.PersonKey] = true
	}
	if len(persons) < m.in.Floor {
		return nil
	}
	curves, err := survival.AalenJohansen(data, 1, survival.Options{})
	if err != nil {
		return fmt.Errorf("first step: %w", err)
	}
	stepped := curves[1]
	begin := func(statistic, unit string) result.Figure {
		f := m.figure(s, statistic)
		f.Unit, f.Persons, f.Episodes = unit, count(len(persons)), count(len(rows))
		return f
	}
	f := begin("first_step_median_weeks", "weeks")
	q, err := stepped.Quantile(0.5)
	if err != nil {
		return err
	}
	f.Method, f.Level = q.Method, q.Level
	for _, limit := range []struct {
		to      **float64
		days    float64
		reached bool
	}{{&f.Value, q.Value, q.Reached}, {&f.Low, q.Low, q.LowReached}, {&f.High, q.High, q.HighReached}} {
		if limit.reached {
			*limit.to = number(limit.days / 7)
		}
	}
	if !q.Reached {
		f.Status, f.Reason = result.Withheld, fmt.Sprintf("Not reached: by the end of follow-up %.0f %% had taken one.", 100*q.Share)
	}
	m.add(s, f, "")
	for _, week := range firstStepWeeks {
		day := float64(7 * week)
		if int(stepped.AtRisk(day)) < m.in.Floor {
			continue
		}
		f, e := begin("first_step", "share"), stepped.At(day)
		f.X, f.XUnit, f.Method, f.Value = number(float64(week)), "weeks", e.Method, number(e.Value)
		if e.Low < e.High {
			f.Low, f.High, f.StdError, f.Level = number(e.Low), number(e.High), number(e.SE), e.Level
		}
		m.add(s, f, "")
	}
	return nil
}
