package intake

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/guard"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// TryInput is a file that is to be tried.
type TryInput struct {
	File     source.Input
	Sender   string
	Below    string // its path below the sender's folder
	Practice *settings.Practice
	Layouts  []*settings.Layout
	Now      time.Time // when it would be received
	Show     int       // rows of each table to show
}

// Trial is what would become of a file. It says nothing of what is in the store:
// a row that would be kept may be there already.
type Trial struct {
	Form    string            // how the file is read
	Layout  string            // path and version; empty for canonical headings
	Problem warehouse.Problem // why nothing of it would be taken in; empty when it would
	Tables  []TrialTable
	Skipped int           // records that the layout passes over
	Broken  []TrialReason // of records that are no rows at all
}

// TrialTable is what would become of the rows of one table of one sheet.
type TrialTable struct {
	Sheet    string
	Table    string
	Kept     int
	Rejected int
	Reasons  []TrialReason
	Findings []warehouse.FileFinding
	Columns  []string // those that any of the rows shown fills
	Rows     [][]string

	rows []warehouse.Row // those shown
}

// TrialReason is a reason for which rows would be kept out.
type TrialReason struct {
	Code  string
	Words string // of the first such row
	Count int
	First string // where that row stands, such as "line 17"
}

// Try reads a file as a night would, and changes nothing.
func Try(ctx context.Context, in TryInput) (t Trial, err error) {
	r := &run{in: Input{Now: in.Now}, practice: in.Practice, layouts: in.Layouts}
	by := batchRules{practice: in.Practice, layouts: in.Layouts, received: r.today()}
	at := dropped{sender: in.Sender, path: in.Sender + "/" + in.Below}
	g := guard.New(r.guardRules(in.Sender))
	err = r.feed(ctx, g, in.File, at)
	if suspicion := g.Verdict(); suspicion != nil {
		return Trial{Problem: warehouse.Problem{Code: "identity", Words: suspicion.Words(in.Sender)}}, nil
	}
	if problem, ok := refusalOf(err); ok || err != nil {
		return Trial{Problem: problem}, unless(ok, err)
	}
	f, problem, err := recognise(in.File, warehouse.Planned{Sender: in.Sender, Path: at.path}, by)
	if err != nil || problem.Code != "" {
		return Trial{Form: f.text(), Problem: problem}, err
	}
	t = Trial{Form: f.text(), Layout: f.name()}
	var trials []*sheetTrial
	for _, s := range f.sheets {
		trials = append(trials, newSheetTrial(newSheetReader(s, by, in.Sender, f.returned), f.Form, in.Show))
	}
	if slices.ContainsFunc(trials, func(s *sheetTrial) bool { return s.needsTwins() }) {
		err = readSheets(ctx, in.File, f.Form, trials, func(s *sheetTrial, rec source.Record) { s.countTwins(rec) })
	}
	if err == nil {
		err = readSheets(ctx, in.File, f.Form, trials, (*sheetTrial).try)
	}
	t.Problem, _ = refusalOf(err)
	if t.Problem.Code != "" || err != nil {
		return t, unless(t.Problem.Code != "", err)
	}
	for _, s := range trials {
		s.fold()
		for n, c := range s.checkers {
			s.tables[n].Findings = append(s.tables[n].Findings, c.findings()...)
		}
		if len(s.tables) > 0 {
			s.tables[0].Findings = append(s.tables[0].Findings, s.unread()...)
		}
		t.Tables, t.Skipped, t.Broken = append(t.Tables, s.tables...), t.Skipped+s.passedOver, append(t.Broken, s.broken...)
	}
	return t, nil
}

func unless(ok bool, err error) error {
	if ok {
		return nil
	}
	return err
}

func refusalOf(err error) (warehouse.Problem, bool) {
	var refused *source.Refusal
	if !errors.As(err, &refused) {
		return warehouse.Problem{}, false
	}
	return warehouse.Problem{Code: refused.Code, Words: refused.Words}, true
}

// sheetTrial is a sheet that is being tried.
type sheetTrial struct {
	*sheetReader
	form       source.Form
	show       int
	tables     []TrialTable // by checker
	broken     []TrialReason
	passedOver int
}

func newSheetTrial(s *sheetReader, form source.Form, show int) *sheetTrial {
	t := &sheetTrial{sheetReader: s, form: form, show: show}
	for _, c := range s.checkers {
		t.tables = append(t.tables, TrialTable{Sheet: s.name, Table: c.table.Name})
	}
	return t
}

// readSheets hands every record of the sheets that hold rows of tables to do.
func readSheets(ctx context.Context, in source.Input, form source.Form, trials []*sheetTrial, do func(*sheetTrial, source.Record)) (err error) {
	file, err := source.Open(in, form)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	for i, s := range trials {
		if _, err := file.Sheets[i].Headings(); err != nil {
			return err
		}
		if len(s.checkers) == 0 {
			continue
		}
		s.begin()
		if err := each(ctx, file.Sheets[i], func(rec source.Record) { do(s, rec) }); err != nil {
			return err
		}
	}
	return nil
}

func (s *sheetTrial) try(rec source.Record) {
	if s.check(rec); s.read >= chunkRows {
		s.fold()
	}
}

// fold counts the rows that were checked since the last time and lets them go.
func (s *sheetTrial) fold() {
	s.passedOver += s.skipped
	for n, c := range s.checkers {
		t := &s.tables[n]
		t.Kept, t.Rejected = t.Kept+len(c.rows), t.Rejected+len(c.reject)
		t.Reasons = addReasons(t.Reasons, c.reject, s.form)
		if more := min(s.show-len(t.rows), len(c.rows)); more > 0 {
			t.rows = append(t.rows, c.rows[:more]...)
			t.Columns, t.Rows = firstRows(c.table, t.rows)
		}
	}
	s.broken = addReasons(s.broken, s.reject, s.form)
	s.take(nil)
}

func addReasons(list []TrialReason, rows []warehouse.Rejected, form source.Form) []TrialReason {
	for _, r := range rows {
		for i, code := range r.Reasons {
			at := slices.IndexFunc(list, func(one TrialReason) bool { return one.Code == code })
			if at < 0 {
				at = len(list)
				list = append(list, TrialReason{Code: code, Words: r.Words[i], First: form.Place(r.Line)})
			}
			list[at].Count++
		}
	}
	return list
}

// firstRows writes rows out in the columns that any of them fills.
func firstRows(t export.Table, rows []warehouse.Row) (columns []string, texts [][]string) {
	var filled []int
	for i, c := range t.Columns {
		if slices.ContainsFunc(rows, func(r warehouse.Row) bool { return r.Cells[i] != nil }) {
			filled, columns = append(filled, i), append(columns, c.Name)
		}
	}
	for _, r := range rows {
		var cells []string
		for _, i := range filled {
			cells = append(cells, textOf(r.Cells[i]))
		}
		texts = append(texts, cells)
	}
	return columns, texts
}

// textOf writes a value as an export file has it.
func textOf(v driver.Value) string {
	switch v := v.(type) {
	case nil:
		return ""
	case time.Time:
		return v.Format(time.DateOnly)
	case int64:
		return number(v)
	case int32:
		return strconv.Itoa(int(v))
	default:
		return fmt.Sprint(v)
	}
}

// Rejected is how many rows would not be kept.
func (t Trial) Rejected() int {
	n := 0
	for _, one := range t.Tables {
		n += one.Rejected
	}
	for _, r := range t.Broken {
		n += r.Count
	}
	return n
}
