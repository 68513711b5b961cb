package disclosure_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// one releases a single figure and returns it.
func one(t *testing.T, f result.Figure, x string, audience disclosure.Audience, fl disclosure.Floors) disclosure.Shown {
	t.Helper()
	var p practice
	p.add(f, x)
	return release(t, p.set, audience, fl).Figures()[0]
}

func share(persons, events int, site string) result.Figure {
	return result.Figure{
		InjuryType: "calf_strain", Site: site, Statistic: "share", X: number(12), XUnit: "weeks",
		Value: number(float64(events) / float64(persons)), Low: number(0), High: number(1), Level: 0.95,
		Persons: whole(persons), Events: whole(events), Unit: "share",
	}
}

func TestFloors(t *testing.T) {
	strict := floors
	strict.Strict = true
	for _, c := range []struct {
		name     string
		figure   result.Figure
		x        string
		audience disclosure.Audience
		floors   disclosure.Floors
		shown    bool
	}{
		{"rate at the floor", share(10, 0, ""), "w12", disclosure.Circulating, floors, true},
		{"rate under the floor", share(9, 0, ""), "w12", disclosure.Circulating, floors, false},
		{"one site at its floor", share(20, 0, "S1"), "w12", disclosure.Circulating, floors, true},
		{"one site under its floor", share(19, 0, "S1"), "w12", disclosure.Circulating, floors, false},
		{"inside at the floor", share(5, 0, "S1"), "w12", disclosure.Inside, floors, true},
		{"inside under the floor", share(4, 0, "S1"), "w12", disclosure.Inside, floors, false},
		{"rate on nobody knows how many", withoutPersons(share(40, 20, "")), "w12", disclosure.Circulating, floors, false},
		{"the same of another question", otherQuestion(share(40, 20, "")), "w12", disclosure.Circulating, floors, false},
		{"few with the outcome", share(40, 3, ""), "w12", disclosure.Circulating, floors, true},
		{"few with the outcome, strict", share(40, 3, ""), "w12", disclosure.Circulating, strict, false},
		{"few without the outcome, strict", share(40, 37, ""), "w12", disclosure.Circulating, strict, false},
		{"enough with and without, strict", share(40, 20, ""), "w12", disclosure.Circulating, strict, true},
		{"curve at its floor", curve(20, 6), "w6", disclosure.Circulating, floors, true},
		{"curve under its floor", curve(19, 6), "w6", disclosure.Circulating, floors, false},
		{"curve between weeks", curve(40, 6.5), "w6.5", disclosure.Circulating, floors, false},
		{"count at the floor", count("returned", 10), "", disclosure.Circulating, floors, true},
		{"count under the floor", count("returned", 9), "", disclosure.Circulating, floors, false},
		{"count of one", count("returned", 1), "", disclosure.Circulating, floors, false},
		{"count of none", count("returned", 0), "", disclosure.Circulating, floors, true},
		{"count of one, inside", count("returned", 4), "", disclosure.Inside, floors, false},
		{"count at the floor, inside", count("returned", 5), "", disclosure.Inside, floors, true},
		{"a cause of ending", count("ended.surgery", 12), "", disclosure.Circulating, floors, true},
		{"a statistic nobody entered", count("favourite_colour", 500), "", disclosure.Circulating, floors, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := one(t, c.figure, c.x, c.audience, c.floors)
			if shown := got.Status == result.Final && got.Value != nil; shown != c.shown {
				t.Errorf("shown = %v, want %v (reason %q)", shown, c.shown, got.Reason)
			}
		})
	}
}

func withoutPersons(f result.Figure) result.Figure {
	f.Persons = nil
	return f
}

func otherQuestion(f result.Figure) result.Figure {
	f.Question = "weather"
	return f
}

func curve(persons int, week float64) result.Figure {
	return result.Figure{InjuryType: "calf_strain", Statistic: "cumulative", X: number(week), Value: number(0.2), Persons: whole(persons), Unit: "share"}
}

func count(statistic string, n int) result.Figure {
	return result.Figure{InjuryType: "calf_strain", Statistic: statistic, Value: number(float64(n)), Persons: whole(n), Unit: "episodes"}
}

