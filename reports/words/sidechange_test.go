package words_test

import (
	"strings"
	"testing"

	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestSentencesOfTheThresholdAndTheLastVisit(t *testing.T) {
	r := sample.Month(t)
	var got []words.Sentence
	for _, injury := range []string{"calf_strain", "anterior_cruciate_reconstruction"} {
		for _, g := range words.LeadingMeasures(r, injury) {
			got = append(got, words.SymmetryDetails(r, g)...)
		}
	}
	all := strings.ReplaceAll(texts(got), "\u00a0", " ")
	for _, want := range []string{
		"An index has an error of its own, here usually 6.1 points (95 %): that of the measure is 29.5 N for one rater, 36.7 N for two. " +
			"Near the week compared, 80 episodes had an index: 48 at 90 % or above by more than that error, 22 too near to 90 % to be decided and 10 below it by more than that error.",
		"From baseline to the last visit (half of them by week 14), of 86 episodes, 51 improved by more than the error of measuring, 25 did not change beyond it and 10 became worse by more than it.",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
}

func TestErrorsOfMeasures(t *testing.T) {
	for measure, want := range map[string]string{
		"girth_calf": "0.5 cm for one rater, 0.65 cm for two",
		"girth_arm":  "not known",
		"lefs":       "10.7 points for one rater, 10.7 points for two (from an error stated at 90 %)",
	} {
		if got := strings.ReplaceAll(words.MeasuringError(measure), "\u00a0", " "); got != want {
			t.Errorf("%s: %s", measure, got)
		}
	}
	if got := strings.ReplaceAll(words.ImportantChange("strength_grip"), "\u00a0", " "); got != "6.5 kg" {
		t.Errorf("grip: %s", got)
	}
	if got := words.ImportantChange("girth_calf"); got != "not known" {
		t.Errorf("calf: %s", got)
	}
}

func TestSentencesOfWhatCanBeZero(t *testing.T) {
	set := sample.Set()
	set.Figures = append(set.Figures, sample.Raises()...)
	r := sample.Release(t, set, sample.Context())
	groups := words.LeadingMeasures(r, "calf_strain")
	if len(groups) != 3 || groups[2].Measure != "heel_raises" {
		t.Fatalf("leading measures %v", groups)
	}
	got := append([]words.Sentence{words.SymmetrySentence(r, groups[2])}, words.SymmetryDetails(r, groups[2])...)
	all := strings.ReplaceAll(texts(got), "\u00a0", " ")
	for _, want := range []string{
		"Calf strain, heel raises on one leg: at week 12 the involved side is typically behind the other by 16 % of what the other did at baseline (the data fit 10 to 22).",
		"Of those measured near that week, 16 % could do nothing at all on the involved side (the data fit 6 to 26); they are in the typical value.",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
	if got := words.BesideTypical(groups); got != "Index against baseline; girth in %; share at zero" {
		t.Errorf("heading %q", got)
	}
}

func TestBothSidesSentences(t *testing.T) {
	all := strings.ReplaceAll(texts(words.BothSidesSentences(sample.Month(t))), "\u00a0", " ")
	for _, want := range []string{
		"near week 12 the worse side was typically at 118 % of its own strength at baseline (the data fit 108 to 128; 17 people), the other at 109 % of its own strength at baseline (the data fit 101 to 117; 17 people).",
		"near week 12 the worse side was typically 0.4 cm thicker than at baseline (the data fit 0.1 to 0.7; 17 people), the other as thick as at baseline (the data fit −0.2 to 0.2; 17 people).",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
}
