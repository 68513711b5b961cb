package words_test

import (
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestFirstPage(t *testing.T) {
	page := words.First(sample.Month(t))
	for _, c := range []struct {
		list []words.Sentence
		want []string
	}{
		{page.Lead, []string{
			"In the 24 months to 30 June 2026, 660 episodes of care began at three sites.",
		}},
		{page.Types, []string{
			"Of 20 people who begin care for calf strain, about 16 are back at their target by week 12 (the data fit 15 to 17). More than half are: the interval lies wholly above one half.",
			"Of 20 people who begin care for hamstring strain, about 14 are back at their target by week 12 (the data fit 12 to 16). More than half are: the interval lies wholly above one half.",
			"Of 20 people who begin care for Achilles tendinopathy, about 7 are back at their target by week 12 (the data fit 6 to 9). Fewer than half are: the interval lies wholly below one half.",
			"Of 20 people who begin care for anterior cruciate ligament reconstruction, about 2 are back at their target by week 12 (the data fit 1 to 3). Fewer than half are: the interval lies wholly below one half.",
			"Distal biceps tendon repair: not shown (too few people).",
		}},
	} {
		for i, want := range c.want {
			if i >= len(c.list) || c.list[i].Text != want {
				t.Errorf("sentence %d of %+v, want %q", i, c.list, want)
			}
		}
	}
	gaps := ""
	for _, s := range page.Gaps {
		gaps += s.Text + "\n"
	}
	for _, want := range []string{"The data of Mill Yard reach only to 12 May 2026", "3 rows could not be read as sent and were set aside", "1 row waits", "hidden so that nobody"} {
		if !strings.Contains(gaps, want) {
			t.Errorf("%q is not in %q", want, gaps)
		}
	}
}

// TestSentencesNameTheirFigures checks that each number said can be traced:
// every id exists, and its value as printed stands in the sentence.
func TestSentencesNameTheirFigures(t *testing.T) {
	r := sample.Month(t)
	traced := 0
	for _, g := range words.Groups(r, "return") {
		for _, s := range append(words.ReturnDetails(r, g), words.ReturnSentence(r, g)) {
			for _, id := range s.Figures {
				if _, ok := r.Lookup(id); !ok {
					t.Errorf("%q names the figure %s, which is not there", s.Text, id)
				}
				traced++
			}
			if len(s.Figures) == 0 && strings.ContainsAny(s.Text, "0123456789") {
				t.Errorf("%q names no figure", s.Text)
			}
		}
	}
	if traced < 20 {
		t.Errorf("only %d figures named", traced)
	}
}

func TestMedianNotReachedGivesTheShare(t *testing.T) {
	r := sample.Month(t)
	i := slices.IndexFunc(words.Groups(r, "return"), func(g words.Group) bool { return g.InjuryType == "anterior_cruciate_reconstruction" })
	text := words.ReturnDetails(r, words.Groups(r, "return")[i])[0].Text
	if text != "Half are not back within the time watched: by the end of follow-up 28 % were back." {
		t.Errorf("%q", text)
	}
}

func TestEmptyMonth(t *testing.T) {
	page := words.First(sample.Empty(t))
	if len(page.Types) != 0 || len(page.Lead) != 1 || !strings.Contains(page.Lead[0].Text, "no episode of care") {
		t.Errorf("%+v", page)
	}
	if !strings.Contains(page.Gaps[0].Text, "Nothing has been received from North Road, Mill Yard and The Quay.") {
		t.Errorf("%+v", page.Gaps)
	}
}

func TestOddSharesReadAsEnglish(t *testing.T) {
	for want, share := range map[string]float64{"none is back": 0, "fewer than 1 is back": 0.002, "about 1 is back": 0.05, "nearly all are back": 0.998, "all are back": 1} {
		set := sample.Set()
		for i := range set.Figures {
			if f := &set.Figures[i]; f.ID == "return.calf_strain.24m/share@w12" {
				*f.Value, *f.Low, *f.High = share, share, share
			}
		}
		r := sample.Release(t, set, sample.Context())
		for _, g := range words.Groups(r, "return") {
			if g.InjuryType == "calf_strain" {
				if s := words.ReturnSentence(r, g); !strings.Contains(s.Text, ", "+want) {
					t.Errorf("%q does not say %q", s.Text, want)
				}
			}
		}
	}
}

func TestGroupsStandInThePracticesOrder(t *testing.T) {
	c := sample.Context()
	slices.Reverse(c.InjuryTypes)
	var got []string
	for _, g := range words.Groups(sample.Release(t, sample.Set(), c), "return") {
		got = append(got, g.Label)
	}
	want := []string{
		"The whole practice", "Distal biceps tendon repair", "Anterior cruciate ligament reconstruction",
		"Achilles tendinopathy", "Hamstring strain", "Calf strain", "North Road", "Mill Yard", "The Quay",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if words.InjuryLabel(result.Context{}, "calf_strain") != "calf_strain" {
		t.Error("a code without a label is not printed as it is")
	}
}
