package opc

import (
	"bytes"
	"compress/flate"
	"testing"

	"github.com/xuri/excelize/v2"
)

func TestChildrenAreSortedByTheirText(t *testing.T) {
	sorted, err := sortChildren([]byte(`<?xml version="1.0"?><t a="b"><z/><a x="2"></a><a x="1"/></t>`))
	if want := `<?xml version="1.0"?><t a="b"><a x="1"/><a x="2"></a><z/></t>`; err != nil || string(sorted) != want {
		t.Errorf("sorted to %s (%v), wanted %s", sorted, err, want)
	}
	if _, err := sortChildren([]byte("no element")); err == nil {
		t.Error("a text without a root was sorted")
	}
}

// Ten sheets make ten entries in the maps of the library: without sorting, one
// of twenty files is all but sure to differ.
func TestEqualWorkbooksAreEqualBytes(t *testing.T) {
	var first []byte
	for range 20 {
		file := excelize.NewFile()
		for _, name := range []string{"a", "b", "c", "d", "e", "f", "g", "h", "i"} {
			if _, err := file.NewSheet(name); err != nil {
				t.Fatal(err)
			}
		}
		var out bytes.Buffer
		if err := Write(&out, file, flate.BestSpeed); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = out.Bytes()
		}
		if !bytes.Equal(first, out.Bytes()) {
			t.Fatal("equal workbooks, other bytes")
		}
	}
}
