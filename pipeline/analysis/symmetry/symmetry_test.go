package symmetry

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

var monthEnd = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)

func rules() settings.Symmetry {
	return settings.Symmetry{
		PairDays: 7, BaselineDaysBefore: 28, BaselineDaysAfter: 7, KnotWeeks: []int{4, 10}, LastWeek: 52, SupportWeeks: 2, SupportPersons: 10,
		HorizonWeeks: []int{6, 12, 26}, ThresholdPercent: 90, ThresholdWeeks: []int{12, 26}, ChangeWeek: 12,
	}
}

func input() Input {
	return Input{Month: monthEnd, WindowMonths: 24, Rules: rules(), InjuryTypes: []string{"calf_strain", "hamstring_strain"}, Batch: 4}
}

// begin adds an episode with a person of its own that began so many days
// before the month's end, and returns its key.
func (in *Input) begin(before int) int {
	key := len(in.Episodes) + 1
	in.Episodes = append(in.Episodes, warehouse.SymmetryEpisode{
		EpisodeKey: key, PersonKey: key, Site: "north", InjuryType: "calf_strain", StartDate: monthEnd.AddDate(0, 0, -before), Severity: "mild",
	})
	return key
}

// pair adds a pair of an episode; the baseline is that of the first pair.
func (in *Input) pair(key int, measure string, day int, involved, uninvolved float64) {
	e := in.Episodes[key-1]
	base := uninvolved
	for _, p := range in.Pairs {
		if p.EpisodeKey == key && p.Measure == measure {
			base = *p.UninvolvedBaseline
		}
	}
	index, against := 100*involved/uninvolved, 100*involved/base
	in.Pairs = append(in.Pairs, warehouse.SidePair{
		EpisodeKey: key, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate, Severity: e.Severity,
		Measure: measure, Day: day, Involved: involved, Uninvolved: uninvolved, UninvolvedDay: day,
		UninvolvedBaseline: &base, IndexPercent: &index, BaselinePercent: &against,
	})
}

func (in *Input) change(key, day int, value, baseline float64, same bool) {
	e := in.Episodes[key-1]
	in.Changes = append(in.Changes, warehouse.LimbChange{
		EpisodeKey: key, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate,
		Measure: "girth_calf", Day: day, Value: value, Baseline: baseline, SameRater: same,
	})
}

func figures(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		if _, twice := byID[f.ID]; twice {
			t.Errorf("%s stands twice", f.ID)
		}
		if (f.Status == result.Withheld) != (f.Value == nil) || (f.Status == result.Withheld) != (f.Reason != "") {
			t.Errorf("%s: status %s, value %v, reason %q", f.ID, f.Status, f.Value, f.Reason)
		}
		byID[f.ID] = f
	}
	return byID
}

func closeTo(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-9*max(1, math.Abs(want)) {
		t.Errorf("%s: got %v, want %.12g", what, show(got), want)
	}
}

func show(x *float64) any {
	if x == nil {
		return nil
	}
	return *x
}

const (
	force = "strength_plantarflexion"
	calf  = "symmetry.calf_strain.girth_calf.24m/"
	plant = "symmetry.calf_strain." + force + ".24m/"
)

// ten are ten people measured on the first day and after two weeks.
func ten(persons int) (Input, []float64, []float64) {
	in := input()
	in.Rules.HorizonWeeks = []int{2, 6}
	var first, second []float64
	for i := range persons {
		key := in.begin(300 + i)
		a, b := 60+float64(i*i%7), 80+float64(i*3%5)
		in.pair(key, force, 0, 10*a, 1000)
		in.pair(key, force, 14, 9*b, 900)
		in.pair(key, "girth_calf", 0, 36+float64(i%3)/2, 37)
		in.pair(key, "girth_calf", 14, 36.5+float64(i%4)/4, 37)
		first, second = append(first, math.Log(a/100)), append(second, math.Log(b/100))
	}
	return in, first, second
}