func TestFewerThanTen(t *testing.T) {
	got := one(t, count("returned", 3), "", disclosure.Circulating, floors)
	if got.ValueBelow != 10 || got.Value != nil || got.Persons != nil {
		t.Errorf("below %d, value %v, persons %v", got.ValueBelow, got.Value, got.Persons)
	}
	// Twelve episodes, but of nine persons: a count of persons all the same.
	f := count("returned", 12)
	f.Persons = whole(9)
	if got := one(t, f, "", disclosure.Circulating, floors); got.Status != result.Hidden || got.ValueBelow != 0 {
		t.Errorf("12 episodes of 9 persons: status %s, below %d", got.Status, got.ValueBelow)
	}
}

func TestColumnsBesideAShownValue(t *testing.T) {
	f := share(40, 37, "")
	f.Missing = whole(2)
	got := one(t, f, "w12", disclosure.Circulating, floors)
	if got.Value == nil || got.Events != nil || got.EventsBelow != 0 {
		t.Errorf("37 of 40 gives back 3: value %v, events %v, below %d", got.Value, got.Events, got.EventsBelow)
	}
	if got.Missing != nil || got.MissingBelow != 10 {
		t.Errorf("missing %v, below %d", got.Missing, got.MissingBelow)
	}
	f = share(60, 37, "")
	f.Episodes = whole(40)
	if got := one(t, f, "w12", disclosure.Circulating, floors); got.Events != nil {
		t.Error("37 of 40 episodes gives back 3")
	}
	f = share(41, 20, "")
	f.Episodes = whole(43)
	got = one(t, f, "w12", disclosure.Circulating, floors)
	if !got.PersonsRounded || *got.Persons != 40 || *got.Episodes != 43 {
		t.Errorf("two persons came twice: persons %d, rounded %v", *got.Persons, got.PersonsRounded)
	}
}

func TestAtRisk(t *testing.T) {
	for week, want := range map[float64]float64{0: 40, 5: -1, 6: 35, 12: 35, 26: 0, 52: 5} {
		values := map[float64]float64{0: 38, 5: 37, 6: 37, 12: 33, 26: 2, 52: 3}
		f := result.Figure{InjuryType: "calf_strain", Statistic: "at_risk", X: number(week), Value: number(values[week]), Persons: whole(38)}
		got := one(t, f, "w", disclosure.Circulating, floors)
		switch {
		case want < 0 && got.Value != nil:
			t.Errorf("week %g shows %g", week, *got.Value)
		case want >= 0 && (got.Value == nil || *got.Value != want || got.Persons != nil):
			t.Errorf("week %g: %v, want %g", week, got.Value, want)
		}
	}
}

// TestHiddenTotalEchoedByPersons has one small part of a shown whole: the
// other part is hidden with it, and would come back as the persons of a rate.
func TestHiddenTotalEchoedByPersons(t *testing.T) {
	var p practice
	for statistic, n := range map[string]int{"began": 48, "at_risk": 45, "at_target": 3, "no_usable": 0} {
		p.add(count(statistic, n), "")
		if statistic != "began" {
			p.set.Totals = append(p.set.Totals, result.Total{Whole: "return.calf_strain.24m/began", Part: "return.calf_strain.24m/" + statistic})
		}
	}
	f := share(45, 20, "")
	f.Episodes = whole(45)
	f.StdError = number(0.074)
	p.add(f, "w12")
	r := release(t, p.set, disclosure.Circulating, floors)
	for statistic, wantShown := range map[string]bool{"began": true, "at_risk": false, "at_target": false, "no_usable": true} {
		if f, _ := r.Lookup("return.calf_strain.24m/" + statistic); (f.Value != nil) != wantShown {
			t.Errorf("%s: value %v", statistic, f.Value)
		}
	}
	got, ok := r.Lookup("return.calf_strain.24m/share@w12")
	if !ok || got.Value == nil || !got.PersonsRounded || *got.Persons != 45 || got.Episodes != nil {
		t.Errorf("share: %+v", got)
	}
	if math.Abs(*got.Value-0.44) > 1e-12 || got.StdError != nil {
		t.Errorf("20/45 is shown as %v with standard error %v: its denominator can be found", *got.Value, got.StdError)
	}
}

