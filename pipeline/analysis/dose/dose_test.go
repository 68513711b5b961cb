package dose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
)

// The period of all tests is July 2024 to June 2026; all begin on its first day.
var (
	firstDay = time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	lastDay  = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)
	rules    = settings.Dose{RecordedPercent: 80, HorizonWeek: 26, LeastPersons: 20, LeastReturns: 5, GonePercent: 50}
)

func ref[T any](x T) *T { return &x }

// episode is a person in care throughout, with sets in a window of 14 days,
// who returned on a day; below 0: not.
func episode(key int, sets float64, severity string, back int) warehouse.DoseEpisode {
	e := warehouse.DoseEpisode{
		EpisodeKey: key, PersonKey: key, Site: "north", InjuryType: "calf_strain", StartDate: firstDay, Severity: severity, LandmarkDay: 14,
		Sessions: ref(4), Bouts: ref(8), Sets: ref(sets), PressureMinutes: ref(sets / 2), PlannedSets: ref(24.0),
		FollowDays: ref(700), OutDay: 700, OutReason: "in_care",
	}
	if back >= 0 {
		e.ReturnDay = ref(back)
	}
	return e
}

func input(episodes []warehouse.DoseEpisode) Input {
	return Input{Episodes: episodes, Month: lastDay, WindowMonths: 24, Rules: rules, HorizonWeeks: []int{6, 12, 26}, InjuryTypes: []string{"calf_strain"}, Batch: 3, Replicates: 50}
}

func analyse(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	figures := map[string]result.Figure{}
	for _, f := range set.Figures {
		picture, rest, _ := strings.Cut(f.ID, "/")
		if f.InjuryType == "" {
			rest = picture + "/" + rest
		}
		figures[rest] = f
		for _, x := range []*float64{f.Value, f.Low, f.High, f.StdError} {
			if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0)) {
				t.Errorf("%s is not finite", f.ID)
			}
		}
		if (f.Status == result.Withheld) != (f.Reason != "") || (f.Value == nil) != (f.Status == result.Withheld) {
			t.Errorf("%s: %s, value %v, reason %q", f.ID, f.Status, f.Value, f.Reason)
		}
		for _, word := range []string{"should", "optimal", "recommend"} {
			if strings.Contains(strings.Join(append(f.Warnings, f.Reason, f.Method), " "), word) {
				t.Errorf("%s says %s", f.ID, word)
			}
		}
	}
	return figures
}

func value(t *testing.T, figures map[string]result.Figure, statistic string) float64 {
	t.Helper()
	f, ok := figures[statistic]
	if !ok || f.Value == nil {
		t.Fatalf("%s is not stated: %q", statistic, f.Reason)
	}
	return *f.Value
}

// twentyFour are worked by hand. Doses 1 to 24, so thirds of eight. Nobody is
// censored: shares are counts.
//
//	lower third, doses 1 to 8:    6 severe, 2 mild;  back: 2 severe, 1 mild
//	middle third, doses 9 to 16:  4 severe, 4 mild;  back: 4
//	upper third, doses 17 to 24:  2 severe, 6 mild;  back: 1 severe, 5 mild
//
// Raw: 6/8 - 3/8 = 3/8. Severe: 1/2 - 2/6 = 1/6; mild: 5/6 - 1/2 = 1/3; twelve of
// each, so standardised: 1/4.
func twentyFour() []warehouse.DoseEpisode {
	severe := []bool{
		true, true, true, true, true, true, false, false,
		true, true, true, true, false, false, false, false,
		true, true, false, false, false, false, false, false,
	}
	back := []bool{
		true, true, false, false, false, false, true, false,
		true, false, true, false, true, false, true, false,
		true, false, true, true, true, true, true, false,
	}
	var all []warehouse.DoseEpisode
	for i := range severe {
		severity, day := "mild", -1
		if severe[i] {
			severity = "severe"
		}
		if back[i] {
			day = 40 + i
		}
		all = append(all, episode(i+1, float64(i+1), severity, day))
	}
	return all
}

func TestHandWorked(t *testing.T) {
	f := analyse(t, input(twentyFour()))
	for statistic, want := range map[string]float64{
		"began": 24, "left_out": 0, "analysed": 24, "no_cuff_work": 0, "some_cuff_work": 24,
		"sets_per_week_lower_quartile": 3, "sets_per_week_median": 6, "sets_per_week_upper_quartile": 9,
		"pressure_minutes_median": 3, "sessions_per_week_median": 2, "plan_sets_share": 300.0 / (24 * 24),
		"returned_low_third@w26": 3.0 / 8, "returned_middle_third@w26": 4.0 / 8, "returned_high_third@w26": 6.0 / 8,
		"thirds_contrast_raw@w26": 3.0 / 8, "thirds_contrast_standardised@w26": 1.0 / 4,
	} {
		if got := value(t, f, statistic); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s is %v, wanted %v", statistic, got, want)
		}
	}
	for statistic, persons := range map[string]int{"returned_low_third@w26": 8, "thirds_contrast_raw@w26": 24} {
		if *f[statistic].Persons != persons || f[statistic].Low == nil || !slices.Contains(f[statistic].Warnings, caution) {
			t.Errorf("%s: %+v", statistic, f[statistic])
		}
	}
}

