package testkit

import (
	"math"
	"slices"
	"testing"
)

// spy records failures instead of failing; Fatalf ends its goroutine as the
// real one does.
type spy struct {
	testing.TB
	failed  bool
	cleanup []func()
}

func (s *spy) Helper()               {}
func (s *spy) Errorf(string, ...any) { s.failed = true }
func (s *spy) Failed() bool          { return s.failed }
func (s *spy) Skipped() bool         { return false }
func (s *spy) Cleanup(f func())      { s.cleanup = append(s.cleanup, f) }
func (s *spy) Fatalf(string, ...any) { s.failed = true; panic(s) }

func (s *spy) end() {
	for _, f := range s.cleanup {
		f()
	}
}

func TestReferenceReadsAnswersAndData(t *testing.T) {
	a := Reference(t, "survival/harness")
	if got := a.Floats("numbers"); len(got) != 3 || got[0] != 0.1 || got[1] != 1.0/3 || !math.IsNaN(got[2]) {
		t.Errorf("numbers = %v, want 0.1, 1/3 to the last bit and NaN for NA", got)
	}
	if got := a.Float("nested.one"); got != 1 {
		t.Errorf("nested.one = %v", got)
	}
	if got := a.Floats("nested.one"); len(got) != 1 {
		t.Errorf("a scalar is %d values, want 1", len(got))
	}
	if got := a.Floats("nested.matrix"); !slices.Equal(got, []float64{1, 3, 2, 4}) {
		t.Errorf("matrix = %v, want it row by row", got)
	}
	if got := a.Strings("words"); !slices.Equal(got, []string{`a "b"`, "c"}) {
		t.Errorf("words = %q", got)
	}
	if got := a.Column("harness.csv", "x"); got[0] != 0.1 || !math.IsNaN(got[1]) {
		t.Errorf("column x = %v, want 0.1 and NaN for the empty cell", got)
	}
	if got := a.Text("harness.csv", "g"); !slices.Equal(got, []string{"left", "right"}) {
		t.Errorf("column g = %q", got)
	}
}

func TestReferenceFailsWhenAnAnswerIsNeverRead(t *testing.T) {
	s := &spy{TB: t}
	a := Reference(s, "survival/harness")
	a.Floats("numbers")
	s.end()
	if !s.failed {
		t.Error("three answers were never read and the test would have passed")
	}
}

func TestAnswersRefuseAWrongPathOrType(t *testing.T) {
	for name, read := range map[string]func(*Answers){
		"unknown path":     func(a *Answers) { a.Float("nested.two") },
		"text as number":   func(a *Answers) { a.Floats("words") },
		"number as text":   func(a *Answers) { a.Strings("numbers") },
		"vector as scalar": func(a *Answers) { a.Float("numbers") },
		"unknown column":   func(a *Answers) { a.Column("harness.csv", "y") },
	} {
		s := &spy{TB: t}
		func() {
			defer func() { _ = recover() }()
			read(Reference(s, "survival/harness"))
		}()
		if !s.failed {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestAlmostEqual(t *testing.T) {
	for _, c := range []struct {
		got, want, rel float64
		ok             bool
	}{
		{1000.001, 1000, 1e-5, true},
		{1000.1, 1000, 1e-5, false},
		{1e-15, 0, 1e-8, true},
		{1e-10, 0, 1e-8, false},
		{math.NaN(), 1, 1, false},
		{1, math.NaN(), 1, false},
		{math.NaN(), math.NaN(), 1, false},
		{math.Inf(1), 1, 1, false},
	} {
		s := &spy{TB: t}
		AlmostEqual(s, "x", c.got, c.want, c.rel)
		if s.failed == c.ok {
			t.Errorf("AlmostEqual(%v, %v, %v): failed %v", c.got, c.want, c.rel, s.failed)
		}
		s = &spy{TB: t}
		AllAlmostEqual(s, "x", []float64{1, c.got}, []float64{1, c.want}, c.rel)
		if s.failed == c.ok {
			t.Errorf("AllAlmostEqual(%v, %v, %v): failed %v", c.got, c.want, c.rel, s.failed)
		}
	}
	s := &spy{TB: t}
	AllAlmostEqual(s, "x", []float64{1}, []float64{1, 2}, 1)
	if !s.failed {
		t.Error("different lengths accepted")
	}
}
