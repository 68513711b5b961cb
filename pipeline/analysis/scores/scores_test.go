package scores

import (
	"math"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/testkit"
	"evenlimb/pipeline/warehouse"
)

var start = time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)

// made is a period of June 2026 in which figures of two persons are told.
func made() Input {
	return Input{
		Month: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), WindowMonths: 24, Batch: 3, InjuryTypes: []string{"achilles_tendinopathy"},
		Rules: settings.Scores{HorizonWeeks: []int{6, 12, 26}, AroundWeeks: 2, LeastPersons: 2, ChangeWeek: 12},
	}
}

// answers adds those of one episode of a person of the same number: days and
// values in turn, the first of them the baseline.
func (in *Input) answers(key int, measure string, daysAndValues ...float64) {
	for i := 1; i < len(daysAndValues); i += 2 {
		day, value, first := int(daysAndValues[i-1]), daysAndValues[i], int(daysAndValues[0])
		in.Scores = append(in.Scores, warehouse.Score{
			EpisodeKey: key, PersonKey: key, InjuryType: "achilles_tendinopathy", StartDate: start, Measure: measure, Day: day, Value: value, BaselineDay: &first,
			AtBest: measure == "pain_nrs" && value == 0,
		})
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
		byID[f.ID] = f
	}
	if len(set.Sources) != len(byID) || len(byID) != len(set.Figures) {
		t.Errorf("%d figures, %d ids, %d sources", len(set.Figures), len(byID), len(set.Sources))
	}
	return byID
}

func closeTo(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s is nothing, want %v", what, want)
		return
	}
	testkit.AlmostEqual(t, what, *got, want, 1e-9)
}

const (
	pain = "scores.achilles_tendinopathy.pain_nrs.24m/"
	foot = "scores.achilles_tendinopathy.faam_adl.24m/"
	visa = "scores.achilles_tendinopathy.visa_a.24m/"
)

// With everybody answering every time the typical value is the plain mean, and
// the change the mean of the changes with the error of their spread: 6, 4, 5 at
// the start and 3, 3, 0 at week 12 are 5 and 2; changes -3, -1, -5.
func TestTypicalByHand(t *testing.T) {
	in := made()
	in.answers(1, "pain_nrs", 0, 6, 84, 3)
	in.answers(2, "pain_nrs", 0, 4, 84, 3)
	in.answers(3, "pain_nrs", 0, 5, 84, 0)
	f := figures(t, in)
	closeTo(t, "at the start", f[pain+"typical@w0"].Value, 5)
	closeTo(t, "at week 12", f[pain+"typical@w12"].Value, 2)
	change := f[pain+"change@w12"]
	closeTo(t, "change", change.Value, -3)
	// Persons differ less than their answers: no spread between them, so that both
	// weeks share the spread of 2 + 6 over four degrees of freedom.
	closeTo(t, "its error", change.StdError, math.Sqrt((2+6)/4.0*2/3))
	if change.Unit != "points of 10" || *change.Persons != 3 || *change.Episodes != 3 {
		t.Errorf("%+v", change)
	}
	if _, ok := f[pain+"typical@w6"]; ok {
		t.Error("a week at which nobody answered is told")
	}
	closeTo(t, "no pain", f[pain+"at_best@w12"].Value, 1.0/3)
}

// The error of answering pain is 1.77 and the change that counts 2.
func TestChangesByHand(t *testing.T) {
	in := made()
	for i, c := range []struct{ from, to float64 }{
		{5, 3.2},  // 1.8: improved, not by as much as counts
		{5, 3.23}, // 1.77: no more than the error
		{5, 3},    // 2: improved, and as much as counts
		{5, 6.8},  // worse
		{5, 6.77}, // no more than the error
	} {
		in.answers(i+1, "pain_nrs", 0, c.from, 84, c.to)
	}
	in.answers(9, "pain_nrs", 0, 9)   // no later answer
	in.answers(10, "pain_nrs", 84, 1) // no baseline
	in.Scores[len(in.Scores)-1].BaselineDay = nil
	f := figures(t, in)
	for statistic, want := range map[string]float64{"improved": 2.0 / 5, "worse": 1.0 / 5, "important": 1.0 / 5} {
		g := f[pain+statistic+"@w12"]
		closeTo(t, statistic, g.Value, want)
		if g.Persons == nil || *g.Persons != 5 {
			t.Errorf("%s: %+v", statistic, g)
		}
	}
	e, err := rates.ShareByPerson([]int{1, 0, 1, 0, 0}, []int{1, 1, 1, 1, 1}, level)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "limit", f[pain+"improved@w12"].High, e.High)
}

