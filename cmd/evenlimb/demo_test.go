package main

import (
	"bytes"
	"database/sql"
	"path/filepath"
	"testing"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// TestTheDemoFailsWhenAPlantedItemIsNotFound deletes one finding from the
// warehouse of a finished demo: the demo's own check must miss it by name and
// end with 1.
func TestTheDemoFailsWhenAPlantedItemIsNotFound(t *testing.T) {
	dir := folder.Dir(practiceFolder(t))
	scenario := practice.Default()
	scenario.Episodes, scenario.OwnFormats = 300, true
	p, err := practice.Draw(scenario)
	if err != nil {
		t.Fatal(err)
	}
	batch := len(p.Deliveries())
	before, err := checkDemo(t.Context(), dir, warehouse.Engine{}, p, batch)
	if err != nil || !before.good() || before.Planted == 0 {
		t.Fatalf("the demo as it ended: %+v, %v", before, err)
	}
	var planted practice.Planted
	for _, item := range p.Planted() {
		if item.Where == practice.InFindings {
			planted = item
		}
	}
	db, err := sql.Open("duckdb", filepath.Join(string(dir), "warehouse.duckdb"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.ExecContext(t.Context(), "delete from results.findings where check_name = ? and subject = ?", planted.By, planted.Subject); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	after, err := checkDemo(t.Context(), dir, warehouse.Engine{}, p, batch)
	if err != nil || len(after.Missed) != 1 {
		t.Fatalf("one finding deleted, missed: %v, %v", after.Missed, err)
	}
	var out bytes.Buffer
	code, err := sayDemo(&call{stdout: &out}, dir, p.Sends(), nil, after)
	if err != nil || code != exitFailed || !bytes.Contains(out.Bytes(), []byte("not found: "+after.Missed[0])) || !bytes.Contains(out.Bytes(), []byte("one workbook a night")) {
		t.Errorf("the demo ends with %d, %v: %s", code, err, out.String())
	}
}
