// Package reference holds the code tables that every practice starts from:
// injury types, stages, exercises, measures and the shorter lists. Each table
// is a CSV file with a header row and a source for each row: a citation, or a
// default that the practice is expected to look at and set. Sites and named
// ways of treating are not here, because they are the practice's own.
//
// Patient-reported scores stand here by code, range and direction only.
package reference

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io/fs"
	"sync"
)

//go:embed *.csv
var files embed.FS

// Table is one code table. Every row has as many cells as there are columns;
// the first column is the code.
type Table struct {
	Name    string
	Columns []string
	Rows    [][]string
}

// Files returns the CSV files, one per table, named TABLE.csv.
func Files() fs.FS { return files }

// Tables returns every table in order of its name, rows in file order. The
// caller must not change them: they are read once and shared.
func Tables() []Table { return load() }

// Find returns the table of that name.
func Find(name string) (Table, bool) {
	for _, t := range load() {
		if t.Name == name {
			return t, true
		}
	}
	return Table{}, false
}

// Codes returns the codes of a table in file order, and nil for a table that
// is not there.
func Codes(table string) []string {
	t, ok := Find(table)
	if !ok {
		return nil
	}
	codes := make([]string, len(t.Rows))
	for i, row := range t.Rows {
		codes[i] = row[0]
	}
	return codes
}

// Label returns the words for a code, and the code itself where no table has it.
func Label(table, code string) string {
	if label, ok := Cell(table, code, "label"); ok {
		return label
	}
	return code
}

// Cell returns one cell of a table by code and column.
func Cell(table, code, column string) (string, bool) {
	t, ok := Find(table)
	if !ok {
		return "", false
	}
	at := t.column(column)
	if at < 0 {
		return "", false
	}
	for _, row := range t.Rows {
		if row[0] == code {
			return row[at], true
		}
	}
	return "", false
}

func (t Table) column(name string) int {
	for i, c := range t.Columns {
		if c == name {
			return i
		}
	}
	return -1
}

// Digest returns the SHA-256, in hex, over the names and bytes of all files in
// order of their names.
func Digest() string { return digest() }

var digest = sync.OnceValue(func() string {
	hash := sha256.New()
	for _, name := range names() {
		data := read(name)
		hash.Write(fmt.Appendf(nil, "%s %d\n", name, len(data)))
		hash.Write(data)
	}
	return hex.EncodeToString(hash.Sum(nil))
})

var load = sync.OnceValue(func() []Table {
	var tables []Table
	for _, name := range names() {
		rows, err := csv.NewReader(bytes.NewReader(read(name))).ReadAll()
		if err != nil || len(rows) == 0 {
			// The files are compiled in and tested: only a broken build gets here.
			panic(fmt.Sprintf("code table %s cannot be read: %v", name, err))
		}
		tables = append(tables, Table{Name: name[:len(name)-len(".csv")], Columns: rows[0], Rows: rows[1:]})
	}
	return tables
})

func names() []string {
	found, err := fs.Glob(files, "*.csv")
	if err != nil {
		panic(err) // only a malformed pattern can fail
	}
	return found
}

func read(name string) []byte {
	data, err := files.ReadFile(name)
	if err != nil {
		panic(err) // the name came from the embedded folder itself
	}
	return data
}
