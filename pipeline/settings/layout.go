package settings

import (
	"time"

	"evenlimb/pipeline/settings/notation"
)

// Layout says how the files of one sender stand for rows of the export tables.
// It is a file of the folder layouts/. This is a full example; every key not
// marked as required may be left out.
//
//	sender  = "harrow"        # required: the folder under inbox/ whose files it is for
//	version = "2"             # required: a name for this state of the file; lists of files show it
//	from    = 2026-02-01      # first day of receipt on which it holds; of two that fit, the later holds
//
//	[file]                    # how the file is written; what is left out is found out from the file
//	match       = ["visits*.csv", "old/*.csv"]  # names below the sender's folder, * for anything; default all
//	format      = "csv"       # csv, ndjson, parquet or xlsx
//	encoding    = "windows-1252"  # utf-8, utf-16le, utf-16be or windows-1252
//	delimiter   = "semicolon" # comma, semicolon, tab, bar or one sign
//	quote       = "none"      # ", ' or none
//	skip_rows   = 2           # rows above the headings
//	sheets      = ["Visits"]  # sheets of a workbook; default all
//
//	[cells]                   # how cells are written, where a column does not say otherwise
//	decimal   = ","           # "." or ","; default "."
//	thousands = "."           # what stands between groups of three digits; default nothing
//	missing   = ["n/a", "-", "999"]      # words that mean "not recorded", beside the empty cell
//	date      = ["day.month.year"]       # year, month, day, time in their order; year-month-day always counts
//	month_names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
//	two_digit_years_from = 1960          # two digits are a year of 1960 to 2059; without it they are refused
//	ignore    = ["Room", "Printed on"]   # headings that are known and not read
//	not_where = { "Case" = ["Total", ""] }  # rows that are passed over
//
//	[delivery]                # what the file says by what it leaves out
//	kind  = "complete"        # changes: only what it holds; complete: what it no longer holds is withdrawn
//	site  = "harrow"          # required for complete: the site whose rows it holds
//	from  = 2019-01-01        # first day of the rows it holds; default the beginning
//	to    = 2026-06-30        # last day; or
//	to_days_before_receipt = 1   # the day of receipt less so many days
//	speaks_for_all = true     # the range holds for all rows of the site, in every table; default false
//	brake_percent = 5         # more than this share of rows gone stops the night; default 5
//
//	[[table]]                 # one for each export table that is made of the file
//	name       = "sessions"   # required
//	sheets     = ["Visits"]   # sheets it is made of; default all
//	only_where = { "Kind" = ["visit", "phone"] }  # rows it is made of; default all
//	distinct   = true         # rows that come out the same several times count once
//
//	[table.columns.session_id]           # one for each column of the export table
//	made_from = ["episode_id", "visit"]  # columns and parts of this table, joined
//	join      = "/"
//
//	[table.columns.episode_id]
//	heading = ["Case", "Case no."]       # its spellings; case and blanks around do not count
//
//	[table.columns.session_date]
//	heading    = "Day of care"
//	days_after = "episode_start"         # whole days after a column or part, or after the episode's start_date
//
//	[table.columns.attendance]
//	heading = "Came"
//	codes   = { "Y" = "attended", "N" = "missed" }
//	empty   = "attended"                 # what stands for an empty cell
//
//	[table.columns.systolic_mmhg]
//	heading = "BP (kPa)"
//	split   = "/"                        # the cell holds several values
//	take    = 1                          # the first; or "list", "sum", "count", or "rows" for a row each
//	unit    = "kPa"                      # turned into the column's own unit
//	decimals = 0                         # rounded to so many, half away from zero; default with a unit 4
//
//	[table.columns.setting]
//	constant = "clinic"
//
//	[table.parts.visit]                  # a value for made_from, days_after and unit_from alone
//	heading = "Visit"
//
//	[[table]]
//	name = "bouts"
//	...
//	[table.columns.bout_no]
//	number_within = ["session_id"]       # 1, 2, 3 among the rows of the file with the same session_id
//
//	[[table]]
//	name = "measurements"
//	...
//	[[table.wide]]                       # wide to long: a row of the table for each filled cell
//	heading = "Thigh L (in)"
//	into    = "value"                    # the column that takes the cell; default value
//	set     = { measure = "girth_thigh_10", side = "left" }
//	unit    = "in"                       # and all keys that say how a cell is read
type Layout struct {
	Path     string // inside the practice folder
	Sender   string
	Version  string
	From     time.Time // zero: from the beginning
	File     LayoutFile
	Cells    LayoutCells
	Delivery LayoutDelivery
	Tables   []LayoutTable // as listed
}