// TestReturnOnTheHorizonCounts moves one return over the end of week 26.
func TestReturnOnTheHorizonCounts(t *testing.T) {
	for day, want := range map[int]float64{182: 3.0 / 8, 183: 2.0 / 8} {
		all := twentyFour()
		all[0].ReturnDay = ref(day)
		if got := value(t, analyse(t, input(all)), "returned_low_third@w26"); math.Abs(got-want) > 1e-12 {
			t.Errorf("back on day %d: %v, wanted %v", day, got, want)
		}
	}
}

// TestRefusals stands on both sides of every number at which doses are not
// compared.
func TestRefusals(t *testing.T) {
	const contrast = "thirds_contrast_standardised@w26"
	returns := func(n int) []warehouse.DoseEpisode {
		all := twentyFour()
		for i := range all {
			all[i].ReturnDay = nil
			if i%5 == 0 && i/5 < n {
				all[i].ReturnDay = ref(50)
			}
		}
		return all
	}
	gone := func(n int) []warehouse.DoseEpisode {
		all := twentyFour()
		for i := range n {
			all = append(all, episode(100+i, 9, "mild", 10))
		}
		return all
	}
	never := func(key int, unusable string, atTarget bool) warehouse.DoseEpisode {
		e := episode(key, 9, "mild", -1)
		e.Unusable, e.AtTarget = unusable, atTarget
		return e
	}
	same := func(quarter int) []warehouse.DoseEpisode {
		all := twentyFour()
		for i := range all {
			all[i].Sets = ref(10.0)
			if i < quarter {
				all[i].Sets = ref(5.0)
			}
			if i == 23 || i == 22 {
				all[i].Sets = ref(20.0)
			}
		}
		return all
	}
	for _, c := range []struct {
		name     string
		episodes []warehouse.DoseEpisode
		reason   string
	}{
		{"20 persons", twentyFour()[2:22], ""},
		{"19 persons", twentyFour()[2:21], "Fewer than 20 people"},
		{"5 returns", returns(5), ""},
		{"4 returns", returns(4), "Fewer than 5 of those"},
		{"half returned before", gone(24), ""},
		{"more than half", gone(25), "More than 50 %"},
		{"those never at risk do not count", append(append(gone(25), never(200, "no_target", false)), never(201, "", true)), "More than 50 %"},
		{"quartiles differ", same(6), "Too many did the same amount"},
		{"quartiles equal", same(5), "The dose hardly varies"},
	} {
		t.Run(c.name, func(t *testing.T) {
			figures := analyse(t, input(c.episodes))
			f := figures[contrast]
			if c.reason == "" && f.Value == nil || !strings.HasPrefix(f.Reason, c.reason) {
				t.Errorf("value %v, reason %q, wanted %q", f.Value, f.Reason, c.reason)
			}
			if figures["began"].Value == nil {
				t.Error("the flow is withheld too")
			}
			if onlyFlow := figures["sets_per_week_median"].Value == nil; onlyFlow != strings.HasPrefix(c.reason, "More than") {
				t.Errorf("amounts withheld: %t", onlyFlow)
			}
		})
	}
}

// TestNobodyWatchedToTheHorizon takes the longest shorter horizon, and withholds
// the shares where there is none.
func TestNobodyWatchedToTheHorizon(t *testing.T) {
	for watched, week := range map[int]int{182: 26, 181: 12, 84: 12, 83: 6, 42: 6, 41: 26} {
		all := twentyFour()
		for i := range all {
			all[i].FollowDays, all[i].OutDay, all[i].ReturnDay = ref(watched), watched, nil
			if i%2 == 0 {
				all[i].ReturnDay = ref(20)
			}
		}
		f := analyse(t, input(all))[fmt.Sprintf("thirds_contrast_raw@w%d", week)]
		if watched == 41 {
			if f.Value != nil || f.Reason != "In a third of dose nobody has been watched to week 26 yet." {
				t.Errorf("watched for %d days: value %v, reason %q", watched, f.Value, f.Reason)
			}
		} else if f.Value == nil {
			t.Errorf("watched for %d days: no contrast at week %d", watched, week)
		}
	}
}

// TestFewOfOneSeverityInBothThirds has one mild person in the lower and one in
// the upper third of dose, and nobody else of one severity in both: the contrast
// can be computed, and in most samples of these people it could not.
func TestFewOfOneSeverityInBothThirds(t *testing.T) {
	var all []warehouse.DoseEpisode
	for i := range 24 {
		severity := [...]string{"severe", "", "moderate"}[i/8]
		if i == 3 || i == 20 {
			severity = "mild"
		}
		all = append(all, episode(i+1, float64(i+1), severity, []int{-1, 60}[i%2]))
	}
	figures := analyse(t, input(all))
	for _, statistic := range []string{"thirds_contrast_raw@w26", "thirds_contrast_standardised@w26"} {
		if f := figures[statistic]; f.Status != result.Withheld || !strings.Contains(f.Reason, "most samples") {
			t.Errorf("%s: %s %q", statistic, f.Status, f.Reason)
		}
	}
	if f := figures["returned_high_third@w26"]; f.Value == nil || *f.Value != 0.5 {
		t.Errorf("the share returned in the upper third is still to be had: %+v", f)
	}
}

