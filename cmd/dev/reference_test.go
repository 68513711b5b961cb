package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// referenceTree makes a folder with one script, its answers and its data, and
// goes there.
func referenceTree(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	write(t, "testdata/reference/family/a.R", "script")
	write(t, "testdata/reference/family/a.csv", "x\n1\n")
	file := referenceFile{Data: map[string]string{}, R: "4", Date: "2026-01-01", Answers: []byte(`{"one": 1}`)}
	var err error
	if file.ScriptSHA256, err = fileSHA256("testdata/reference/family/a.R"); err != nil {
		t.Fatal(err)
	}
	if file.Data["a.csv"], err = fileSHA256("testdata/reference/family/a.csv"); err != nil {
		t.Fatal(err)
	}
	text, err := file.encode()
	if err != nil {
		t.Fatal(err)
	}
	write(t, "testdata/reference/family/a.json", string(text))
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestReferenceCheckFindsEachFault(t *testing.T) {
	for name, c := range map[string]struct {
		change func()
		args   []string
		code   int
		says   string
	}{
		"untouched":      {func() {}, nil, 0, ""},
		"by family":      {func() {}, []string{"family"}, 0, ""},
		"by name":        {func() {}, []string{"family/a"}, 0, ""},
		"script changed": {func() { write(t, "testdata/reference/family/a.R", "other") }, nil, 1, "a.R is not the script"},
		"data changed":   {func() { write(t, "testdata/reference/family/a.csv", "x\n2\n") }, nil, 1, "a.csv is not the data"},
		"data missing":   {func() { _ = os.Remove("testdata/reference/family/a.csv") }, nil, 1, "a.csv is missing"},
		"no answers":     {func() { _ = os.Remove("testdata/reference/family/a.json") }, nil, 1, "no readable answers"},
		"not JSON":       {func() { write(t, "testdata/reference/family/a.json", "{") }, nil, 1, "no readable answers"},
		"stray file":     {func() { write(t, "testdata/reference/family/b.csv", "x\n") }, nil, 1, "b.csv belongs to no script"},
		"no such family": {func() {}, []string{"nobody"}, 64, "no script matches"},
	} {
		t.Run(name, func(t *testing.T) {
			referenceTree(t)
			c.change()
			var stdout, stderr bytes.Buffer
			code := runReference(context.Background(), append([]string{"--check"}, c.args...), &stdout, &stderr)
			if code != c.code || !strings.Contains(stderr.String(), c.says) {
				t.Errorf("exit %d, said %q; exit %d with %q expected", code, stderr.String(), c.code, c.says)
			}
		})
	}
}

func TestBenchReportsWhatWasMissed(t *testing.T) {
	var out bytes.Buffer
	r := &report{w: &out}
	r.ratio("fast", 1e9, 6e9, 6)
	r.atMost("small", 1, 1)
	if r.missed != 0 {
		t.Fatalf("requirements met, yet missed: %s", out.String())
	}
	r.ratio("slow", 1e9, 5.9e9, 6)
	r.atMost("large", 1.1, 1)
	if r.missed != 2 || strings.Count(out.String(), "MISSED") != 2 {
		t.Errorf("%d missed of 2: %s", r.missed, out.String())
	}
	var stderr bytes.Buffer
	if code := runBench(context.Background(), []string{"nothing"}, &out, &stderr); code != 64 {
		t.Errorf("unknown bench: exit %d", code)
	}
}
