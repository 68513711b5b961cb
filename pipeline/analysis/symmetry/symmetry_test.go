package symmetry

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

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
	closeTo(t, "girth at week 2 in percent", f[calf+"girth_percent@w2"].Value, -0.175/37*100)
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
	in := halfSevere()
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
