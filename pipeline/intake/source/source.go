// Package source reads the rows of a file as it was sent, one reader for each
// format. It knows nothing of tables: what a cell means is decided above it.
package source

// Record is one row of a file as it was sent.
type Record struct {
	Line  int      // first physical line, from 1
	Cells []string // without their quotes; the whole text in one cell when Fault is set
	Fault string   // why the row could not be taken apart: a reason code, or empty
}

// Reader is a source of records. The headings are read before the first
// record, so that a table can be recognised from them.
//
// The line numbers are those a person sees in a text editor: blank lines and
// line breaks inside quotes count.
type Reader interface {
	// Headings returns the cells of the first row that is not blank, and no
	// cells when there is none.
	Headings() ([]string, error)
	// Next returns the next row; ok is false at the end.
	Next() (r Record, ok bool, err error)
}