// With everybody measured in both weeks, one site and one severity, the curve
// is the line through the two geometric means. The two weeks share one variance,
// so its standard error is the root of the mean of the two samples' over ten.
func TestTypicalIndexByHand(t *testing.T) {
	in, first, second := ten(10)
	f := figures(t, in)
	mean0, se0 := meanAndError(first)
	mean2, se2 := meanAndError(second)
	closeTo(t, "index at the start", f[plant+"index_curve@w0"].Value, 100*math.Exp(mean0))
	closeTo(t, "index at week 2", f[plant+"typical_index@w2"].Value, 100*math.Exp(mean2))
	// The intercept's variance is estimated as zero here, or not: either way the
	// sum of both variances is the pooled one.
	pooled := math.Sqrt((se0*se0 + se2*se2) / 2)
	se := *f[plant+"typical_index@w2"].StdError / *f[plant+"typical_index@w2"].Value
	if math.Abs(se-pooled) > 1e-4*pooled {
		t.Errorf("standard error %g, by hand %g", se, pooled)
	}
	// The uninvolved side fell from 1000 to 900: against its baseline the index is lower.
	closeTo(t, "index against baseline", f[plant+"baseline_index@w2"].Value, 90*math.Exp(mean2))
	closeTo(t, "plain mean", f[plant+"plain_mean@w2"].Value, 100*math.Exp(mean2))
	closeTo(t, "low of the plain mean", f[plant+"plain_mean@w2"].Low, 100*math.Exp(mean2-2.262157162740992*se2))
	got := f[plant+"typical_index@w2"]
	if *got.Persons != 10 || *got.Episodes != 10 || *got.Missing != 0 || got.Unit != "%" || got.Level != 0.95 {
		t.Errorf("figure %+v", got)
	}
	if !slices.ContainsFunc(got.Warnings, func(w string) bool {
		return strings.HasPrefix(w, "Too few repeated visits to let persons differ in slope")
	}) {
		t.Errorf("warnings %q", got.Warnings)
	}
	// Girth: (36 + i%3/2) and (36.5 + i%4/4) less 37, i to 9: means -1 + 4.5/10, -0.5 + 13/40.
	closeTo(t, "girth at the start", f[calf+"girth_curve@w0"].Value, -0.55)
	closeTo(t, "girth at week 2", f[calf+"girth_difference@w2"].Value, -0.175)
	closeTo(t, "involved side", f[calf+"involved_curve@w2"].Value, 36.825)
	if g := f[plant+"typical_index@w6"]; g.Reason != "Fewer than 10 persons were measured within 2 weeks of week 6." {
		t.Errorf("week 6: %v %q", show(g.Value), g.Reason)
	}
}

func TestNineAreTooFew(t *testing.T) {
	in, _, _ := ten(9)
	f := figures(t, in)
	for _, id := range []string{plant + "typical_index@w2", plant + "index_curve@w0", plant + "baseline_index@w2", calf + "girth_difference@w2", calf + "involved_curve@w0"} {
		if g := f[id]; g.Reason != "Too few for a course: 10 persons must be measured within 2 weeks of each week of it." {
			t.Errorf("%s: %v, %q", id, show(g.Value), g.Reason)
		}
	}
	if g := f[plant+"plain_mean@w2"]; g.Reason != "Fewer than 10 persons were measured within 2 weeks of week 2." || *g.Persons != 9 {
		t.Errorf("plain mean: %v, %q", show(g.Value), g.Reason)
	}
	closeTo(t, "measured", f[plant+"measured@w2"].Value, 9)
}

// Two episodes of one person are one person.
func TestSupportCountsPersons(t *testing.T) {
	in, _, _ := ten(10)
	for i := range in.Pairs {
		if in.Pairs[i].EpisodeKey == 10 {
			in.Pairs[i].PersonKey = 9
		}
	}
	f := figures(t, in)
	if g := f[plant+"typical_index@w2"]; g.Value != nil || *g.Persons != 9 || *g.Episodes != 10 {
		t.Errorf("value %v of %d persons", show(g.Value), *g.Persons)
	}
}

