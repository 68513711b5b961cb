package words_test

import (
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func texts(list []words.Sentence) string {
	var all []string
	for _, s := range list {
		all = append(all, s.Text)
	}
	return strings.Join(all, "\n")
}

func TestSymmetrySentences(t *testing.T) {
	r := sample.Month(t)
	var got []words.Sentence
	for _, injury := range []string{"calf_strain", "anterior_cruciate_reconstruction", "distal_biceps_repair"} {
		for _, g := range words.LeadingMeasures(r, injury) {
			got = append(got, words.SymmetrySentence(r, g))
			got = append(got, words.SymmetryDetails(r, g)...)
		}
	}
	all := strings.ReplaceAll(texts(got), "\u00a0", " ")
	for _, want := range []string{
		"Calf strain, plantarflexion force, seated: at week 12 the involved side is typically at 88 % of the other (the data fit 86 to 90).",
		"In percent of the other side as it was at baseline it is 87 % (the data fit 85 to 89)",
		"Near week 12, 44 people were measured on both sides; 36 were back at their target by then.",
		"By week 26, 61 % had come to an index of 90 % and held it (the data fit 52 to 70). Provisional.",
		"Real change cannot be told. The error of measuring is not known for this measure.",
		"Calf strain, largest calf girth: at week 12 the involved side is typically 0.4 cm thinner than the other (the data fit 0.2 to 0.6).",
		"Of 88 episodes measured at baseline and at the later visit compared, 52 improved by more than the error of measuring, 25 did not change beyond the error of measuring and 11 became worse by more than that error.",
		"Distal biceps tendon repair, elbow flexion force: not shown (too few people).",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
}

func TestGirthThatMayLieOnEitherSide(t *testing.T) {
	for want, v := range map[string][3]float64{
		"typically 0.1 cm thinner than the other (the data fit from 0.4 cm thinner to 0.2 cm thicker)": {-0.1, -0.4, 0.2},
		"typically as thick as the other (the data fit from 0.2 cm thinner to 0.2 cm thicker)":         {0.02, -0.2, 0.2},
		"typically 0.7 cm thicker than the other (the data fit 0.3 to 1.1)":                            {0.7, 0.3, 1.1},
		"typically 0.7 cm thinner than the other (the data fit 0.3 to 1.1)":                            {-0.7, -1.1, -0.3},
	} {
		set := sample.Set()
		for _, f := range set.Figures {
			if f.ID == "symmetry.calf_strain.girth_calf.24m/girth_difference@w12" {
				*f.Value, *f.Low, *f.High = v[0], v[1], v[2]
			}
		}
		r := sample.Release(t, set, sample.Context())
		g := words.LeadingMeasures(r, "calf_strain")[1]
		if got := strings.ReplaceAll(words.SymmetrySentence(r, g).Text, "\u00a0", " "); !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

func TestSafetySentences(t *testing.T) {
	got := strings.ReplaceAll(texts(words.SafetySentences(sample.Month(t))), "\u00a0", " ")
	want := strings.Join([]string{
		"In the 24 months to 30 June 2026 132 adverse events are on record in 24,310 attended sessions: 5.4 per 1,000 sessions (the data fit 4.6 to 6.5).",
		"Symptoms were asked about in 62 % of the sessions; the events linked to these are 7.0 per 1,000 of them (the data fit 5.7 to 8.5). The two rates count different events and different sessions and do not mix.",
		"2 serious events are on record. Of 12 events it is not recorded whether they were serious.",
		"1 event was known and not reported by 30 June 2026 (serious, or nobody recorded whether it was).",
	}, "\n")
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestSafetyWithoutEvents has a practice in which nothing happened: it never
// says a rate of 0, and says how far the data reach.
func TestSafetyWithoutEvents(t *testing.T) {
	set := sample.Set()
	for i := range set.Figures {
		switch f := &set.Figures[i]; f.ID {
		case "safety.24m/rate_all", "safety.24m/rate_asked":
			high := 0.1517
			f.Value, f.Low, f.High = nil, nil, &high
		case "safety.24m/serious_events", "safety.24m/open_clocks", "safety.24m/seriousness_not_recorded":
			*f.Value = 0
		}
	}
	got := strings.ReplaceAll(texts(words.SafetySentences(sample.Release(t, set, sample.Context()))), "\u00a0", " ")
	for _, want := range []string{
		"no adverse event is on record in 24,310 attended sessions: none seen means up to 0.15 per 1,000 sessions (95 %).",
		"none was seen in these, which means up to 0.15 per 1,000.",
		"No serious event is on record.",
		"as far as the data reach: North Road 20 July 2026, Mill Yard 12 May 2026 and The Quay 19 July 2026.",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
	if strings.Contains(got, "0.0 per") || strings.Contains(got, " 0 per") {
		t.Errorf("a rate of 0 in %s", got)
	}
}

func TestDoseSentences(t *testing.T) {
	r := sample.Month(t)
	var got []words.Sentence
	for _, g := range words.Groups(r, "dose") {
		if g.Whole() {
			continue
		}
		got = append(got, words.DoseSentence(r, g))
		got = append(got, words.DoseDetails(r, g)...)
	}
	want := "Calf strain: dose and return are not compared. More than half had returned before the landmark."
	for _, label := range []string{"Hamstring strain", "Achilles tendinopathy"} {
		want += "\n" + strings.Join([]string{
			label + ": by week 26, 49 % of the lower third of dose are back (the data fit 36 to 62) and 64 % of the upper third (52 to 76); not standardised, so severity differs between them.",
			"Upper less lower third: +15 points raw (the data fit −2 to 32), +8 points standardised over severity (−9 to 25). " + words.LandmarkSentence,
			"Half of those with some work with the cuff did no more than 12.4 sets a week; the middle half did 8.7 to 16.1.",
			"Of the sets that plans on record intended, 82 % were done.",
		}, "\n")
	}
	if all := strings.ReplaceAll(texts(got), "\u00a0", " "); all != want {
		t.Errorf("got\n%s\nwant\n%s", all, want)
	}
}

func TestKindsStandInTheOrderOfTheirTable(t *testing.T) {
	var got []string
	for _, g := range words.SafetyKinds(sample.Month(t)) {
		got = append(got, g.Label)
	}
	if strings.Join(got, "|") != "Discomfort or pain under the cuff|Numbness or tingling|Other kinds" {
		t.Errorf("%q", got)
	}
}

// TestLeadingMeasureRestsOnMostPeople gives an injury type two strengths.
func TestLeadingMeasureRestsOnMostPeople(t *testing.T) {
	set := sample.Set()
	for _, f := range set.Figures {
		if f.Measure == "strength_knee_extension" && f.Statistic == "index_curve" {
			more := *f.Persons + 1
			f.Measure, f.Persons = "strength_knee_flexion", &more
			f.ID = strings.Replace(f.ID, "knee_extension", "knee_flexion", 1)
			set.Figures = append(set.Figures, f)
		}
	}
	r := sample.Release(t, set, sample.Context())
	lead := words.LeadingMeasures(r, "anterior_cruciate_reconstruction")
	if len(lead) != 1 || lead[0].Measure != "strength_knee_flexion" {
		t.Errorf("%+v", lead)
	}
	if got := len(words.SymmetryGroups(r, "anterior_cruciate_reconstruction")); got != 2 {
		t.Errorf("%d measures, want 2", got)
	}
	if words.NoneSeen(disclosure.Shown{Figure: result.Figure{Question: "return", Statistic: "median_weeks", ID: "return.24m/median_weeks", High: new(float64)}}) {
		t.Error("a median without a value is taken for a rate without an event")
	}
}
