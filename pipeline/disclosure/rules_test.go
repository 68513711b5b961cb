package disclosure

import (
	"testing"

	"evenlimb/pipeline/result"
)

func ptr[T any](v T) *T { return &v }

// TestEventsAndAlwaysCounted judges rows of the kinds that no statistic of the
// table has yet.
func TestEventsAndAlwaysCounted(t *testing.T) {
	usual := limits{persons: 10, site: 20, curve: 20}
	strict := usual
	strict.strict = true
	for _, c := range []struct {
		name   string
		kind   Kind
		figure result.Figure
		limits limits
		shown  bool
	}{
		{"3 events among 40 persons", EventCount, result.Figure{Value: ptr(3.0), Persons: ptr(40)}, usual, true},
		{"3 events among 40 persons, strict", EventCount, result.Figure{Value: ptr(3.0), Persons: ptr(40)}, strict, false},
		{"3 events among 9 persons", EventCount, result.Figure{Value: ptr(3.0), Persons: ptr(9)}, usual, false},
		{"3 events among 19 persons of a site", EventCount, result.Figure{Value: ptr(3.0), Persons: ptr(19), Site: "S1"}, usual, false},
		{"events among nobody knows how many", EventCount, result.Figure{Value: ptr(3.0)}, usual, false},
		{"one open clock in the practice", AlwaysCounted, result.Figure{Value: ptr(1.0), Persons: ptr(1)}, strict, true},
		{"one open clock of a site", AlwaysCounted, result.Figure{Value: ptr(1.0), Persons: ptr(1), Site: "S1"}, usual, false},
		{"seven files", NotPersons, result.Figure{Value: ptr(7.0), Site: "S1"}, strict, true},
	} {
		r := &row{figure: c.figure, kind: c.kind}
		r.decide(c.limits)
		got := r.shown(c.limits, nil)
		if shown := got.Value != nil; shown != c.shown {
			t.Errorf("%s: shown %v, want %v", c.name, shown, c.shown)
		}
		if c.kind == AlwaysCounted && got.Persons != nil {
			t.Errorf("%s: something stands beside it", c.name)
		}
	}
}

// TestRoundedCount: to the nearest 5 and with nothing beside it, from the floor
// on; nobody is nobody.
func TestRoundedCount(t *testing.T) {
	for _, c := range []struct{ persons, shown float64 }{{0, 0}, {10, 10}, {12, 10}, {13, 15}, {157, 155}} {
		got := counted(c.persons)
		if got.Value == nil || *got.Value != c.shown || got.Persons != nil || got.Episodes != nil {
			t.Errorf("%g persons are shown as %v", c.persons, got.Figure)
		}
	}
	for _, few := range []float64{1, 9} {
		if got := counted(few); got.Value != nil || got.ValueBelow != 10 {
			t.Errorf("%g persons are shown as %v, fewer than %d", few, got.Value, got.ValueBelow)
		}
	}
}

func counted(n float64) Shown {
	l := limits{persons: 10, site: 20, curve: 20}
	r := &row{figure: result.Figure{Value: ptr(n), Persons: ptr(int(n)), Episodes: ptr(int(n) + 1), Site: "S1"}, kind: RoundedCount}
	r.decide(l)
	return r.shown(l, nil)
}
