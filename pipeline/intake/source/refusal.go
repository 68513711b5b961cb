package source

import "fmt"

// Refusal says why a file as a whole is not taken in. Detect and Open return it
// as their error, and so do Headings and Next: some faults show only when the
// last byte is read.
type Refusal struct { //nolint:errname // it is the answer to a file, whatever carries it
	Code  string // such as gzip_cut_short
	Words string // one sentence with the next step
}

func (r *Refusal) Error() string { return r.Words }

func refuse(code, format string, args ...any) *Refusal {
	return &Refusal{code, fmt.Sprintf(format, args...)}
}

// ErrHeadings refuses a text whose first row is not a row at all.
var ErrHeadings = refuse("no_headings", "the first line is not a row of headings (a quote is open, or it is longer than any); send the file again with its headings in the first line")

var errNotText = refuse("not_text", "this is neither text nor a workbook nor Parquet; export it as comma-separated text in UTF-8 and send it again")