// Whoever has no severity on record is left out of the model and counted.
func TestMissingSeverity(t *testing.T) {
	in, _, _ := ten(11)
	in.Episodes[10].Severity = ""
	for i := range in.Pairs {
		if in.Pairs[i].EpisodeKey == 11 {
			in.Pairs[i].Severity = ""
		}
	}
	f := figures(t, in)
	g := f[plant+"typical_index@w2"]
	if *g.Persons != 10 || *g.Missing != 1 {
		t.Errorf("%d persons, %d missing", *g.Persons, *g.Missing)
	}
	closeTo(t, "measured", f[plant+"measured@w2"].Value, 11)
}

// The curve is averaged over all who began, measured or not: with the measured
// half mild and half severe, and unmeasured people all severe, it moves to the
// severe.
func TestCurveIsOfThePracticesOwnMix(t *testing.T) {
	in := input()
	in.Rules.HorizonWeeks = []int{2}
	for i := range 12 {
		key := in.begin(300)
		low := float64(0)
		if i%2 == 1 {
			in.Episodes[key-1].Severity, low = "severe", 0.15
		}
		for k, day := range []int{0, 7, 14} {
			in.pair(key, force, day, 100*math.Exp(-0.3-low+0.05*float64(k)+0.02*float64(i/2%3)+0.01*float64((i/2+k)%2)), 100)
		}
	}
	before := figures(t, in)[plant+"typical_index@w2"]
	for range 24 {
		key := in.begin(300)
		in.Episodes[key-1].Severity = "severe"
	}
	both := in.begin(300)
	in.Episodes[both-1].Bilateral = true // is in no mix
	after := figures(t, in)[plant+"typical_index@w2"]
	// From 6 of 12 severe to 30 of 36 is a third of the way between the two.
	closeTo(t, "index of the new mix", after.Value, *before.Value*math.Exp(-0.15/3))
}

func TestFlow(t *testing.T) {
	in := input()
	a, _, c := in.begin(100), in.begin(100), in.begin(100)
	in.Episodes[c-1].Bilateral = true
	d, e := in.begin(10), in.begin(1000)
	for _, key := range []int{a, d, e} {
		in.pair(key, "girth_calf", 0, 36, 37)
	}
	in.pair(in.begin(5), "girth_calf", 6, 36, 37) // after the month's end
	in.pair(in.begin(5), "girth_calf", 5, 36, 37) // on its last day
	in.pair(in.begin(5), "girth_calf", 4, 36, 37)
	in.Pairs[len(in.Pairs)-1].UninvolvedDay = 6 // so was the other side
	in.pair(in.begin(100), "girth_calf", -1, 36, 37)
	f := figures(t, in)
	for statistic, want := range map[string]float64{"began": 8, "pairs": 3, "bilateral": 1, "no_pair": 4} {
		closeTo(t, statistic, f[calf+statistic].Value, want)
	}
	if _, ok := f[plant+"began"]; ok {
		t.Error("a measure that nobody was measured by has figures")
	}
}

func TestPeriodEdges(t *testing.T) {
	from := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		start time.Time
		want  bool
	}{{from.AddDate(0, 0, -1), false}, {from, true}, {monthEnd, true}, {monthEnd.AddDate(0, 0, 1), false}} {
		in := input()
		in.begin(0)
		in.Episodes[0].StartDate = c.start
		in.pair(1, "girth_calf", 0, 36, 37)
		in.begin(100)
		in.pair(2, "girth_calf", 0, 36, 37)
		want := 1.0
		if c.want {
			want = 2
		}
		f := figures(t, in)
		closeTo(t, c.start.Format(time.DateOnly), f[calf+"began"].Value, want)
		closeTo(t, c.start.Format(time.DateOnly), f[calf+"pairs"].Value, want)
	}
}

