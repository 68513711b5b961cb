// Package queries holds every SQL file of the warehouse and reads the header
// that each carries. Folder is schema, file name is table: the file
// derived/contacts.sql makes derived.contacts. A file named _name.sql is a
// view of its layer, for a long table told in steps.
//
// The header is a contract. Its words are read here; that they are true is
// proved by a test of package warehouse against the engine's own parser.
package queries

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
)

//go:embed landing/*.sql clean/*.sql derived/*.sql published/*.sql checks/*.sql
var files embed.FS

// Layers are the schemas that queries make, in the order in which one may read
// another: a layer reads itself and what stands left of it.
var Layers = []string{"landing", "clean", "derived", "published", "checks"}

// Roots are the schemas that exist before the first query: the landing store,
// which only the landing layer reads, the code tables and the settings.
var Roots = []string{"store", "seeds", "settings"}

// Query is one file: one select that makes one table or view.
type Query struct {
	File     string // such as derived/contacts.sql
	Schema   string
	Name     string
	View     bool     // a step told apart, made as a view
	Reads    []string // schema.table, in the order of the header
	Grain    string   // what one row is
	Key      []string // the columns that identify a row
	Severity string   // of a check's findings: note or attention; empty elsewhere
	About    string
	Columns  []Column
	SQL      string // the select, without the header
}

// Column is one column as the header states it.
type Column struct {
	Name  string
	Type  string // DuckDB type, lower case
	About string
}

// Table returns the name of what the query makes, schema first.
func (q Query) Table() string { return q.Schema + "." + q.Name }

// All returns every query in the order in which they can be made.
func All() ([]Query, error) { return all() }

var all = sync.OnceValues(func() ([]Query, error) {
	paths, err := list(files)
	if err != nil {
		return nil, err
	}
	parsed := make([]Query, 0, len(paths))
	for _, path := range paths {
		text, err := fs.ReadFile(files, path)
		if err != nil {
			return nil, fmt.Errorf("queries/%s: %w", path, err)
		}
		q, err := Parse(path, string(text))
		if err != nil {
			return nil, err
		}
		parsed = append(parsed, q)
	}
	return Order(parsed)
})

// Find returns the query that makes the table of that name, schema first.
func Find(table string) (Query, bool) {
	parsed, err := All()
	if err != nil {
		return Query{}, false
	}
	i := slices.IndexFunc(parsed, func(q Query) bool { return q.Table() == table })
	if i < 0 {
		return Query{}, false
	}
	return parsed[i], true
}

// Digest returns the SHA-256, in hex, over the names and bytes of all files in
// order of their names.
func Digest() string { return digest() }

var digest = sync.OnceValue(func() string {
	paths, err := list(files)
	if err != nil {
		panic(err) // the folder is compiled in
	}
	hash := sha256.New()
	for _, path := range paths {
		text, err := fs.ReadFile(files, path)
		if err != nil {
			panic(err) // the name came from the embedded folder itself
		}
		fmt.Fprintf(hash, "%s %d\n", path, len(text))
		hash.Write(text)
	}
	return hex.EncodeToString(hash.Sum(nil))
})

func list(from fs.FS) ([]string, error) {
	var paths []string
	err := fs.WalkDir(from, ".", func(path string, entry fs.DirEntry, err error) error {
		if err == nil && !entry.IsDir() && strings.HasSuffix(path, ".sql") {
			paths = append(paths, path)
		}
		return err
	})
	slices.Sort(paths)
	return paths, err
}
