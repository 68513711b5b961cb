package calibrate

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// replicates of the made-up figures below. At 2,000 the rule lets an interval
// pass that is too narrow by a tenth: see TestWhatTheRuleSees.
const many = 40_000

// normal draws figures of a known mean with their t-free 95 % intervals: off by
// shift standard errors, their widths multiplied by stretch.
func normal(n int, truth, shift, stretch float64) []Outcome {
	rng := rand.New(rand.NewPCG(7, 11))
	outcomes := make([]Outcome, n)
	const se = 0.4
	for i := range outcomes {
		value := truth + se*(rng.NormFloat64()+shift)
		half := 1.959963984540054 * se * stretch
		outcomes[i] = Outcome{Seed: i + 1, Figure: "made up", State: Shown, Value: value, Low: value - half, High: value + half, SE: se}
	}
	return outcomes
}

func TestTheRuleFindsWhatIsWrong(t *testing.T) {
	plain, tested, exact := Figure{Name: "made up"}, Figure{Name: "made up", Tested: true}, Figure{Name: "made up", Exact: true}
	nothing := Condition{Name: "made up", NoEffect: true}
	const seven = 0.924466 // 1.8119 over 1.9600: a test at 7 %
	for name, c := range map[string]struct {
		figure    Figure
		condition Condition
		outcomes  []Outcome
		truth     float64
		wants     []string // one for each reason; none: it holds
	}{
		"as it should be":               {plain, Condition{}, normal(2000, 3, 0, 1), 3, nil},
		"as it should be, many":         {plain, Condition{}, normal(many, 3, 0, 1), 3, nil},
		"a right test":                  {tested, nothing, normal(many, 0, 0, 1), 0, nil},
		"narrower by a tenth":           {plain, Condition{}, normal(many, 3, 0, 0.9), 3, []string{"covers too rarely"}},
		"wider by a quarter":            {plain, Condition{}, normal(many, 3, 0, 1.25), 3, []string{"covers too often"}},
		"off by a fifth of its error":   {plain, Condition{}, normal(2000, 3, 0.2, 1), 3, []string{"off by"}},
		"off by a twentieth":            {plain, Condition{}, normal(2000, 3, 0.05, 1), 3, nil},
		"a test at 7 %":                 {tested, nothing, normal(many, 0, 0, seven), 0, []string{"rejects too often"}},
		"a test at 7 % of an effect":    {tested, Condition{}, normal(many, 0.8, 0, seven), 0.8, nil},
		"a test at 3 %":                 {tested, nothing, normal(many, 0, 0, 1.1072), 0, []string{"rejects too rarely"}},
		"exact and too wide":            {exact, Condition{}, normal(many, 3, 0, 1.25), 3, nil},
		"exact and a little too narrow": {exact, Condition{}, normal(many, 3, 0, 0.96), 3, []string{"covers too rarely"}},
		"both narrow and off":           {plain, Condition{}, normal(many, 3, 0.3, 0.7), 3, []string{"covers too rarely", "off by"}},
	} {
		j := Full.Judge(c.condition, c.figure, c.truth, 0, c.outcomes)
		if len(j.Fails) != len(c.wants) {
			t.Errorf("%s: %q, wanted %q (covers %.4f, off by %.3f)", name, j.Fails, c.wants, j.Cover.Value(), j.Off)
			continue
		}
		for i, want := range c.wants {
			if !strings.HasPrefix(j.Fails[i], want) {
				t.Errorf("%s: %q, wanted %q", name, j.Fails[i], want)
			}
		}
	}
}

// What is not shown covers nothing and misses nothing, and is counted.
func TestFiguresNotShownAreCounted(t *testing.T) {
	outcomes := normal(100, 1, 0, 1)
	for i := range 30 {
		outcomes[i].State = Withheld
	}
	outcomes[40].State = Bare
	j := Full.Judge(Condition{}, Figure{}, 1, 0, outcomes)
	if j.Replicates != 100 || j.Withheld != 30 || j.Bare != 1 || j.Cover.N != 69 {
		t.Errorf("%+v", j)
	}
	for i := range outcomes {
		outcomes[i].State = Withheld
	}
	if j := Full.Judge(Condition{}, Figure{}, 1, 0, outcomes); j.Verdict() != "never shown" {
		t.Errorf("a figure that is never shown: %s", j.Verdict())
	}
}

// The exact limits are those of binom.test of R 4.5.
func TestExactLimits(t *testing.T) {
	for _, c := range []struct {
		count, n  int
		low, high float64
	}{
		{1900, 2000, 0.9360861457, 0.9617183541},
		{0, 40, 0, 0.1240602195},
		{40, 40, 0.8759397805, 1},
		{372, 400, 0.8905014250, 0.9588256664},
	} {
		s := shareOf(c.count, c.n, 0.99)
		if d := s.Low - c.low; d > 1e-9 || d < -1e-9 {
			t.Errorf("%d of %d: low %.9f, wanted %.9f", c.count, c.n, s.Low, c.low)
		}
		if d := s.High - c.high; d > 1e-9 || d < -1e-9 {
			t.Errorf("%d of %d: high %.9f, wanted %.9f", c.count, c.n, s.High, c.high)
		}
	}
}

// TestWhatTheRuleSees pins from which coverage down and from which rejection
// rate up a figure fails, as the table says; the counts are from qbeta of R.
func TestWhatTheRuleSees(t *testing.T) {
	for _, c := range []struct {
		rule                   Rule
		n                      int
		covers, exact, rejects int
	}{
		{Full, 2000, 1829, 1873, 149},
		{Full, 400, 357, 367, 38},
		{Smoke, 40, 30, 31, 10},
	} {
		covers, exact, rejects := c.rule.Sees(c.n)
		if covers != c.covers || exact != c.exact || rejects != c.rejects {
			t.Errorf("%d replicates: %d, %d and %d; wanted %d, %d and %d", c.n, covers, exact, rejects, c.covers, c.exact, c.rejects)
		}
	}
}
