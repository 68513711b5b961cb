package words_test

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{words.Decimal(11.44, 1), "11.4"},
		{words.Decimal(-0.04, 1), "0.0"},
		{words.Decimal(12.5, 0), "13"},
		{words.Decimal(-2.5, 1), "−2.5"},
		{words.Decimal(math.NaN(), 1), words.None},
		{words.Decimal(math.Inf(-1), 0), words.None},
		{words.Count(7), "7"},
		{words.Count(1024), "1,024"},
		{words.Count(-1234567), "−1,234,567"},
		{words.Percent(0), "0\u00a0%"},
		{words.Percent(0.004), "under 1\u00a0%"},
		{words.Percent(0.456), "46\u00a0%"},
		{words.Percent(0.9951), "over 99\u00a0%"},
		{words.Percent(1), "100\u00a0%"},
		{words.Percent(math.NaN()), words.None},
		{words.Small(6), "six"},
		{words.Small(13), "13"},
		{words.Join([]string{"a", "b", "c"}), "a, b and c"},
		{words.InSentence("Calf strain"), "calf strain"},
		{words.InSentence("ACL repair"), "ACL repair"},
		{words.InSentence("Achilles tendinopathy"), "Achilles tendinopathy"},
		{words.Date(time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)), "30 June 2026"},
		{words.Month(time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)), "June 2026"},
		{words.Date(time.Time{}), words.None},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestNaturalFrequency(t *testing.T) {
	for _, c := range []struct {
		share, low, high float64
		want             words.Frequency
		interval         string
	}{
		{0.45, 0.36, 0.54, words.Frequency{OutOf: 20, About: 9, Low: 7, High: 11}, "7 to 11"},
		{0.02, 0.004, 0.05, words.Frequency{OutOf: 100, About: 2, Low: 0, High: 5}, "0 to 5"},
		{0.97, 0.96, 0.98, words.Frequency{OutOf: 100, About: 97, Low: 96, High: 98}, "96 to 98"},
		{0.5, 0.49, 0.51, words.Frequency{OutOf: 20, About: 10, Low: 10, High: 10}, "10"},
	} {
		got, ok := words.NaturalFrequency(&c.share, &c.low, &c.high)
		if !ok || got != c.want || got.Interval() != c.interval {
			t.Errorf("%g: %+v (%s), want %+v (%s)", c.share, got, got.Interval(), c.want, c.interval)
		}
	}
	nan, half := math.NaN(), 0.5
	for _, v := range []*float64{nil, &nan} {
		if _, ok := words.NaturalFrequency(&half, v, &half); ok {
			t.Error("a frequency without a limit")
		}
	}
}

