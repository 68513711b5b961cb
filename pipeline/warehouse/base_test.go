package warehouse

import (
	"context"
	"database/sql"
	"sync"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// testBatch and testDay are the batch and its date in the base of the tests.
const testBatch = 9

var testDay = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)

// testSettings are the defaults for two sites.
const testSettings = `
[practice]
name = "Two sites"
code = "two"

[[sites]]
code = "north"
label = "North"
senders = ["north"]

[[sites]]
code = "south"
label = "South"
senders = ["south"]
`

// base is a warehouse built once, in memory, from an empty landing store that
// is still attached: every table is there, with its columns and no rows. Tests
// fill what they need in a transaction and roll it back.
var base = sync.OnceValues(func() (*sql.Conn, error) {
	ctx := context.Background()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return nil, err
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	if err := emptyStore(ctx, conn); err != nil {
		return nil, err
	}
	practice, err := settings.Parse([]byte(testSettings), "practice.toml")
	if err != nil {
		return nil, err
	}
	roots, err := rootTables(practice, testBatch, testDay)
	if err != nil {
		return nil, err
	}
	return conn, builder{conn: conn}.make(ctx, roots)
})

// emptyStore attaches an empty landing store in memory.
func emptyStore(ctx context.Context, conn *sql.Conn) error {
	statements := append([]string{"set threads = 2", "attach ':memory:' as store", "use store"}, landingTables...)
	for _, t := range export.Tables() {
		statements = append(statements, exportTableDDL(t))
	}
	return builder{conn: conn}.run(ctx, append(statements, "use memory")...)
}

func baseConn(t *testing.T) *sql.Conn {
	t.Helper()
	conn, err := base()
	if err != nil {
		t.Fatal(err)
	}
	return conn
}