// Where a fifth of the persons came twice the model knows persons as well.
func TestAFifthComeTwice(t *testing.T) {
	for twice, above := range map[int]bool{10: true, 9: false} { // of 50 and 51 persons
		in := crowd(60)
		for i := range in.Episodes {
			in.Episodes[i].PersonKey = in.Episodes[i].EpisodeKey
			if i >= 60-twice {
				in.Episodes[i].PersonKey -= 30
			}
		}
		for i := range in.Pairs {
			in.Pairs[i].PersonKey = in.Episodes[in.Pairs[i].EpisodeKey-1].PersonKey
		}
		f := figures(t, in)[plant+"index_curve@w0"]
		if strings.HasSuffix(f.Method, ", persons and episodes, of logarithms") != above {
			t.Errorf("%d came twice: %s", twice, f.Method)
		}
	}
}

func TestMeasuredAndReturnedAtAWeek(t *testing.T) {
	in := input()
	for _, day := range []int{27, 28, 42, 56, 57} { // week 6 is days 28 to 56
		in.pair(in.begin(200), "girth_calf", day, 36, 37)
	}
	for i, day := range []int{42, 43} {
		in.Episodes[i].ReturnDay = &day
	}
	late, key := 30, in.begin(29)
	in.Episodes[key-1].ReturnDay = &late // after the month's end
	f := figures(t, in)
	closeTo(t, "measured", f[calf+"measured@w6"].Value, 3)
	closeTo(t, "returned by week 6", f[calf+"returned_already@w6"].Value, 1)
	closeTo(t, "returned by week 12", f[calf+"returned_already@w12"].Value, 2)
}

// The visit nearest to the week counts, of two the earlier.
func TestPlainMeanTakesTheNearestVisit(t *testing.T) {
	in := input()
	for i := range 10 {
		key := in.begin(200)
		in.pair(key, "girth_calf", 39, 30, 37)
		in.pair(key, "girth_calf", 41, 36+float64(i%2), 37)
		in.pair(key, "girth_calf", 43, 20, 37)
	}
	f := figures(t, in)
	closeTo(t, "plain mean", f[calf+"plain_mean@w6"].Value, -0.5)
}

func TestChanges(t *testing.T) {
	in := input()
	for _, c := range []struct {
		day    int
		value  float64
		same   bool
		more   int // a later visit within the weeks, which does not count
		moreAs float64
	}{
		{84, 36.5, true, 0, 0},   // 0.5: no more than one rater's error
		{84, 36.51, true, 0, 0},  // improved
		{84, 36.6, false, 0, 0},  // 0.6: no more than two raters'
		{84, 36.66, false, 0, 0}, // improved
		{70, 35.4, true, 0, 0},   // worse
		{98, 35.5, true, 0, 0},   // unchanged
		{69, 40, true, 0, 0},     // too early
		{99, 40, true, 0, 0},     // too late
		{82, 37, true, 86, 35},   // improved: the earlier of two equally near
		{80, 36.1, true, 85, 37}, // improved: the nearer
	} {
		key := in.begin(200)
		in.pair(key, "girth_calf", 0, 36, 37)
		in.change(key, c.day, c.value, 36, c.same)
		if c.more > 0 {
			in.change(key, c.more, c.moreAs, 36, true)
		}
	}
	f := figures(t, in)
	for statistic, want := range map[string]float64{"change_known": 8, "improved": 4, "no_real_change": 3, "worse": 1} {
		closeTo(t, statistic, f[calf+statistic].Value, want)
	}
}

func TestChangeOfAnUnknownError(t *testing.T) {
	in := input()
	in.pair(in.begin(200), force, 0, 36, 37)
	g := figures(t, in)[plant+"improved"]
	if g.Reason != "The error of measuring is not known for this measure." {
		t.Errorf("%v, %q", show(g.Value), g.Reason)
	}
	less := measure{less: true, sameMDC: number(1)}
	if v, ok := less.verdict(warehouse.LimbChange{Value: 5, Baseline: 7, SameRater: true}); v != "improved" || !ok {
		t.Errorf("a fall where less is better: %s", v)
	}
	if _, ok := less.verdict(warehouse.LimbChange{Value: 5, Baseline: 7}); ok {
		t.Error("two raters' error is not known, and a verdict came")
	}
}

