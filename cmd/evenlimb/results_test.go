package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"evenlimb/reports/monthly"
	"evenlimb/reports/words"
)

// listed reads figures as they would stand in a report's figures.csv.
func listed(t *testing.T, figures ...map[string]string) []monthly.Listed {
	t.Helper()
	var file bytes.Buffer
	w := csv.NewWriter(&file)
	rows := [][]string{monthly.Columns()}
	for _, f := range figures {
		row := make([]string, len(rows[0]))
		for column, cell := range f {
			i := slices.Index(rows[0], column)
			if i < 0 {
				t.Fatalf("no column %s", column)
			}
			row[i] = cell
		}
		rows = append(rows, row)
	}
	if err := w.WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	list, err := monthly.ReadFigures(file.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func month(t *testing.T) []monthly.Listed {
	t.Helper()
	return listed(
		t,
		map[string]string{"figure_id": "return.24m/began", "question": "return", "statistic": "began", "value": "660", "shown_as": "660", "status": "final"},
		map[string]string{"figure_id": "return.calf_strain.24m/cumulative@w1", "question": "return", "injury_type": "calf_strain", "statistic": "cumulative", "x": "1", "value": "0.1", "shown_as": "10 %", "status": "final"},
		map[string]string{
			"figure_id": "return.calf_strain.24m/share@w12", "question": "return", "injury_type": "calf_strain", "statistic": "share", "x": "12", "unit": "share",
			"value": "0.8", "low": "0.741", "high": "0.859", "persons": "170", "persons_rounded": "true", "shown_as": "80 %", "status": "provisional", "warnings": "Some returns are young.",
		},
		map[string]string{"figure_id": "return.site=S1.24m/began", "question": "return", "site": "S1", "statistic": "began", "shown_as": "fewer than 10", "status": "hidden", "reason": "Fewer than 10 people."},
		map[string]string{
			"figure_id": "symmetry.calf_strain.girth_calf.24m/girth_difference@w12", "question": "symmetry", "injury_type": "calf_strain", "measure": "girth_calf", "statistic": "girth_difference",
			"x": "12", "unit": "cm", "value": "-0.41", "low": "-0.52", "high": "-0.3", "persons": "120", "persons_rounded": "false", "shown_as": "−0.4 cm", "status": "final",
		},
	)
}

func TestResultsChoosesWhatWasAsked(t *testing.T) {
	for _, c := range []struct {
		flags resultsFlags
		want  string // ids, or part of the refusal
	}{
		{resultsFlags{question: "return"}, "return.24m/began return.calf_strain.24m/cumulative@w1 return.calf_strain.24m/share@w12"},
		{resultsFlags{question: "return", injury: "calf_strain"}, "return.calf_strain.24m/cumulative@w1 return.calf_strain.24m/share@w12"},
		{resultsFlags{question: "return", by: "type"}, "return.calf_strain.24m/cumulative@w1 return.calf_strain.24m/share@w12"},
		{resultsFlags{question: "return", by: "site"}, "return.site=S1.24m/began"},
		{resultsFlags{question: "symmetry"}, "symmetry.calf_strain.girth_calf.24m/girth_difference@w12"},
		{resultsFlags{question: "return", injury: "elbow"}, `of the injury type "elbow"; it has calf_strain`},
		{resultsFlags{question: "symmetry", by: "site"}, "grouped so"},
		{resultsFlags{question: "dose"}, "no figure on dose"},
	} {
		chosen, err := c.flags.choose(month(t))
		var ids []string
		for _, l := range chosen {
			ids = append(ids, l.Cell("figure_id"))
		}
		got := strings.Join(ids, " ")
		if err != nil {
			got = err.Error()
		}
		if got != c.want && (err == nil || !strings.Contains(got, c.want)) {
			t.Errorf("%+v: %q, want %q", c.flags, got, c.want)
		}
	}
	for want, flags := range map[string]resultsFlags{
		"name a question": {}, "there is no question": {question: "price"}, "--by takes": {question: "return", by: "week"},
		"exclude": {question: "return", csv: true}, "not a month": {question: "return", month: "June"},
	} {
		if _, err := flags.check(flags.csv); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", flags, err, want)
		}
	}
}

func TestResultsPrintsIntervalsAndFootnotes(t *testing.T) {
	var out bytes.Buffer
	if err := printResults(&out, month(t)); err != nil {
		t.Fatal(err)
	}
	got := out.String()
	for _, want := range []string{
		"share@w12  80 %  (74 to 86)  about 170 people  provisional [1]\n  [1] Some returns are young.",
		"fewer than 10", "[1] Fewer than 10 people.", "(−0.5 to −0.3)  120 people", words.CautionInBrief,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
	if strings.Contains(got, "cumulative") {
		t.Error("the plain listing holds the points of a curve")
	}
}

func TestResultsForPrograms(t *testing.T) {
	var out bytes.Buffer
	if err := resultsCSV(&out, month(t)); err != nil {
		t.Fatal(err)
	}
	if back, err := monthly.ReadFigures(out.Bytes()); err != nil || len(back) != 5 || back[1].Cell("statistic") != "cumulative" {
		t.Errorf("%d figures, %v", len(back), err)
	}
	out.Reset()
	if err := resultsJSON(&out, month(t)); err != nil {
		t.Fatal(err)
	}
	var answer struct {
		Caution string
		Figures []struct {
			ID      string   `json:"figure_id"`
			Value   *float64 `json:"value"`
			Low     *float64 `json:"low"`
			Rounded bool     `json:"persons_rounded"`
			Status  string   `json:"status"`
		}
	}
	if err := json.Unmarshal(out.Bytes(), &answer); err != nil {
		t.Fatal(err)
	}
	share, hidden := answer.Figures[2], answer.Figures[3]
	if answer.Caution != words.CautionInBrief || share.ID != "return.calf_strain.24m/share@w12" || *share.Value != 0.8 || *share.Low != 0.741 || !share.Rounded {
		t.Errorf("%+v", answer)
	}
	if hidden.Status != "hidden" || hidden.Value != nil {
		t.Errorf("%+v", hidden)
	}
}
