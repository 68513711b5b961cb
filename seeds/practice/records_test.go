package practice

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/reference"
)

func small(t *testing.T, episodes int) *Practice {
	t.Helper()
	s := Default()
	s.Episodes = episodes
	p, err := Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Every cell of every record is what the export tables allow, so that whatever
// the intake refuses was planted.
func TestRecordsFitTheExportTables(t *testing.T) {
	tables, err := Tables(small(t, 300))
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range export.Tables() {
		rows := tables[table.Name]
		if len(rows) == 0 {
			t.Errorf("%s has no rows", table.Name)
		}
		keys := map[string]bool{}
		for _, row := range rows {
			if len(row) != len(table.Columns) {
				t.Fatalf("%s: %d cells, wanted %d: %v", table.Name, len(row), len(table.Columns), row)
			}
			for i, column := range table.Columns {
				if complaint := fault(column, row[i]); complaint != "" {
					t.Fatalf("%s.%s: %q %s in %v", table.Name, column.Name, row[i], complaint, row)
				}
			}
			k := keyOf(table, row)
			if keys[k] {
				t.Fatalf("%s: key %q stands twice", table.Name, k)
			}
			keys[k] = true
		}
	}
}

func keyOf(table export.Table, row Row) string {
	cell := map[string]string{}
	for i, column := range table.Columns {
		cell[column.Name] = row[i]
	}
	columns := table.Key
	if cell[columns[0]] == "" {
		columns = table.FallbackKey
	}
	var parts []string
	for _, c := range columns {
		parts = append(parts, cell[c])
	}
	return strings.Join(parts, "|")
}

// fault says what is wrong with a cell; empty for nothing.
func fault(c export.Column, text string) string {
	if text == "" {
		if c.Required {
			return "is empty and required"
		}
		return ""
	}
	allowed := c.Codes
	if c.From != "" && c.From != "sites" && c.From != "plan_codes" {
		allowed = reference.Codes(c.From)
	}
	switch c.Type {
	case export.Code, export.CodeSet:
		if allowed == nil {
			return ""
		}
		for _, part := range strings.Split(text, ";") {
			if !contains(allowed, part) {
				return "is no code"
			}
		}
	case export.Integer, export.Decimal:
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return "is no number"
		}
		if c.Type == export.Integer && strings.Contains(text, ".") {
			return "is no whole number"
		}
		if c.Reject != nil && (v < c.Reject.Low || v > c.Reject.High) {
			return "is out of range"
		}
		if c.Warn != nil && (v < c.Warn.Low || v > c.Warn.High) {
			return "is unusual"
		}
	case export.Date:
		if _, err := time.Parse(time.DateOnly, text); err != nil {
			return "is no date"
		}
	case export.Boolean:
		if text != "true" && text != "false" {
			return "is not true or false"
		}
	case export.Key:
		if len(text) > export.MaxKey {
			return "is too long"
		}
	case export.Text, export.Reps:
	}
	return ""
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}
