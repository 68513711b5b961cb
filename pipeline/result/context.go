package result

import "time"

// Context is what a report says around its figures: names, dates and file
// counts. It holds no count of persons; those are figures.
type Context struct {
	Practice     string    // the practice's name
	Month        time.Time // first day of the month reported
	PeriodFrom   time.Time
	PeriodTo     time.Time
	AsOfBatch    int
	ReceivedOn   time.Time // label of the batch: the date it was received
	Program      string    // program version
	SettingsHash string
	MadeUp       bool // the practice is a made-up one; every page says so

	Sites       []Site
	InjuryTypes []Label
	Stages      []Label
	Files       []FileCount

	// KeepsActivity are the codes of the injury types whose people mostly keep up
	// their activity, so that pain and scores lead and not the return to it.
	KeepsActivity []string

	// Settings are the practice's settings that the figures depend on, as key
	// ("return.hold_days") and value in force ("14"), in the order printed.
	Settings []Setting
}

// Setting is one setting in force.
type Setting struct {
	Key   string
	Value string
}

// Label is a code with the words that stand for it in a report.
type Label struct {
	Code  string
	Label string
}

// Site is a site of the practice with the date its data reach to.
type Site struct {
	Code        string
	Label       string
	DataThrough time.Time // zero: nothing was ever received from it
	Silent      bool      // its data reach less far than the settings expect
}

// FileCount is the reconciliation of all files of one sender:
// Read = Accepted + Duplicates + Corrections + Withdrawals + Quarantined.
type FileCount struct {
	Sender      string
	Files       int
	Read        int
	Accepted    int
	Duplicates  int
	Corrections int
	Withdrawals int
	Quarantined int
	Waiting     int // accepted, but the row they belong to has not arrived

	// Counted apart: no row of a file says them.
	Skipped int // records that a layout passes over
	Gone    int // rows withdrawn because a complete delivery leaves them out

	MonthOnly int // episodes of whose start the month alone was sent

	Forms []FileForm // in which the files were read, by name
}

// FileForm is a form of files, as the store names it ("csv, semicolon,
// windows-1252, gzip"), without the places of sheets.
type FileForm struct {
	Form  string // empty: could not be told
	Files int
}
