package words_test

import (
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestProgressSentences(t *testing.T) {
	got := plain(words.ProgressSentences(sample.Month(t)))
	want := []string{
		"Half of the people had taken a first step up in an exercise by week 4.5 (the data fit 4.1 to 5.0).",
		"Set against the visit before, 11 % of the visits were a step up (the data fit 10 to 12) and 2 % a step back (1 to 2).",
		"Within 7 days after a painful session 2 % of the visits were a step back (the data fit 2 to 2), otherwise 1 % (1 to 1). Why somebody stepped back is not on record.",
		"Of the exercises kept up for 21 days or more, 64 % stood at one level and load for as long (the data fit 58 to 70).",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := words.ProgressSentences(sample.Empty(t)); len(got) > 0 {
		t.Errorf("of nobody: %v", got)
	}
}

func TestPlanSentences(t *testing.T) {
	got := plain(words.PlanSentences(sample.Month(t)))
	want := "Set against the plans on record, before the landmark: 91 % of the sessions (82 to 100), 107 % of the sets of as many sessions (96 to 118), 98 % of the pressure (88 to 108) and 112 % of the minutes that the planned work takes (101 to 123). In brackets: the range that the data fit."
	if len(got) != 1 || got[0] != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

func TestToleranceSentences(t *testing.T) {
	got := plain(words.ToleranceSentences(sample.Month(t)))
	want := []string{
		"Of 1,000 bouts, 8.0 to 12.5 were ended early for pain or a symptom, by band of pressure.",
		"Where pain was higher after a session than before it, it had settled by the next one in: without the cuff 70 % (63 to 77); with the cuff, under 40 % 72 % (65 to 79); 40 to under 60 % 74 % (67 to 81); 60 to under 80 % 76 % (68 to 84). In brackets: the range that the data fit.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestBandsStandInOrder(t *testing.T) {
	var got []string
	for _, b := range words.Bands(sample.Month(t)) {
		got = append(got, b.Exercise+" "+strings.ReplaceAll(b.Group.Label, "\u00a0", " "))
	}
	want := []string{" Without the cuff", " With the cuff, under 40 %", " 40 to under 60 %", " 60 to under 80 %"}
	if len(got) != 12 || !slices.Equal(got[:4], want) || !strings.HasPrefix(got[4], "heel_raise_seated") || !strings.HasPrefix(got[8], "leg_press") {
		t.Errorf("%q", got)
	}
	if got := words.BandLabel("80_and_over"); got != "80\u00a0% and over" {
		t.Error(got)
	}
}

func TestScoreSentences(t *testing.T) {
	r := sample.Month(t)
	g, ok := words.LeadingScore(r, "achilles_tendinopathy")
	if !ok || g.Measure != "visa_a" {
		t.Fatalf("the leading score is %+v", g)
	}
	got := plain(append([]words.Sentence{words.ScoreSentence(r, g)}, words.ScoreDetails(r, g)...))
	want := []string{
		"Achilles tendinopathy, VISA-A score (0 to 100, more is better): typically 41.0 at the start of care and 56.0 at week 12; 15.0 more (the data fit 13.5 to 16.5).",
		"Of 160 people who answered at the start and near week 12, 45 % improved by more than the error of measuring (41 to 50), 3 % became worse by more than that (3 to 3) and 41 % improved by the important change or more (37 to 45).",
		"Near week 26, 7 % of those who answered stood at the best end of the scale (the data fit 6 to 8).",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	groups := words.ScoresLeading(r, "achilles_tendinopathy")
	if len(groups) != 2 || groups[0].Measure != "visa_a" || groups[1].Measure != "pain_nrs" {
		t.Fatalf("%+v", groups)
	}
	pain := plain([]words.Sentence{words.ScoreSentence(r, groups[1])})[0]
	if want := "Achilles tendinopathy, Pain 0-10 (0 to 10, less is better): typically 5.0 at the start of care and 2.6 at week 12; 2.4 less (the data fit 2.2 to 2.6)."; pain != want {
		t.Errorf("got:\n%s\nwant:\n%s", pain, want)
	}
	if few, ok := words.LeadingScore(r, "distal_biceps_repair"); !ok || !strings.HasSuffix(words.ScoreSentence(r, few).Text, ": not shown (too few people).") {
		t.Errorf("of six people: %v", words.ScoreSentence(r, few))
	}
}

func TestAChangeThatMayBeNone(t *testing.T) {
	set := sample.Set()
	for i, f := range set.Figures {
		if f.ID == "scores.achilles_tendinopathy.visa_a.24m/change@w12" {
			low := -1.0
			set.Figures[i].Low = &low
		}
		if f.ID == "scores.calf_strain.lefs.24m/typical@w12" {
			set.Figures[i].Value, set.Figures[i].Low, set.Figures[i].High, set.Figures[i].StdError = nil, nil, nil, nil
			set.Figures[i].Status, set.Figures[i].Reason = result.Withheld, "The model of the course did not converge."
		}
	}
	r := sample.Release(t, set, sample.Context())
	g, _ := words.LeadingScore(r, "achilles_tendinopathy")
	if got := plain([]words.Sentence{words.ScoreSentence(r, g)})[0]; !strings.HasSuffix(got, "; a change of 15.0 (the data fit −1.0 to 16.5), which reaches across none.") {
		t.Error(got)
	}
	g, _ = words.LeadingScore(r, "calf_strain")
	if got := words.ScoreSentence(r, g).Text; !strings.HasSuffix(got, ": cannot tell yet. The model of the course did not converge.") {
		t.Error(got)
	}
}

// Where people keep up their activity pain and scores lead: on the first page,
// and first in their chapter.
func TestScoresLeadWherePeopleKeepTheirActivity(t *testing.T) {
	r := sample.Month(t)
	first := words.First(r).Scores
	if len(first) != 1 || !strings.HasPrefix(first[0].Text, "Achilles tendinopathy, VISA-A score") {
		t.Errorf("%v", first)
	}
	order := words.ScoreOrder(r)
	if len(order) != 3 || order[0].Code != "achilles_tendinopathy" || order[1].Code != "calf_strain" {
		t.Errorf("%v", order)
	}
}

// plain are the texts of sentences with plain blanks.
func plain(sentences []words.Sentence) []string {
	var out []string
	for _, s := range sentences {
		out = append(out, strings.ReplaceAll(s.Text, "\u00a0", " "))
	}
	return out
}
