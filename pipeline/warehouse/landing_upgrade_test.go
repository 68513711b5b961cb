package warehouse

import (
	"path/filepath"
	"testing"

	"evenlimb/pipeline/export"
)

// TestStoreOfTheFirstFormIsBroughtUpToDate turns a store back into what the first
// form was and opens it again: it must hold what it held.
func TestStoreOfTheFirstFormIsBroughtUpToDate(t *testing.T) {
	ctx, engine := t.Context(), Engine{Threads: 1, MemoryMB: 256}
	path := filepath.Join(t.TempDir(), "landing.duckdb")
	l, err := OpenLanding(ctx, path, engine)
	if err != nil {
		t.Fatal(err)
	}
	loadFollowups(t, l, "a.csv", followup(2, "a", "visit"), followup(3, "b", "phone"), withdrawn(4, "b"))
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := ContentByTable(ctx, path, engine)
	if err != nil {
		t.Fatal(err)
	}
	if l, err = OpenLanding(ctx, path, engine); err != nil {
		t.Fatal(err)
	}
	back := []string{"update store set version = 1"}
	for _, column := range []string{"form", "layout", "skipped", "gone", "again_of"} {
		back = append(back, "alter table files drop column "+column)
	}
	for _, column := range []string{"mode", "problem_code", "problem", "rules", "allowed"} {
		back = append(back, "alter table batch_plan drop column "+column)
	}
	for _, table := range []string{"seen_files", "set_aside", "profiles", "drift_findings", "rekeys"} {
		back = append(back, "drop table "+table)
	}
	for _, table := range export.Tables() {
		back = append(back, "alter table "+table.Name+" drop column _hash")
	}
	for _, s := range back {
		if _, err := l.db.ExecContext(ctx, s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if l, err = OpenLanding(ctx, path, engine); err != nil {
		t.Fatal(err)
	}
	// The number by which keys are found must be the one that this program makes.
	if _, outcomes := loadFollowups(t, l, "b.csv", followup(2, "a", "visit")); outcomes[0].Action != Duplicate {
		t.Errorf("a row that was there is %v", outcomes[0].Action)
	}
	for _, s := range []string{"delete from batches where batch = 2", "delete from batch_plan where batch = 2", "delete from files where batch = 2"} {
		if _, err := l.db.ExecContext(ctx, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	after, err := ContentByTable(ctx, path, engine)
	if err != nil {
		t.Fatal(err)
	}
	if differs := Differences(after, before); len(differs) > 0 {
		t.Errorf("these tables differ: %+v", differs)
	}
}
