package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// TestStatusReconcilesEveryFile holds the sums of every file and sender that
// status names against each other.
func TestStatusReconcilesEveryFile(t *testing.T) {
	dir := practiceFolder(t)
	r := runProgram(t, "status", "--practice", dir, "--json")
	var s struct {
		Files   []fileLine
		Senders []senderLine
	}
	if err := json.Unmarshal([]byte(r.stdout), &s); err != nil || r.code != 0 {
		t.Fatalf("status ended with %d: %v", r.code, err)
	}
	sums := map[string]tally{}
	files, notRead, layouts, forms := map[string]int{}, map[string]int{}, map[string]bool{}, map[string]bool{}
	for _, f := range s.Files {
		if f.Read != f.Accepted+f.Duplicates+f.Corrections+f.Withdrawals+f.Quarantined {
			t.Errorf("%s: %+v", f.Path, f.tally)
		}
		if (f.Quarantined > 0) != (f.Listed != "") || (f.Problem != "") != (f.Tables == "") || (f.Problem == "" && f.Form == "") {
			t.Errorf("%+v", f)
		}
		layouts[f.Layout], forms[strings.Split(f.Form, ",")[0]] = true, true
		sender := strings.Split(f.Path, "/")[1]
		files[sender]++
		if f.Problem != "" {
			notRead[sender]++
		}
		sum := sums[sender]
		for i, n := range f.numbers() {
			*sum.numbers()[i] += *n
		}
		sums[sender] = sum
	}
	for _, l := range s.Senders {
		if l.tally != sums[l.Sender] || l.Files != files[l.Sender] || l.NotRead != notRead[l.Sender] {
			t.Errorf("%+v, its files come to %+v", l, sums[l.Sender])
		}
	}
	if len(s.Senders) < 5 || len(layouts) < 5 || len(forms) < 4 {
		t.Errorf("%d senders, %d layouts, forms %v", len(s.Senders), len(layouts), forms)
	}
	text := runProgram(t, "status", "--practice", dir).stdout
	for _, want := range []string{"read as", "; layouts/", "skipped", "gone"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in:\n%s", want, text)
		}
	}
}

// numbers are the counts of a tally, to be added up.
func (t *tally) numbers() []*int {
	return []*int{&t.Read, &t.Accepted, &t.Duplicates, &t.Corrections, &t.Withdrawals, &t.Quarantined, &t.Skipped, &t.Gone}
}
