package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/settings"
	"evenlimb/queries"
)

// TestArrivalDoesNotMatter delivers the same versions in other orders, files
// and batches. As long as each key's versions keep their order, every clean
// table is the same but for where its rows stood.
func TestArrivalDoesNotMatter(t *testing.T) {
	histories := drawHistories(rand.New(rand.NewPCG(11, 0)), 25)
	want := cleanRows(t, arrange(rand.New(rand.NewPCG(0, 0)), histories, 1), 1)
	for seed := range uint64(3) {
		batches := 1 + int(seed)*2
		got := cleanRows(t, arrange(rand.New(rand.NewPCG(seed, 5)), histories, batches), batches)
		for table, rows := range want {
			if len(rows) == 0 {
				t.Errorf("%s is empty, so nothing was tested", table)
			}
			if !slices.Equal(got[table], rows) {
				t.Errorf("seed %d: %s differs: %s", seed, table, firstDifference(got[table], rows))
			}
		}
	}
}

// TestSwappingTwoVersionsSwapsTheResult sends the two versions of one key of
// each table in the other order: the row then is what the other version says.
func TestSwappingTwoVersionsSwapsTheResult(t *testing.T) {
	histories := drawHistories(rand.New(rand.NewPCG(12, 0)), 25)
	swapped, first := slices.Clone(histories), slices.Clone(histories)
	tables := []string{"episodes", "plans", "sessions", "bouts", "measurements", "milestones", "followups", "adverse_events"}
	for _, table := range tables {
		i := slices.IndexFunc(histories, func(h history) bool {
			return h[0].table == table && len(h) == 2 && !h[1].withdrawn && present(histories, h[0])
		})
		if i < 0 {
			t.Fatalf("no key of %s has two versions", table)
		}
		swapped[i] = history{histories[i][1], histories[i][0]}
		first[i] = history{histories[i][0]}
	}
	order := func(h []history) map[string][]string {
		return cleanRows(t, arrange(rand.New(rand.NewPCG(1, 1)), h, 2), 2)
	}
	before, after, want := order(histories), order(swapped), order(first)
	for _, table := range tables {
		table = "clean." + table
		if slices.Equal(before[table], after[table]) {
			t.Errorf("%s is the same with two versions swapped", table)
		}
		if !slices.Equal(after[table], want[table]) {
			t.Errorf("%s after the swap is not what the version that came last says: %s", table, firstDifference(after[table], want[table]))
		}
	}
}

// present says that the parents of a row stand, so that it does not wait.
func present(histories []history, s sent) bool {
	stands := func(table, column string) bool {
		return slices.ContainsFunc(histories, func(h history) bool {
			return h[0].table == table && h[0].sender == s.sender && h[0].cells[column] == s.cells[column] && !h[len(h)-1].withdrawn
		})
	}
	switch s.table {
	case "episodes":
		return true
	case "bouts":
		return stands("sessions", "session_id") && slices.ContainsFunc(histories, func(h history) bool {
			return h[0].table == "episodes" && strings.HasPrefix(s.cells["session_id"], h[0].cells["episode_id"]) && !h[len(h)-1].withdrawn
		})
	default:
		return stands("episodes", "episode_id")
	}
}

// cleanRows lands the versions in a database in memory, builds it, and returns
// the rows of every clean table as text, without lineage, in order of the key.
func cleanRows(t *testing.T, versions []placed, batches int) map[string][]string {
	t.Helper()
	ctx := context.Background()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := errors.Join(conn.Close(), db.Close()); err != nil {
			t.Error(err)
		}
	}()
	if err := emptyStore(ctx, conn); err != nil {
		t.Fatal(err)
	}
	land(t, conn, "store", versions, batches)
	practice, err := settings.Parse([]byte(testSettings), "practice.toml")
	if err != nil {
		t.Fatal(err)
	}
	roots, err := rootTables(practice, batches, testDay)
	if err != nil {
		t.Fatal(err)
	}
	all, err := queries.All()
	if err != nil {
		t.Fatal(err)
	}
	var made []queries.Query
	for _, q := range all {
		if q.Schema == "landing" || q.Schema == "clean" {
			made = append(made, q)
		}
	}
	if err := makeOn(ctx, conn, roots, made); err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for _, q := range made {
		if q.Schema == "clean" && q.Name != "files" && q.Name != "deliveries" {
			out[q.Table()] = withoutLineage(t, conn, q)
		}
	}
	return out
}

func withoutLineage(t *testing.T, conn *sql.Conn, q queries.Query) []string {
	t.Helper()
	var columns []string
	for _, c := range q.Columns {
		if !strings.HasPrefix(c.Name, "_") {
			columns = append(columns, c.Name)
		}
	}
	out, err := collect(context.Background(), conn, func(rows *sql.Rows, text *string) error { return rows.Scan(text) },
		fmt.Sprintf("select row(%s)::varchar from %s order by %s", strings.Join(columns, ", "), q.Table(), strings.Join(q.Key, ", ")))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func firstDifference(got, want []string) string {
	for i := range min(len(got), len(want)) {
		if got[i] != want[i] {
			return fmt.Sprintf("row %d\n got %s\nwant %s", i, got[i], want[i])
		}
	}
	return fmt.Sprintf("%d rows, want %d", len(got), len(want))
}
