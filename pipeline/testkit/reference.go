// Package testkit holds what tests of several packages share. Only tests
// import it.
package testkit

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// Answers are the reference values of one R script below testdata/reference.
// Reading a path that does not exist, or with the wrong type, ends the test.
type Answers struct {
	t      testing.TB
	dir    string
	leaves map[string]any
	read   map[string]bool
	tables map[string][][]string
}

// Reference loads testdata/reference/NAME.json, such as "survival/lung". When
// the test ends without failure, every answer in the file must have been read:
// an answer that nothing is compared with proves nothing.
func Reference(tb testing.TB, name string) *Answers {
	tb.Helper()
	path := filepath.Join(ModuleRoot(tb), "testdata", "reference", filepath.FromSlash(name)+".json")
	text, err := os.ReadFile(path) //nolint:gosec // the path is written in the test
	if err != nil {
		tb.Fatalf("reference %s: %v; write it with `go run ./cmd/dev reference`", name, err)
	}
	var file struct {
		Answers map[string]any `json:"answers"`
	}
	if err := json.Unmarshal(text, &file); err != nil {
		tb.Fatalf("reference %s: %v", name, err)
	}
	a := &Answers{
		t:      tb,
		dir:    filepath.Dir(path),
		leaves: map[string]any{},
		read:   map[string]bool{},
		tables: map[string][][]string{},
	}
	a.collect("", file.Answers)
	if len(a.leaves) == 0 {
		tb.Fatalf("reference %s holds no answers", name)
	}
	tb.Cleanup(func() {
		if tb.Failed() || tb.Skipped() {
			return
		}
		if unread := a.unread(); len(unread) > 0 {
			tb.Errorf("reference %s: never compared: %s", name, strings.Join(unread, ", "))
		}
	})
	return a
}

// ModuleRoot returns the folder that holds go.mod, searched upwards from the
// folder the test runs in.
func ModuleRoot(tb testing.TB) string {
	tb.Helper()
	dir, err := os.Getwd()
	if err != nil {
		tb.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		parent := filepath.Dir(dir)
		if parent == dir {
			tb.Fatal("no go.mod above the test's folder")
		}
		dir = parent
	}
}

// Float returns the number at path, such as "fit.loglik"; null is NaN.
func (a *Answers) Float(path string) float64 {
	a.t.Helper()
	xs := a.Floats(path)
	if len(xs) != 1 {
		a.t.Fatalf("answer %s has %d values, one expected", path, len(xs))
	}
	return xs[0]
}

// Floats returns the numbers at path in the order of the file (a matrix row by
// row); a single number counts as one value, null is NaN.
func (a *Answers) Floats(path string) []float64 {
	a.t.Helper()
	values := a.values(path)
	out := make([]float64, len(values))
	for i, v := range values {
		switch v := v.(type) {
		case float64:
			out[i] = v
		case nil:
			out[i] = math.NaN()
		default:
			a.t.Fatalf("answer %s[%d] is %v, a number expected", path, i, v)
		}
	}
	return out
}

// Strings returns the texts at path.
func (a *Answers) Strings(path string) []string {
	a.t.Helper()
	values := a.values(path)
	out := make([]string, len(values))
	for i, v := range values {
		s, ok := v.(string)
		if !ok {
			a.t.Fatalf("answer %s[%d] is %v, a text expected", path, i, v)
		}
		out[i] = s
	}
	return out
}

// Column returns a column of a data file beside the answers; empty is NaN.
func (a *Answers) Column(file, column string) []float64 {
	a.t.Helper()
	texts := a.Text(file, column)
	out := make([]float64, len(texts))
	for i, s := range texts {
		if s == "" {
			out[i] = math.NaN()
			continue
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			a.t.Fatalf("%s, column %s, row %d: %v", file, column, i+1, err)
		}
		out[i] = x
	}
	return out
}

// Text returns a column of a data file beside the answers as it is written.
func (a *Answers) Text(file, column string) []string {
	a.t.Helper()
	rows := a.table(file)
	for j, name := range rows[0] {
		if name == column {
			out := make([]string, len(rows)-1)
			for i, row := range rows[1:] {
				out[i] = row[j]
			}
			return out
		}
	}
	a.t.Fatalf("%s has no column %q, only %s", file, column, strings.Join(rows[0], ", "))
	return nil
}

func (a *Answers) table(file string) [][]string {
	a.t.Helper()
	if rows, ok := a.tables[file]; ok {
		return rows
	}
	f, err := os.Open(filepath.Join(a.dir, file)) //nolint:gosec // the path is written in the test
	if err != nil {
		a.t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // opened for reading only
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		a.t.Fatalf("%s: %d lines, error %v", file, len(rows), err)
	}
	a.tables[file] = rows
	return rows
}

func (a *Answers) values(path string) []any {
	a.t.Helper()
	v, ok := a.leaves[path]
	if !ok {
		a.t.Fatalf("no answer %q; there are %s", path, strings.Join(a.unread(), ", "))
	}
	a.read[path] = true
	if list, ok := v.([]any); ok {
		return list
	}
	return []any{v}
}

func (a *Answers) collect(prefix string, object map[string]any) {
	for key, v := range object {
		if inner, ok := v.(map[string]any); ok {
			a.collect(prefix+key+".", inner)
			continue
		}
		a.leaves[prefix+key] = v
	}
}

func (a *Answers) unread() []string {
	var out []string
	for path := range a.leaves {
		if !a.read[path] {
			out = append(out, path)
		}
	}
	sort.Strings(out)
	return out
}