// TestNoDifferenceIsNoughtExactly has two shares that are equal and come about
// by other sums.
func TestNoDifferenceIsNoughtExactly(t *testing.T) {
	if got := settled(0.1 + 0.2 - 0.3); got != 0 || math.Signbit(settled(-1e-16)) {
		t.Errorf("%g, %g", got, settled(-1e-16))
	}
	if got := settled(-0.123456789012); got != -0.123456789012 {
		t.Errorf("a difference of twelve decimals becomes %g", got)
	}
}

// TestSeverityMissing leaves a person without severity out of the standardised
// contrast alone, and counts them.
func TestSeverityMissing(t *testing.T) {
	all := append(twentyFour(), episode(25, 12.5, "", 50))
	f := analyse(t, input(all))
	raw, standardised := f["thirds_contrast_raw@w26"], f["thirds_contrast_standardised@w26"]
	if *raw.Persons != 25 || *standardised.Persons != 24 || *raw.Missing != 0 || *standardised.Missing != 1 {
		t.Errorf("persons %d and %d, missing %d and %d", *raw.Persons, *standardised.Persons, *raw.Missing, *standardised.Missing)
	}
}

// drawn is a random set of rows, with ties, competing ends and censoring.
func drawn(rng *rand.Rand, n int) []warehouse.DoseEpisode {
	var all []warehouse.DoseEpisode
	for i := range n {
		e := episode(i+1, float64(1+rng.IntN(30)), severities[rng.IntN(3)], -1)
		e.PersonKey = 1 + rng.IntN(n)
		switch day := 14 + rng.IntN(250); rng.IntN(4) {
		case 0:
			e.EndDay = ref(day)
		case 1:
			e.OutDay, e.OutReason = day, "gap"
		default:
			e.ReturnDay = ref(day)
		}
		all = append(all, e)
	}
	return all
}

// TestIncidenceAgreesWithTheCurve holds the one-pass share to package survival,
// with rows drawn more than once and with groups.
func TestIncidenceAgreesWithTheCurve(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range 40 {
		m := &maker{in: input(nil)}
		m.period = newPeriod(m.in)
		m.in.Episodes = drawn(rng, 60)
		rows := m.group("calf_strain", nil).rows
		c := m.comparison(rows)
		weight, group := make([]int, len(rows)), make([]int, len(rows))
		var data [2]survival.Data
		for i := range rows {
			weight[i], group[i] = rng.IntN(3), rng.IntN(3)-1
			for range weight[i] {
				if g := group[i]; g >= 0 {
					data[g].Time, data[g].Event = append(data[g].Time, float64(c.day[i])), append(data[g].Event, c.event[i])
				}
			}
		}
		for g, cell := range c.incidence(group, 2, weight) {
			curves, err := survival.AalenJohansen(data[g], 2, survival.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if want := curves[1].At(float64(c.horizon)).Value; math.Abs(cell.returned-want) > 1e-12 || cell.n != len(data[g].Time) {
				t.Errorf("%v of %d, the curve says %v of %d", cell.returned, cell.n, want, len(data[g].Time))
			}
		}
	}
}

// TestOrderAndUnitOfDoseDoNotMatter shuffles the rows and stretches the dose.
func TestOrderAndUnitOfDoseDoNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for range 5 {
		all := drawn(rng, 80)
		want := analyse(t, input(all))
		shuffled := slices.Clone(all)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		if got := analyse(t, input(shuffled)); !reflect.DeepEqual(got, want) {
			t.Error("the order of the rows changes a figure")
		}
		for i := range shuffled {
			shuffled[i].Sets = ref(*shuffled[i].Sets * 8)
		}
		got := analyse(t, input(shuffled))
		for _, statistic := range []string{"thirds_contrast_raw@w26", "thirds_contrast_standardised@w26"} {
			if value(t, got, statistic) != value(t, want, statistic) || *got[statistic].Low != *want[statistic].Low {
				t.Errorf("%s changes with the unit of dose", statistic)
			}
		}
	}
}

func TestNothingAndBadInput(t *testing.T) {
	if set, err := Analyse(t.Context(), input(nil)); err != nil || len(set.Figures) != 0 {
		t.Errorf("nothing: %d figures, %v", len(set.Figures), err)
	}
	for _, change := range []func(in *Input){
		func(in *Input) { in.Month = time.Time{} },
		func(in *Input) { in.WindowMonths = 0 },
		func(in *Input) { in.Rules.HorizonWeek = 0 },
	} {
		in := input(twentyFour())
		change(&in)
		if _, err := Analyse(t.Context(), in); err == nil {
			t.Errorf("%+v is taken", in.Rules)
		}
	}
	one := analyse(t, input(twentyFour()[:1]))
	if value(t, one, "sets_per_week_median") != 0.5 || one["sets_per_week_median"].Low != nil {
		t.Errorf("one person: %+v", one["sets_per_week_median"])
	}
}
