package warehouse

import (
	"context"
	"database/sql"
	"fmt"
)

// FileRecord is a file taken in, with what became of its rows.
type FileRecord struct {
	File  int
	Batch int
	Planned
	Table    string // the export tables, joined by commas, or DeliveriesTable; empty where it could not be read
	Headings []string
	Form     string // see FileEnd; empty where it could not be told
	Layout   string
	AgainOf  int // file of the first reading of a file that was read again; else 0
	Counts   Counts
	Problem  Problem
}

// Files returns the files of all batches up to one, in the order in which they
// were taken in.
func (l *Landing) Files(ctx context.Context, batch int) ([]FileRecord, error) {
	const query = `select file, batch, sender, path, sha256, bytes, coalesce(table_name, ''), headings, rows_read, accepted, duplicates,
		corrections, withdrawals, quarantined, coalesce(problem_code, ''), coalesce(problem, ''), coalesce(form, ''), coalesce(layout, ''), skipped, gone, coalesce(again_of, 0) from files where batch <= ? order by file`
	files, err := collect(ctx, l.db, func(rows *sql.Rows, f *FileRecord) error {
		var headings []any
		c := &f.Counts
		err := rows.Scan(&f.File, &f.Batch, &f.Sender, &f.Path, &f.SHA256, &f.Bytes, &f.Table, &headings, &c.Read, &c.Accepted, &c.Duplicates,
			&c.Corrections, &c.Withdrawals, &c.Quarantined, &f.Problem.Code, &f.Problem.Words,
			&f.Form, &f.Layout, &c.Skipped, &c.Gone, &f.AgainOf)
		f.Headings = texts(headings)
		return err
	}, query, batch)
	if err != nil {
		return nil, fmt.Errorf("read the files taken in: %w", err)
	}
	return files, nil
}

// Quarantine returns the rejected rows of one file, in order of their lines.
func (l *Landing) Quarantine(ctx context.Context, file int) ([]Rejected, error) {
	const query = "select line, reasons, words, cells from quarantine where file = ? order by line"
	list, err := collect(ctx, l.db, func(rows *sql.Rows, r *Rejected) error {
		var reasons, words, cells []any
		err := rows.Scan(&r.Line, &reasons, &words, &cells)
		r.Reasons, r.Words, r.Cells = texts(reasons), texts(words), texts(cells)
		return err
	}, query, file)
	if err != nil {
		return nil, fmt.Errorf("read the quarantine of file %d: %w", file, err)
	}
	return list, nil
}

// FileFindings returns what was odd about the rows of one file.
func (l *Landing) FileFindings(ctx context.Context, file int) ([]FileFinding, error) {
	const query = "select code, row_count, lines, words from file_findings where file = ? order by code, words"
	list, err := collect(ctx, l.db, func(rows *sql.Rows, f *FileFinding) error {
		var lines []any
		err := rows.Scan(&f.Code, &f.Count, &lines, &f.Words)
		for _, n := range lines {
			if line, ok := n.(int32); ok {
				f.Lines = append(f.Lines, int(line))
			}
		}
		return err
	}, query, file)
	if err != nil {
		return nil, fmt.Errorf("read the findings of file %d: %w", file, err)
	}
	return list, nil
}

// texts turns a list of the database into texts.
func texts(list []any) []string {
	out := make([]string, 0, len(list))
	for _, v := range list {
		if s, ok := v.(string); ok {
			out = append(out, s)
		}
	}
	return out
}
