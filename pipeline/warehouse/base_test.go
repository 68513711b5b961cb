package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"sync"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/queries"
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
// stands beside it: every table is there, with its columns and no rows. Tests
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
	made, err := queries.All()
	if err != nil {
		return nil, err
	}
	if err := makeOn(ctx, conn, roots, made); err != nil {
		return nil, err
	}
	for _, q := range made {
		if !q.View { // a table that lists the sites has rows even now
			err = errors.Join(err, builder{conn: conn}.run(ctx, "delete from "+q.Table()))
		}
	}
	return conn, err
})

// makeOn makes the queries one after the other on one connection.
func makeOn(ctx context.Context, conn *sql.Conn, roots []rootTable, made []queries.Query) error {
	b := builder{conn: conn}
	err := b.prepare(ctx, roots)
	for _, q := range made {
		if err == nil {
			err = errors.Join(b.create(ctx, q), b.settle(ctx, q))
		}
	}
	return err
}

// emptyStore makes an empty landing store as a schema of its own, so that one
// transaction can fill it and the tables of other schemas. To the queries it
// looks like the store that a build attaches.
func emptyStore(ctx context.Context, conn *sql.Conn) error {
	statements := append([]string{"set threads = 2", "create schema store", "use memory.store"}, landingTables...)
	for _, t := range export.Tables() {
		statements = append(statements, exportTableDDL(t))
	}
	return builder{conn: conn}.run(ctx, append(statements, "use memory.main")...)
}

func baseConn(t *testing.T) *sql.Conn {
	t.Helper()
	conn, err := base()
	if err != nil {
		t.Fatal(err)
	}
	return conn
}