// TestZeroHiddenBesideASmallCount has a lone small count of 5 in a shown whole:
// the zero beside it goes too, and reads the same.
func TestZeroHiddenBesideASmallCount(t *testing.T) {
	var p practice
	for statistic, n := range map[string]int{"began": 48, "at_risk": 43, "at_target": 5, "no_usable": 0} {
		p.add(count(statistic, n), "")
		if statistic != "began" {
			p.set.Totals = append(p.set.Totals, result.Total{Whole: "return.calf_strain.24m/began", Part: "return.calf_strain.24m/" + statistic})
		}
	}
	r := release(t, p.set, disclosure.Circulating, floors)
	small, _ := r.Lookup("return.calf_strain.24m/at_target")
	zero, _ := r.Lookup("return.calf_strain.24m/no_usable")
	if small.ValueBelow != 10 || zero.ValueBelow != 10 || small.Reason != zero.Reason || zero.Value != nil {
		t.Errorf("5 reads %d %q, 0 reads %d %q", small.ValueBelow, small.Reason, zero.ValueBelow, zero.Reason)
	}
	if f, _ := r.Lookup("return.calf_strain.24m/at_risk"); f.Value == nil {
		t.Error("more is hidden than is needed")
	}
}

func TestSetsThatNoGateCanJudge(t *testing.T) {
	bad := func(change func(*result.Set)) result.Set {
		var p practice
		p.add(count("began", 30), "")
		p.add(count("at_risk", 30), "")
		p.set.Totals = []result.Total{{Whole: p.set.Figures[0].ID, Part: p.set.Figures[1].ID}}
		change(&p.set)
		return p.set
	}
	for want, set := range map[string]result.Set{
		"stands twice":         bad(func(s *result.Set) { s.Figures = append(s.Figures, s.Figures[0]) }),
		"not finite":           bad(func(s *result.Set) { s.Figures[0].Value = number(math.NaN()) }),
		"comes hidden":         bad(func(s *result.Set) { s.Figures[0].Status = result.Hidden }),
		"carries the statist":  bad(func(s *result.Set) { s.Figures[0].Statistic = "lost" }),
		"must be figures of":   bad(func(s *result.Set) { s.Totals[0].Part = "return.calf_strain.24m/lost" }),
		"sum to 30, and it is": bad(func(s *result.Set) { s.Figures[0].Value = number(31) }),
	} {
		_, err := disclosure.Release(disclosure.Input{Figures: set, Audience: disclosure.Circulating, Floors: floors})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one that says %q", err, want)
		}
	}
	low := floors
	low.Inside = 1
	for _, in := range []disclosure.Input{{Floors: floors}, {Audience: disclosure.Inside}, {Audience: disclosure.Inside, Floors: low}} {
		if _, err := disclosure.Release(in); err == nil {
			t.Errorf("audience %v with floors %+v was accepted", in.Audience, in.Floors)
		}
	}
}

func TestZeroReleasedIsUseless(t *testing.T) {
	var zero disclosure.Released
	if zero.Check() == nil || (*disclosure.Released)(nil).Check() == nil {
		t.Error("a Released that never passed the gate is accepted")
	}
	if len(zero.Figures()) != 0 || len(zero.History()) != 0 || zero.Context().Practice != "" {
		t.Error("the zero Released holds something")
	}
	if _, found := zero.Lookup("return.24m/began"); found {
		t.Error("the zero Released finds a figure")
	}
}

func TestPictureHoldsWhatFiguresHold(t *testing.T) {
	r := release(t, draw(rand.New(rand.NewPCG(3, 3)), 3, 2, 30).set, disclosure.Circulating, floors)
	var joined []disclosure.Shown
	for _, picture := range []string{"return.24m", "return.site=S0.24m", "return.site=S1.24m", "return.type_0.24m", "return.type_1.24m", "return.type_2.24m"} {
		joined = append(joined, r.Picture(picture)...)
	}
	if !reflect.DeepEqual(joined, r.Figures()) {
		t.Error("the pictures together are not all figures")
	}
	if got := r.Picture("return.type_9.24m"); len(got) != 0 {
		t.Errorf("a picture that is not there has %d figures", len(got))
	}
}