// LayoutFile says how a file is written. What is empty is found out from it.
type LayoutFile struct {
	Match     []string // patterns of paths below the sender's folder; none: all
	Format    string
	Encoding  string
	Delimiter string
	Quote     string
	SkipRows  *int // nil: not said
	Sheets    []string
}

// LayoutCells says how the cells of a file are written.
type LayoutCells struct {
	Signs     notation.Signs
	Missing   []string
	Dates     []notation.DateFormat
	DateWords notation.DateWords
	Ignore    []string
	NotWhere  []Where
}

// Where names the cells of one heading.
type Where struct {
	Heading string
	Words   []string
}

// The kinds of delivery.
const (
	Changes  = "changes"
	Complete = "complete"
)

// LayoutDelivery says what a file means by what it leaves out.
type LayoutDelivery struct {
	Kind         string
	Site         string    // empty: it states nothing
	From         time.Time // zero: from the beginning
	To           time.Time // zero: see DaysBefore
	DaysBefore   *int      // days before the day of receipt that it reaches to; nil with To zero: no end
	SpeaksForAll bool      // it states up to which day the site's rows are complete
	BrakePercent int
}

// Reaches returns the last day of a delivery received on a day, and whether
// there is one.
func (d LayoutDelivery) Reaches(received time.Time) (time.Time, bool) {
	if d.DaysBefore != nil {
		return received.AddDate(0, 0, -*d.DaysBefore), true
	}
	return d.To, !d.To.IsZero()
}

// LayoutTable says how one export table is made of a file.
type LayoutTable struct {
	Name      string // of an export table
	Sheets    []string
	OnlyWhere []Where
	Distinct  bool
	Columns   []LayoutColumn // as listed
	Parts     []LayoutColumn
	Wide      []LayoutWide
}

// LayoutColumn says where the cells of a column come from: one of Heading,
// Constant, MadeFrom and NumberWithin is set.
type LayoutColumn struct {
	Name         string
	Heading      []string
	Constant     string
	MadeFrom     []string
	Join         string
	NumberWithin []string
	Cell         LayoutCell
}

// LayoutWide makes a row of each filled cell under a heading.
type LayoutWide struct {
	Heading []string
	Into    string
	Set     []LayoutConstant
	Cell    LayoutCell
}

// LayoutConstant is a cell that is the same in all rows.
type LayoutConstant struct{ Column, Text string }

// LayoutCell says how a cell is read, where that is not as for all cells.
type LayoutCell struct {
	Signs     notation.Signs // empty where not said
	Missing   []string
	Dates     []notation.DateFormat
	DaysAfter string // a column or part of the table, or EpisodeStart
	Codes     []LayoutCode
	Empty     string
	Unit      string // a name that notation knows
	UnitFrom  string // a column or part that names the unit of the row
	Decimals  *int
	Split     string
	Take      Take
}

// EpisodeStart is, as DaysAfter, the start_date of the episode of the row.
const EpisodeStart = "episode_start"

// LayoutCode is what one word in cells stands for.
type LayoutCode struct{ Word, Code string }

// Take says which of the values of a cell that is split are meant.
type Take struct {
	Part int // from 1; 0: see How
	How  string
}

// The ways of taking several values.
const (
	TakeList  = "list"  // all of them, in the notation of the column
	TakeSum   = "sum"   // their sum
	TakeCount = "count" // how many there are
	TakeRows  = "rows"  // a row for each
)
