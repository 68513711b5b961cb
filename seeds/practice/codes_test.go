package practice

import (
	"slices"
	"testing"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/reference"
)

func TestEveryCodeListOfTheExportTablesIsAReferenceTable(t *testing.T) {
	own := []string{"sites", "plan_codes"} // the practice's settings hold these
	for _, table := range export.Tables() {
		for _, column := range table.Columns {
			if column.From == "" || slices.Contains(own, column.From) {
				continue
			}
			if reference.Codes(column.From) == nil {
				t.Errorf("%s.%s takes its codes from %q, which is not there", table.Name, column.Name, column.From)
			}
		}
	}
}
