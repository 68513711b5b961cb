package warehouse

import (
	"database/sql"
	"database/sql/driver"
	"time"
)

// Counts are what became of the rows of a file. Read is the sum of the five
// after it.
type Counts struct {
	Read        int // rows that were made of the file, and records that nothing could be made of
	Accepted    int
	Duplicates  int
	Corrections int
	Withdrawals int
	Quarantined int

	// Counted apart: no row of the file says them.
	Skipped int // records that the layout passes over
	Gone    int // rows withdrawn because a complete delivery leaves them out
}

func (c Counts) holds() bool {
	return c.Read == c.Accepted+c.Duplicates+c.Corrections+c.Withdrawals+c.Quarantined
}

// Add adds the counts of another file.
func (c *Counts) Add(other Counts) {
	c.Read += other.Read
	c.Accepted += other.Accepted
	c.Duplicates += other.Duplicates
	c.Corrections += other.Corrections
	c.Withdrawals += other.Withdrawals
	c.Quarantined += other.Quarantined
	c.Skipped += other.Skipped
	c.Gone += other.Gone
}

// Row is one row of a file that passed its checks.
type Row struct {
	Line      int    // first physical line, from 1
	Key       string // see the table's landing column _key
	Content   [16]byte
	Withdrawn bool
	Cells     []driver.Value // one for each column of the table; nil where not recorded
}

// Rejected is one row that did not.
type Rejected struct {
	Line    int
	Reasons []string // codes such as reps:not-a-number
	Words   []string // the same for people
	Cells   []string // as they stood in the file

	// Which row it was: the table and the key as in Row. Empty where they could
	// not be read.
	Table string
	Key   string
}

// FileFinding is something odd about rows of one file that did not keep them
// out.
type FileFinding struct {
	Code  string
	Count int   // rows
	Lines []int // the first few
	Words string
}

// Problem says why a whole file could not be read; empty for one that could.
type Problem struct {
	Code  string // such as no_table_fits
	Words string // a sentence with the next step
}

// FileEnd is what is known of a file once all of it was read.
type FileEnd struct {
	Read     int // rows that the reader counted; must be the sum of what became of them
	Skipped  int // records that the layout passes over
	Headings []string
	Form     string // how the file was read, so that it is read the same way again
	Layout   string // path and version of the layout; empty for the canonical headings
	Table    string // of a file of which nothing is kept: the table that keeps it out, where one does
	Problem  Problem
	Findings []FileFinding
}

// DeliveriesTable is what stands for the export table of a file that states
// for which days a site's rows are complete.
const DeliveriesTable = "deliveries"

// Delivery states for which days a site's rows are complete.
type Delivery struct {
	Line         int
	Site         string
	CompleteFrom sql.NullTime
	CompleteTo   time.Time
}