func TestCurveCountsOnceAndAsShownWhenAnyOfItIs(t *testing.T) {
	var p practice
	for week, x := range map[float64]string{5: "w5", 6: "w6", 12: "w12"} {
		p.add(result.Figure{InjuryType: "calf_strain", Statistic: "at_risk", X: number(week), Value: number(30), Persons: whole(40)}, x)
		p.add(curve(12, week), x)
	}
	shown, hidden, withheld := release(t, p.set, disclosure.Circulating, floors).Counts()
	if shown != 1 || hidden != 1 || withheld != 0 {
		t.Errorf("%d shown, %d hidden, %d withheld; want the numbers at risk shown and the curve of 12 hidden", shown, hidden, withheld)
	}
}

func TestHistoryIsCarried(t *testing.T) {
	history := []disclosure.Published{{Report: "monthly", Period: "2025-05", FigureID: "return.24m/began", Value: number(400)}}
	r, err := disclosure.Release(disclosure.Input{Audience: disclosure.Circulating, Floors: floors, History: history})
	if err != nil {
		t.Fatal(err)
	}
	*history[0].Value = 3
	if got := r.History(); len(got) != 1 || *got[0].Value != 400 {
		t.Errorf("history %+v", got)
	}
}

// TestACountHiddenInOneQuestionIsHiddenInAll has two injury types and their sum;
// one type is small, so that the other is hidden beside it, and stands again
// under another question.
func TestACountHiddenInOneQuestionIsHiddenInAll(t *testing.T) {
	var set result.Set
	add := func(question, injury, measure string, n int) string {
		id := result.ID(result.PictureID(question, injury, "", "", "", measure, "24m"), "began", "")
		set.Figures = append(set.Figures, result.Figure{
			ID: id, Question: question, InjuryType: injury, Measure: measure, Statistic: "began", Value: number(float64(n)), Persons: whole(n), Status: result.Final,
		})
		return id
	}
	all := add("return", "", "", 66)
	for injury, n := range map[string]int{"calf_strain": 60, "biceps_repair": 6} {
		set.Totals = append(set.Totals, result.Total{Whole: all, Part: add("return", injury, "", n)})
		add("symmetry", injury, "girth_calf", n)
		add("symmetry", injury, "strength_plantarflexion", n)
	}
	r, err := disclosure.Release(disclosure.Input{Figures: set, Audience: disclosure.Circulating, Floors: floors})
	if err != nil {
		t.Fatal(err)
	}
	if f, _ := r.Lookup(all); f.Value == nil {
		t.Fatal("the sum is hidden, so that this test says nothing about its parts")
	}
	for _, f := range r.Figures() {
		if f.InjuryType != "" && f.Value != nil {
			t.Errorf("%s is shown as %g", f.ID, *f.Value)
		}
	}
}

// TestTheMonthBefore takes the newest issue of the month before, of the monthly
// report alone.
func TestTheMonthBefore(t *testing.T) {
	month := time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)
	entry := func(report, period string, revision int, id string, value float64) disclosure.Published {
		return disclosure.Published{Report: report, Period: period, Revision: revision, FigureID: id, Value: &value}
	}
	release := func(history ...disclosure.Published) *disclosure.Released {
		r, err := disclosure.Release(disclosure.Input{Context: result.Context{Month: month}, Audience: disclosure.Circulating, Floors: floors, History: history})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r := release(
		entry("monthly", "2025-11", 1, "a", 1), entry("monthly", "2025-12", 1, "a", 2), entry("monthly", "2025-12", 1, "b", 3),
		entry("monthly", "2025-12", 2, "a", 4), entry("compare", "2025-12", 3, "a", 5), entry("monthly", "2026-01", 1, "a", 6),
	)
	if p, ok := r.Before("a"); !ok || *p.Value != 4 {
		t.Errorf("a stood at %v", p.Value)
	}
	if p, ok := r.Before("b"); ok || p.Value != nil {
		t.Error("b is in the first issue alone, and is found")
	}
	if !r.HasBefore() || release(entry("monthly", "2025-11", 1, "a", 1)).HasBefore() {
		t.Error("a report of another month is taken for that of the month before, or that one is not found")
	}
}
