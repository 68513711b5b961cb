package intake

import (
	"fmt"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// sheetReader turns the records of one sheet into checked rows.
type sheetReader struct {
	sheet
	returned bool
	width    int
	checkers []*checker
	pass     *layout.Pass
	reject   []warehouse.Rejected // records that could not be read at all
	read     int                  // rows since the last chunk
	skipped  int
}

func newSheetReader(s sheet, by batchRules, sender string, returned bool) *sheetReader {
	r := &sheetReader{sheet: s, returned: returned, width: len(s.headings)}
	add := func(t export.Table, headings []string) {
		r.checkers = append(r.checkers, newChecker(newShape(t, headings, by, sender), by.received))
	}
	if s.mapping != nil {
		for _, t := range s.mapping.Tables {
			add(t, namesOf(t))
		}
	} else if t, ok := export.Find(s.table); ok {
		add(t, s.headings)
	}
	for _, c := range r.checkers {
		if c.trial >= 0 {
			c.twins = map[[16]byte]int{}
		}
	}
	return r
}

func (s *sheetReader) needsTwins() bool {
	for _, c := range s.checkers {
		if c.trial >= 0 {
			return true
		}
	}
	return false
}

// begin begins at the first record.
func (s *sheetReader) begin() {
	if s.mapping != nil {
		s.pass = s.mapping.Begin()
	}
}

// sent is a record as the sender wrote it: one that comes back from quarantine
// without what was put before and into it.
func (s *sheetReader) sent(rec source.Record) source.Record {
	if n := len(reasonHeadings); s.returned && rec.Fault == "" && len(rec.Cells) > n {
		rec.Cells = asSent(rec.Cells[n:])
	}
	return rec
}

// check puts a record among the rows or the rejected.
func (s *sheetReader) check(rec source.Record) {
	if s.returned {
		rec = s.sent(rec)
	}
	if s.pass == nil {
		s.checkers[0].check(rec)
		s.read++
		return
	}
	if reason, words := faultOf(rec, s.width); reason != "" {
		s.reject = append(s.reject, warehouse.Rejected{Line: rec.Line, Reasons: []string{reason}, Words: []string{words}, Cells: readable(rec.Cells)})
		s.read++
		return
	}
	rows := s.pass.Rows(rec.Cells)
	if len(rows) == 0 {
		s.skipped++
	}
	s.read += len(rows)
	for _, c := range s.checkers {
		c.keys = c.keys[:0]
	}
	for _, row := range rows {
		if s.returned {
			refuseNumbers(&row, s.mapping)
		}
		s.checkers[row.Table].checkMade(rec, row)
	}
}

// refuseNumbers turns away rows whose number is their place in the file, when
// they come back without the rest of it.
func refuseNumbers(row *layout.Row, m *layout.Mapping) {
	for _, column := range m.Numbered(row.Table) {
		name := m.Tables[row.Table].Columns[column].Name
		row.Faults = append(row.Faults, layout.Fault{Column: column, Name: name, Reason: "number_unknown", Words: fmt.Sprintf("%s is the row's place in its file; correct the file itself and send it whole", name)})
	}
}

// countTwins notes the keys of a record's rows.
func (s *sheetReader) countTwins(rec source.Record) {
	rec = s.sent(rec)
	if reason, _ := faultOf(rec, s.width); reason != "" {
		return
	}
	if s.pass == nil {
		if c := s.checkers[0]; c.trial >= 0 {
			c.countTwin(rec.Cells)
		}
		return
	}
	for _, row := range s.pass.Rows(rec.Cells) {
		if c := s.checkers[row.Table]; c.trial >= 0 {
			c.countTwin(row.Cells)
		}
	}
}

// take hands over what was checked since the last time.
func (s *sheetReader) take(err error) chunk {
	one := chunk{reject: s.reject, read: s.read, skipped: s.skipped, err: err}
	for _, c := range s.checkers {
		one.pages = append(one.pages, c.turn())
		one.reject = append(one.reject, c.reject...)
		c.reject = nil
	}
	s.reject, s.read, s.skipped = nil, 0, 0
	return one
}