// TestRoundedIntervalHoldsItsValue reads the printed numbers back.
func TestRoundedIntervalHoldsItsValue(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	number := func(s string) float64 {
		s = strings.TrimSuffix(strings.TrimSuffix(s, "\u00a0%"), " weeks")
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for range 20000 {
		v := rng.Float64()
		low, high := v*(1-rng.Float64()*rng.Float64()), v+(1-v)*rng.Float64()*rng.Float64()
		if f, _ := words.NaturalFrequency(&v, &low, &high); f.About < f.Low || f.About > f.High || f.Low < 0 || f.High > f.OutOf {
			t.Fatalf("%g (%g to %g): %+v", v, low, high, f)
		}
		for statistic, x := range map[string]string{"share": "w12", "median_weeks": ""} {
			f := disclosure.Shown{Figure: result.Figure{
				ID: result.ID("return.24m", statistic, x), Question: "return", Statistic: statistic,
				Value: &v, Low: &low, High: &high,
			}}
			printed := words.Value(f)
			if strings.HasPrefix(printed, "under") || strings.HasPrefix(printed, "over") {
				continue
			}
			from, to, _ := strings.Cut(words.Interval(f), " to ")
			if p := number(printed); p < number(from) || p > number(to) {
				t.Fatalf("%g (%g to %g) prints as %s (%s)", v, low, high, printed, words.Interval(f))
			}
		}
	}
}

func TestValuesThatAreNotThere(t *testing.T) {
	figure := func(statistic string, status result.Status, below int) disclosure.Shown {
		return disclosure.Shown{ValueBelow: below, Figure: result.Figure{ID: "return.24m/" + statistic, Question: "return", Statistic: statistic, Status: status}}
	}
	low := 12.0
	open := figure("median_weeks", result.Withheld, 0)
	open.Low = &low
	open.Reason = "Not reached: by the end of follow-up 28 % were back."
	rate := func(value *float64, high float64) disclosure.Shown {
		return disclosure.Shown{Figure: result.Figure{ID: "safety.24m/rate_all", Question: "safety", Statistic: "rate_all", Status: result.Final, Value: value, High: &high}}
	}
	for _, c := range []struct{ got, want string }{
		{words.Value(figure("lost", result.Hidden, 10)), "fewer than 10"},
		{words.Value(figure("lost", result.Hidden, 0)), words.NotShown},
		{words.Value(open), words.NotReached},
		{words.Value(figure("median_weeks", result.Withheld, 0)), words.Withheld},
		{words.Value(figure("median_weeks", result.Hidden, 0)), words.NotShown},
		{words.Value(figure("visit_spacing_days", result.Withheld, 0)), words.Withheld},
		{words.Interval(open), "12.0 or more"},
		{words.Interval(figure("lost", result.Hidden, 0)), words.None},
		{words.Value(rate(nil, 0.0922)), "up to 0.09"},
		{words.WithInterval(rate(nil, 4.61)), "up to 4.6"},
		{words.WithInterval(rate(&low, 13.04)), "12.0 (up to 13.0)"},
		{words.Rate(0.004), "0.0040"},
		{words.Measured(1191.6, "N"), "1,192\u00a0N"},
		{words.Measured(12.34, "sets a week"), "12.3\u00a0sets a week"},
		{words.Points(0.084), "+8\u00a0points"},
		{words.Points(-0.03), "−3\u00a0points"},
		{words.Points(0.01), "+1\u00a0point"},
		{words.Points(0.001), "0\u00a0points"},
		{words.Measured(84.4, "%"), "84\u00a0%"},
		{words.Measured(-1.25, "cm"), "−1.3\u00a0cm"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// TestDictionaryKnowsWhatTheGateKnows fails when a statistic is added to one
// of the two tables only.
func TestFiguresInTheOrderOfTheDictionary(t *testing.T) {
	var got []string
	for _, f := range words.InOrder(sample.Month(t).Picture("dose.achilles_tendinopathy.24m")) {
		got = append(got, f.Statistic)
	}
	if len(got) < 20 || got[0] != "began" || got[1] != "left_out" || got[len(got)-1] != "body_weight_share" {
		t.Errorf("%q", got)
	}
}

func TestDictionaryKnowsWhatTheGateKnows(t *testing.T) {
	entries := map[disclosure.Statistic]bool{}
	for _, e := range words.Dictionary() {
		key := disclosure.Statistic{Question: e.Question, Name: e.Statistic}
		if entries[key] {
			t.Errorf("%v stands twice in the dictionary", key)
		}
		entries[key] = true
		if name, positioned := strings.CutSuffix(e.Statistic, "@"); disclosure.KindOf(e.Question, name, positioned) == disclosure.Unknown {
			t.Errorf("the gate does not know %v", key)
		}
		if e.Label == "" || e.Unit == "" || !strings.HasSuffix(e.Meaning, ".") {
			t.Errorf("%v: label %q, unit %q, meaning %q", key, e.Label, e.Unit, e.Meaning)
		}
	}
	for _, s := range disclosure.Statistics() {
		if !entries[s] {
			t.Errorf("the dictionary lacks %v", s)
		}
	}
}

// TestNothingPrescribes looks through all fixed text for words that tell a
// reader what to do.
func TestNothingPrescribes(t *testing.T) {
	r := sample.Month(t)
	all := append([]string{words.CautionInBrief, words.MadeUp}, words.Cautions()...)
	for _, e := range words.Dictionary() {
		all = append(all, e.Label, e.Meaning)
	}
	for _, m := range words.Methods(r) {
		all = append(all, m.Head, m.Text)
	}
	first := words.First(r)
	for _, list := range [][]words.Sentence{first.Lead, first.Types, first.Sides, first.Safety, first.Gaps} {
		for _, s := range list {
			all = append(all, s.Text)
		}
	}
	for _, text := range all {
		for _, word := range []string{"should", "optimal", "recommend", "must ", "NaN", "Inf"} {
			if strings.Contains(text, word) {
				t.Errorf("%q in %q", word, text)
			}
		}
	}
}
