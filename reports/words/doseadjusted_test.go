package words_test

import (
	"strings"
	"testing"

	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

// doseDetails are the sentences of an injury type, with plain spaces.
func doseDetails(t *testing.T, injury string) []string {
	t.Helper()
	r := sample.Month(t)
	for _, g := range words.Groups(r, "dose") {
		if g.InjuryType != injury {
			continue
		}
		var details []string
		for _, s := range words.AdjustedDetails(r, g) {
			details = append(details, strings.ReplaceAll(s.Text, "\u00a0", " "))
		}
		return details
	}
	t.Fatalf("no figures of dose of %s", injury)
	return nil
}

// The sentences say what the figures say, and tell nobody what to do.
func TestSentencesOnDosesOfPeopleAlike(t *testing.T) {
	got := doseDetails(t, "achilles_tendinopathy")
	want := []string{
		"Back by week 26, some work with the cuff before the landmark less none: +6 points raw (the data fit −11 to 23), +3 points standardised over what was known at the start (−13 to 19).",
		"Back by week 26 at 21.0 sets a week less at 9.5 (the quartiles of dose): +16 points raw (the data fit 2 to 30), +11 points standardised over what was known at the start (−2 to 24). " + words.LandmarkSentence + " Whether clinicians differ cannot be judged: that takes 10 of them, each with most of somebody's sessions.",
		"The same by weighting is withheld. After weighting dose still goes with a severe injury: correlation 0.14, more than 0.10.",
		"Over the whole curve of dose: test of any relation p under 0.001, test of a bend p 0.310.",
		"To make that difference by itself, something not on record would have to go with both dose and return by a ratio of 1.9 (1.2 for the nearer end of its range); the strongest known thing, a severe injury, could do as much as one of 1.6.",
		"Near week 12, of those measured then, third less first quartile of dose, people alike at the start: the index by +2.4 index points (−0.7 to 5.5), the girth difference by +0.2 cm (−0.1 to 0.5) and pain by −0.4 points of 10 (−1.1 to 0.3). On a curve that levels off the index differs by +2.1 index points (−0.1 to 4.3); AIC 510.1, and 512.3 for the smooth one, by which nothing is chosen.",
		"How the dose was recorded: of the bouts with the cuff, 2 % had no sets on record, and were filled in from the others; 11 % of those that say how the pressure was found had it estimated; 40 % of those that say what the load was were against body weight.",
	}
	for i := range max(len(want), len(got)) {
		if i >= len(got) || i >= len(want) || got[i] != want[i] {
			t.Errorf("sentence %d:\n%q\nwant\n%q", i, at(got, i), at(want, i))
		}
	}
	for _, text := range got {
		for _, word := range []string{"should", "optimal", "recommend", "must "} {
			if strings.Contains(text, word) {
				t.Errorf("%q says %q", text, word)
			}
		}
	}
}

func at(list []string, i int) string {
	if i < len(list) {
		return list[i]
	}
	return ""
}

func TestSentencesWhereTheWaysAgreeAndWhereNothingIsCompared(t *testing.T) {
	if got := doseDetails(t, "hamstring_strain"); !strings.Contains(strings.Join(got, "\n"), "The same by weighting: +8 points (−9 to 25); the two do not disagree, their difference is +3 points (−9 to 15).") {
		t.Errorf("%q", got)
	}
	if got := doseDetails(t, "calf_strain"); len(got) > 0 {
		t.Errorf("%q of a type that is not compared", got)
	}
}