// More is better of this score, whose error is 5.7; two of its items may be
// missing.
func TestItemsMissing(t *testing.T) {
	in := made()
	in.answers(1, "faam_adl", 0, 60, 84, 66)
	in.answers(2, "faam_adl", 0, 60, 84, 65.7)
	in.answers(3, "faam_adl", 0, 60, 84, 90)
	in.answers(4, "faam_adl", 0, 60, 80, 70, 84, 90)
	two, three := 2, 3
	in.Scores[3].ItemsMissing = &two
	in.Scores[5].ItemsMissing = &three // so that person 3 has no later answer
	in.Scores[8].ItemsMissing = &three // and that of person 4 is the one of day 80
	f := figures(t, in)
	if g := f[foot+"improved@w12"]; *g.Persons != 3 {
		t.Errorf("%+v", g)
	} else {
		closeTo(t, "improved", g.Value, 2.0/3) // by 6 and by 10
	}
	// Of scores without a known error nothing is told of real change.
	in = made()
	in.answers(1, "visa_a", 0, 40, 84, 60)
	in.answers(2, "visa_a", 0, 40, 84, 53.9)
	one := 1
	in.answers(3, "visa_a", 0, 40, 84, 70)
	in.Scores[5].ItemsMissing = &one
	f = figures(t, in)
	if _, ok := f[visa+"improved@w12"]; ok {
		t.Error("a change is set against an error that is not known")
	}
	closeTo(t, "important", f[visa+"important@w12"].Value, 1.0/2)
}

func TestWhichAnswerStandsForAWeek(t *testing.T) {
	in := made()
	m := &maker{in: in}
	rows := func(days ...int) []warehouse.Score {
		var list []warehouse.Score
		for i, d := range days {
			list = append(list, warehouse.Score{Day: d, Value: float64(i + 1)})
		}
		return list
	}
	for _, c := range []struct {
		days []int
		week int
		want float64
	}{
		{[]int{27}, 6, 0},           // a day too early
		{[]int{28}, 6, 1},           //
		{[]int{56}, 6, 1},           //
		{[]int{57}, 6, 0},           // a day too late
		{[]int{40, 44}, 6, 1},       // the earlier of two equally near
		{[]int{30, 44, 50}, 6, 2},   // the nearest
		{[]int{70, 98}, 12, 1},      //
		{[]int{168, 196}, 26, 1},    //
		{[]int{167, 197}, 26, 0},    //
		{[]int{-20, 0, 7}, 6, 0},    // none near
		{[]int{40, 41, 42}, 6, 3},   //
		{[]int{42, 84, 182}, 12, 2}, //
	} {
		got := 0.0
		for _, a := range m.pick(rows(c.days...)) {
			if a.week == c.week {
				got = a.value
			}
		}
		if got != c.want {
			t.Errorf("days %v: answer %v stands for week %d, want %v", c.days, got, c.week, c.want)
		}
	}
}

func TestTheMonthCuts(t *testing.T) {
	in := made()
	late := time.Date(2026, 4, 7, 0, 0, 0, 0, time.UTC) // day 84 is 30 June
	for key := 1; key <= 3; key++ {
		in.answers(key, "pain_nrs", 0, 5, 84, float64(key))
	}
	for i := range in.Scores {
		in.Scores[i].StartDate = late
	}
	if f := figures(t, in); f[pain+"typical@w12"].Value == nil {
		t.Error("an answer of the month's last day is left out")
	}
	for i := range in.Scores {
		in.Scores[i].StartDate = late.AddDate(0, 0, 1)
	}
	if f := figures(t, in); len(f) > 0 {
		t.Errorf("%d figures of answers after the month", len(f))
	}
	for i := range in.Scores {
		in.Scores[i].StartDate = time.Date(2024, 6, 30, 0, 0, 0, 0, time.UTC)
	}
	if f := figures(t, in); len(f) > 0 {
		t.Errorf("%d figures of care begun before the period", len(f))
	}
}

