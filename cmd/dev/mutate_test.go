package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A package of its own with four numbers, two of which its test looks at.
func TestMutateFindsWhatNoTestCompares(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"go.mod": "module example\n\ngo 1.26\n",
		"mean/mean.go": `package mean

type Result struct {
	Value  float64
	Spread []float64
	N      int
	inner  float64
}

// Of is tested in Value alone.
func Of(xs ...float64) (*Result, error) {
	r := &Result{N: len(xs), Spread: []float64{1, 2}}
	for _, x := range xs {
		r.Value += x / float64(len(xs))
	}
	return r, nil
}

func (r *Result) Twice() float64 { return 2 * r.Value }

func (Result) Never(_ int) map[string]float64 { return map[string]float64{"a": 1} }
`,
		"mean/mean_test.go": `package mean

import "testing"

func TestOf(t *testing.T) {
	r, err := Of(1, 2, 3)
	if err != nil || r.Value != 2 || r.Twice() != 4 {
		t.Fatal(r, err)
	}
}
`,
	} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
	var out, errs bytes.Buffer
	if code := runMutate(t.Context(), []string{"./..."}, &out, &errs); code != 1 {
		t.Errorf("exit code %d, want 1\n%s%s", code, &out, &errs)
	}
	want := []string{
		"survived  mean.Of, result 1: Spread",
		"survived  mean.Result.Never",
		"example/mean                             4 results, 2 unnoticed, 0 known by hanging",
	}
	if got := strings.TrimSpace(out.String()); got != strings.Join(want, "\n") {
		t.Errorf("printed\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	out.Reset()
	if code := runMutate(t.Context(), []string{"--only", "Value", "./..."}, &out, &errs); code != 0 {
		t.Errorf("exit code %d with --only, want 0\n%s%s", code, &out, &errs)
	}
	if code := runMutate(t.Context(), []string{"--no-such"}, &out, &errs); code != 64 {
		t.Errorf("exit code %d for an unknown flag, want 64", code)
	}
}
