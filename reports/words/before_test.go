package words_test

import (
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestTheMonthBeforeStandsBeside(t *testing.T) {
	r := sample.WithBefore(t)
	page := words.First(r)
	all := texts(slices.Concat(page.Lead, page.Types, page.Sides, page.Doses, page.Safety))
	for _, want := range []string{
		"about 16 are back at their target by week 12 (the data fit 15 to 17). More than half are: the interval lies wholly above one half. A month before: about 15.",
		"The involved side lies below the other: so does the whole interval. A month before: 89.",
		"the interval reaches across 0, no difference. A month before: not stated.",
		"6.43 as printed",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
	if strings.Contains(all, "first report") {
		t.Error("a report after another calls itself the first")
	}
	first := words.First(sample.Month(t))
	if s := texts(first.Lead); !strings.Contains(s, "this is the first report") || strings.Contains(texts(first.Types), words.MonthBefore) {
		t.Errorf("the first report: %s", s)
	}
	for id, want := range map[string]string{
		"return.calf_strain.24m/began": "181.00 as printed", "dose.achilles_tendinopathy.24m/began": words.NotStated,
	} {
		f, _ := r.Lookup(id)
		if got := words.Before(r, f); got != want {
			t.Errorf("%s stood at %q, want %q", id, got, want)
		}
		if got := words.Before(sample.Month(t), f); got != words.FirstReport {
			t.Errorf("%s in a first report: %q", id, got)
		}
	}
}

// TestVerdictsFollowFromTheInterval stands on both sides of each edge.
func TestVerdictsFollowFromTheInterval(t *testing.T) {
	figure := func(low, high float64) disclosure.Shown {
		v := (low + high) / 2
		return disclosure.Shown{Figure: result.Figure{Value: &v, Low: &low, High: &high}}
	}
	withheld, hidden, bare := figure(1, 2), figure(1, 2), figure(1, 2)
	withheld.Value, bare.Low = nil, nil
	hidden.Status = result.Hidden
	for name, c := range map[string]struct {
		f    disclosure.Shown
		want words.Verdict
	}{
		"ends on the mark":   {figure(0.4, 0.5), words.Holds},
		"ends below it":      {figure(0.4, 0.499), words.BelowMark},
		"begins on the mark": {figure(0.5, 0.6), words.Holds},
		"begins above it":    {figure(0.501, 0.6), words.AboveMark},
		"around it":          {figure(0.4, 0.6), words.Holds},
		"withheld":           {withheld, words.TooFewToSay},
		"hidden":             {hidden, words.NothingShown},
		"no interval":        {bare, words.TooFewToSay},
	} {
		if got := words.Judge(c.f, 0.5); got != c.want {
			t.Errorf("%s: %d, want %d", name, got, c.want)
		}
	}
}

func TestVerdictsOnDose(t *testing.T) {
	got := strings.ReplaceAll(texts(words.First(sample.Month(t)).Doses), "\u00a0", " ")
	const same = ": upper less lower third of dose +8 points by week 26, standardised over severity (the data fit −9 to 25); the interval reaches across 0, no difference.\n"
	want := "Hamstring strain" + same + "Achilles tendinopathy" + same +
		"Not compared, or too few to say: calf strain."
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	for _, word := range []string{"should", "optimal", "recommend"} {
		if strings.Contains(got, word) {
			t.Errorf("the verdicts say %s", word)
		}
	}
}