// Persons who come twice, each time alike, are one person to the share and to
// the model.
func TestTwoEpisodesOfAPerson(t *testing.T) {
	in := made()
	for key := 1; key <= 6; key++ {
		in.answers(key, "pain_nrs", 0, float64(4+key%3), 42, float64(key%2), 84, float64(key%4))
	}
	for i := range in.Scores {
		in.Scores[i].PersonKey = (in.Scores[i].EpisodeKey + 1) / 2
	}
	f := figures(t, in)
	g := f[pain+"typical@w6"]
	if *g.Persons != 3 || *g.Episodes != 6 || g.Method != "linear mixed model, REML, Satterthwaite, persons and episodes" {
		t.Errorf("%+v", g)
	}
	if s := f[pain+"at_best@w6"]; *s.Persons != 3 || *s.Episodes != 6 {
		t.Errorf("%+v", s)
	}
}

func TestRefusals(t *testing.T) {
	if f := figures(t, made()); len(f) > 0 {
		t.Errorf("%d figures of nobody", len(f))
	}
	if _, err := Analyse(Input{}); err == nil {
		t.Error("no month, and no error")
	}
	in := made()
	in.answers(1, "pain_nrs", 0, 5, 84, 5)
	in.answers(2, "pain_nrs", 0, 5, 84, 5)
	if g := figures(t, in)[pain+"typical@w12"]; g.Status != result.Withheld || g.Reason != "Too few people answered more than once to tell a course." {
		t.Errorf("all alike: %+v", g)
	}
	in = made()
	in.answers(1, "pain_nrs", 0, 5, 84, 5)
	in.answers(2, "pain_nrs", 0, 5)
	if f := figures(t, in); len(f) > 0 {
		t.Errorf("one person answered later: %d figures", len(f))
	}
}

func TestTypicalAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "scores/typical")
	weeks := []string{"0", "6", "12", "26"}
	for _, set := range []string{"complete", "gaps"} {
		file := "typical_" + set + ".csv"
		in := made()
		persons, visits, values := a.Column(file, "person"), a.Column(file, "visit"), a.Column(file, "value")
		byPerson := map[int][]float64{}
		for i, p := range persons {
			byPerson[int(p)] = append(byPerson[int(p)], []float64{0, 42, 84, 182}[int(visits[i])-1], values[i])
		}
		for p := 1; p <= len(byPerson); p++ {
			from := len(in.Scores)
			in.answers(p, "visa_a", byPerson[p]...)
			if in.Scores[from].Day != 0 {
				for i := from; i < len(in.Scores); i++ {
					in.Scores[i].BaselineDay = nil
				}
			}
		}
		f := figures(t, in)
		agree := func(statistic string, weeks []string) {
			value, se := a.Floats(set+"."+statistic), a.Floats(set+"."+statistic+"_se")
			low, high := a.Floats(set+"."+statistic+"_low"), a.Floats(set+"."+statistic+"_high")
			for i, week := range weeks {
				g := f[visa+statistic+"@w"+week]
				testkit.AlmostEqual(t, set+" "+statistic+" "+week, *g.Value, value[i], 1e-5)
				testkit.AlmostEqual(t, set+" "+statistic+" "+week+" error", *g.StdError, se[i], 1e-5)
				testkit.AlmostEqual(t, set+" "+statistic+" "+week+" low", *g.Low, low[i], 1e-4)
				testkit.AlmostEqual(t, set+" "+statistic+" "+week+" high", *g.High, high[i], 1e-4)
			}
		}
		agree("typical", weeks)
		agree("change", weeks[1:])
	}
}
