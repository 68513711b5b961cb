package rare

import (
	"slices"
	"testing"
)

type row struct {
	kind   string
	person int
}

func TestATypeStandsAloneFromTheFloorOn(t *testing.T) {
	var rows []row
	for kind, n := range map[string]int{"nine": 9, "ten": 10, "twice": 9} {
		for person := range n {
			rows = append(rows, row{kind, person})
		}
	}
	rows = append(rows, row{"twice", 0}, row{"left out", 1})
	persons := Persons(rows, func(r row) (string, int, bool) { return r.kind, r.person, r.kind != "left out" })
	own, few := Split([]string{"ten", "nobody", "twice", "nine", "left out"}, persons, 10)
	if !slices.Equal(own, []string{"ten"}) || !slices.Equal(few, []string{"twice", "nine"}) {
		t.Errorf("alone %q, together %q", own, few)
	}
	if own, few := Split([]string{"nobody"}, persons, 0); len(own)+len(few) > 0 {
		t.Errorf("a type that nobody had: %q %q", own, few)
	}
}