// However the rows are ordered and the episodes are numbered, the figures are
// the same.
func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	in := crowd(60)
	want, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 3))
	mixed := in
	mixed.Episodes, mixed.Pairs, mixed.Changes = slices.Clone(in.Episodes), slices.Clone(in.Pairs), slices.Clone(in.Changes)
	rng.Shuffle(len(mixed.Episodes), func(i, j int) { mixed.Episodes[i], mixed.Episodes[j] = mixed.Episodes[j], mixed.Episodes[i] })
	rng.Shuffle(len(mixed.Pairs), func(i, j int) { mixed.Pairs[i], mixed.Pairs[j] = mixed.Pairs[j], mixed.Pairs[i] })
	rng.Shuffle(len(mixed.Changes), func(i, j int) { mixed.Changes[i], mixed.Changes[j] = mixed.Changes[j], mixed.Changes[i] })
	got, err := Analyse(t.Context(), mixed)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, want) {
		t.Error("the order of the rows changed a figure")
	}
	stated := 0
	number := rng.Perm(1000)
	for i := range mixed.Episodes {
		mixed.Episodes[i].EpisodeKey = number[mixed.Episodes[i].EpisodeKey]
	}
	for i := range mixed.Pairs {
		mixed.Pairs[i].EpisodeKey = number[mixed.Pairs[i].EpisodeKey]
	}
	for i := range mixed.Changes {
		mixed.Changes[i].EpisodeKey = number[mixed.Changes[i].EpisodeKey]
	}
	renamed, err := Analyse(t.Context(), mixed)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range want.Figures {
		g := renamed.Figures[i]
		if (f.Value == nil) != (g.Value == nil) || f.Value != nil && math.Abs(*f.Value-*g.Value) > 1e-5*max(1, math.Abs(*f.Value)) {
			t.Errorf("%s: %v, renamed %v", f.ID, show(f.Value), show(g.Value))
		}
		if f.Value != nil {
			stated++
		}
	}
	if stated < 40 {
		t.Errorf("only %d figures were stated", stated)
	}
}

// crowd is a practice of random people of two sites, three severities and one
// to five visits; every tenth person comes twice.
func crowd(size int) Input {
	rng := rand.New(rand.NewPCG(2, 2))
	in := input()
	for i := range size {
		key := in.begin(200 + rng.IntN(400))
		e := &in.Episodes[key-1]
		e.Site = []string{"north", "south"}[rng.IntN(2)]
		e.Severity = []string{"mild", "moderate", "severe"}[rng.IntN(3)]
		if i%10 == 9 {
			e.PersonKey = key - 1
		}
		own := 0.1 * rng.NormFloat64()
		for visit := range 1 + rng.IntN(5) {
			day := 21*visit + rng.IntN(7)
			in.pair(key, force, day, math.Round(1000*math.Exp(own-0.3+0.02*float64(visit)+0.05*rng.NormFloat64())), 1000)
			in.pair(key, "girth_calf", day, 36+own+0.1*rng.NormFloat64(), 37)
			if visit > 0 {
				in.change(key, day, 36+rng.NormFloat64(), 36, rng.IntN(2) == 0)
			}
		}
	}
	return in
}

func TestBadInput(t *testing.T) {
	if _, err := Analyse(t.Context(), Input{Month: monthEnd}); err == nil || !strings.Contains(err.Error(), "0 months of starts") {
		t.Errorf("got %v", err)
	}
	if _, err := Analyse(t.Context(), Input{WindowMonths: 24}); err == nil {
		t.Error("no month was taken")
	}
	set, err := Analyse(t.Context(), input())
	if err != nil || len(set.Figures) != 0 {
		t.Errorf("nothing at all: %d figures, %v", len(set.Figures), err)
	}
}
