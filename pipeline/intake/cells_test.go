package intake

import (
	"math/big"
	"regexp"
	"testing"
	"time"

	"evenlimb/pipeline/export"
)

var plainNumber = regexp.MustCompile(`^-?[0-9]{1,9}(\.[0-9]+)?$`)

// FuzzNumber holds the reading of numbers against exact arithmetic: what is
// accepted is written plainly and keeps its value to the last decimal.
func FuzzNumber(f *testing.F) {
	for _, seed := range []string{"0", "-0", "007", "12.5", "-0.0001", "999999999.9999", "1000000000", "1.", ".5", "+1", "1e3", "1.23456", "--1", "1.2.3", "٣", "", "-", "1_0", " 1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, decimals, ok := parseNumber(text)
		if ok != plainNumber.MatchString(text) {
			t.Fatalf("%q: accepted %t", text, ok)
		}
		if !ok || decimals > export.Scale {
			return
		}
		want, _ := new(big.Rat).SetString(text)
		if want.Mul(want, big.NewRat(scale, 1)).Cmp(big.NewRat(v, 1)) != 0 {
			t.Fatalf("%q is read as %d units of the fourth decimal", text, v)
		}
	})
}

// FuzzDate holds the reading of dates against the calendar: what is accepted
// comes out as it went in, and lies in the years that can be meant.
func FuzzDate(f *testing.F) {
	for _, seed := range []string{"2024-02-29", "2023-02-29", "1900-02-29", "2000-02-29", "1900-01-01", "1899-12-31", "2099-12-31", "2100-01-01", "2024-2-3", "2024-02-03T00:00:00Z", "infinity", "epoch", "0000-00-00", "2024-13-01", "24-01-01"} {
		f.Add(seed)
	}
	r := newCellReader(export.Column{Name: "d", Type: export.Date}, nil)
	f.Fuzz(func(t *testing.T, text string) {
		v, content, fault := r.read(text, nil)
		if text == "" || fault != nil {
			if v != nil || len(content) != 0 {
				t.Fatalf("%q is refused and read as %v", text, v)
			}
			return
		}
		day, ok := v.(time.Time)
		if !ok || day.Format(time.DateOnly) != text || string(content) != text || day.Year() < 1900 || day.Year() > 2099 {
			t.Fatalf("%q is read as %v", text, v)
		}
	})
}

func TestWhatMeansTheSameAddsTheSame(t *testing.T) {
	codes := []string{"a", "b"}
	for _, c := range []struct {
		column       export.Column
		one, another string
		same         bool
	}{
		{export.Column{Type: export.Decimal}, "30", "30.0000", true},
		{export.Column{Type: export.Decimal}, "30", "30.0001", false},
		{export.Column{Type: export.Decimal}, "-0", "0", true},
		{export.Column{Type: export.Integer}, "007", "7", true},
		{export.Column{Type: export.CodeSet}, "b;a;b", "a;b", true},
		{export.Column{Type: export.CodeSet}, "a", "a;b", false},
		{export.Column{Type: export.Code, Default: "a"}, "", "a", true},
		{export.Column{Type: export.Code, Default: "a"}, "", "b", false},
		{export.Column{Type: export.Boolean, Default: "not asked"}, "", "false", false},
		{export.Column{Type: export.Text}, "x", "X", false},
	} {
		r := newCellReader(c.column, codes)
		_, one, f1 := r.read(c.one, nil)
		_, another, f2 := r.read(c.another, nil)
		if f1 != nil || f2 != nil || (string(one) == string(another)) != c.same {
			t.Errorf("%s %q and %q: %q, %q, want the same %t", c.column.Type, c.one, c.another, one, another, c.same)
		}
	}
}
