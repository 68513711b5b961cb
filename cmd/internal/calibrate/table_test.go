package calibrate

import (
	"encoding/csv"
	"strings"
	"testing"
)

// A report says of the base every figure, of a departure what it covers, and in
// words what fails; and the CSV holds every number.
func TestTheTablesSayWhatFails(t *testing.T) {
	dir := t.TempDir()
	base, other := Conditions[0], Conditions[len(Conditions)-1]
	for _, c := range []Condition{base, other} {
		truth, err := practiceTruth(c, 2000, 400)
		if err != nil {
			t.Fatal(err)
		}
		if truth.Fingerprint, err = fingerprint(c); err != nil {
			t.Fatal(err)
		}
		if err := truth.Write(dir, c); err != nil {
			t.Fatal(err)
		}
		chunk := &Chunk{First: 1, Last: ChunkSeeds, Made: []Made{{"all", "0", "abc", "2026-01-02"}}}
		for i, f := range Figures {
			at, _, _ := truth.Of(f)
			shift := 0.0
			if c.Name == other.Name && i == 0 {
				shift = 2
			}
			for _, o := range normal(ChunkSeeds, at, shift, 1) {
				o.Figure = f.Name
				chunk.Outcomes = append(chunk.Outcomes, o)
			}
		}
		if err := chunk.write(dir, c.Name); err != nil {
			t.Fatal(err)
		}
	}
	report, err := JudgeAll(dir)
	if err != nil {
		t.Fatal(err)
	}
	text := report.Markdown()
	for _, want := range []string{
		"Commit abc, 2026-01-02",
		"| share returned by week 6 | 50 |",
		"| dose does nothing | 50 | **",
		"- no-difference, share returned by week 6: covers too rarely; off by +",
		"| no-difference | thirds-small | none |",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Errorf("a number that is none:\n%s", text)
	}
	full, err := report.CSV()
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(full))).ReadAll()
	if err != nil || len(rows) != 1+2*len(Figures) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	if got := rows[len(Figures)+1]; got[0] != other.Name || got[1] != "share-w6" || got[2] != "50" || !strings.HasPrefix(got[len(got)-1], "fails: ") {
		t.Errorf("%q", got)
	}
}

// Every registered figure has a truth, stands in an analysis, and has a name of
// its own.
func TestTheRegisterIsComplete(t *testing.T) {
	names := map[string]bool{}
	for _, f := range Figures {
		if names[f.Name] || f.About == "" || f.Sign*f.Sign != 1 {
			t.Errorf("%s: a name twice, no words, or a sign that is none", f.Name)
		}
		names[f.Name] = true
		found := false
		for _, a := range Analyses {
			found = found || a.Name == f.Analysis
		}
		if !found {
			t.Errorf("%s: no analysis %q", f.Name, f.Analysis)
		}
	}
	seen := map[string]bool{}
	for i, c := range Conditions {
		if seen[c.Name] || c.Replicates%ChunkSeeds != 0 || i == 0 && c.Replicates != 2000 || i > 0 && c.Replicates != 400 {
			t.Errorf("%s: a name twice, or %d replicates", c.Name, c.Replicates)
		}
		seen[c.Name] = true
	}
}
