package intake

// record is one row of a file as it was sent.
type record struct {
	line  int      // first physical line, from 1
	cells []string // without their quotes; the whole text in one cell when fault is set
	fault string   // why the row could not be taken apart: a reason code, or empty
}

// reader is a source of records, one for each format. The headings are read
// before the first record, so that a table can be recognised from them.
//
// The line numbers are those a person sees in a text editor: blank lines and
// line breaks inside quotes count.
type reader interface {
	// headings returns the cells of the first row that is not blank, and no
	// cells when there is none.
	headings() ([]string, error)
	// next returns the next row; ok is false at the end.
	next() (r record, ok bool, err error)
}
