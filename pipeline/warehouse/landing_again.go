package warehouse

import (
	"context"
	"database/sql"
	"fmt"
)

// again is what a file that is read once more must know. What it says counts
// from today, but only where no file sent later has said something else: its
// place among the files stays that of its first reading.
type again struct {
	of         int         // file of the first reading; 0 for a file that is new
	firsts     map[int]int // files of the sender: the file of the first reading of each
	superseded FileFinding
}

// keptLines is how many lines a finding names.
const keptLines = 20

// readOrigins finds the first reading of a file that is read again.
func (f *FileLoad) readOrigins(ctx context.Context) error {
	if f.planned.Mode != Again {
		return nil
	}
	if err := f.writeEnds(); err != nil {
		return err
	}
	const first = "select coalesce(min(file), 0) from files where sender = ? and path = ? and sha256 = ? and again_of is null"
	if err := f.store().QueryRowContext(ctx, first, f.planned.Sender, f.planned.Path, f.planned.SHA256).Scan(&f.again.of); err != nil {
		return err
	}
	if f.again.of == 0 {
		return fmt.Errorf("it is to be read again but was never read")
	}
	type pair struct{ file, first int }
	list, err := collect(ctx, f.store(), func(rows *sql.Rows, p *pair) error { return rows.Scan(&p.file, &p.first) },
		"select file, coalesce(again_of, file) from files where sender = ?", f.planned.Sender)
	f.again.firsts = map[int]int{f.file: f.again.of}
	for _, p := range list {
		f.again.firsts[p.file] = p.first
	}
	return err
}

// superseded says whether the version in force was sent after the file that is
// read again, and notes the line that it passes over.
func (f *FileLoad) superseded(inForce version, line int) bool {
	if f.again.of == 0 || f.again.firsts[inForce.file] <= f.again.of {
		return false
	}
	s := &f.again.superseded
	s.Code, s.Words = "superseded", "a file sent later says something about the row; that holds"
	s.note(line)
	return true
}

func (f *FileFinding) note(line int) {
	f.Count++
	if len(f.Lines) < keptLines {
		f.Lines = append(f.Lines, line)
	}
}

// withdrawUnsaid withdraws what the file said when it was read before and does
// not say any more, as when a layout makes its keys in another way.
func (f *FileLoad) withdrawUnsaid(ctx context.Context) error {
	if f.again.of == 0 {
		return nil
	}
	for _, t := range exportTables {
		if f.unsaidCannotBeTold(t.Name) {
			continue
		}
		standing := `select _key, _hash, _file, true as earlier, ` + keyList(t, "") + `, _action
			from ` + t.Name + ` where _sender = ?
			qualify row_number() over (partition by _key order by _file desc, _line desc, rowid desc) = 1`
		query := "select * exclude (_file, _action) from (" + standing + ") where _action <> 'withdrawal' and _file in (select file from files where coalesce(again_of, file) = ?)"
		if _, err := f.withdraw(ctx, t, noBrake, query, f.planned.Sender, f.again.of); err != nil {
			return err
		}
	}
	return nil
}
