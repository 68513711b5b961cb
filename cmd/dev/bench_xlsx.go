package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	sheets "evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

var workbookBenches = []bench{
	{"intake-xlsx", "reading, and taking in, a workbook beside a workbook library's bare read of it", benchWorkbook},
}

// benchWorkbook reads a workbook of bouts with our reader, takes it in, and lets
// the library go through its rows in the same run.
func benchWorkbook(ctx context.Context, r *report) (err error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(intakeThreads))
	rows := r.rows / 50
	dir, err := boutsFolder(1, rows)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	inbox := filepath.Join(dir, "inbox", "tarn")
	book := filepath.Join(inbox, "bouts.xlsx")
	text := filepath.Join(inbox, "bouts000.csv")
	if err := errors.Join(toWorkbook(text, book), os.Remove(text)); err != nil {
		return err
	}
	var bareCells, ourCells int
	bare, err := timed(func() (err error) { bareCells, err = bareWorkbook(book); return err })
	if err != nil {
		return err
	}
	read, err := timed(func() (err error) { ourCells, err = readWorkbook(book); return err })
	if err != nil {
		return err
	}
	if bareCells != ourCells {
		return fmt.Errorf("we read %d cells, the library %d", ourCells, bareCells)
	}
	start := time.Now()
	counts, err := takeBouts(ctx, dir)
	if err != nil {
		return err
	}
	taken := time.Since(start)
	if want := (warehouse.Counts{Read: rows, Quarantined: rows / badEvery, Accepted: rows - rows/badEvery}); counts != want {
		return fmt.Errorf("taken in as %+v, want %+v", counts, want)
	}
	r.line(fmt.Sprintf("a workbook of %d rows", rows), true, fmt.Sprintf("read in %.2f s, taken in in %.2f s; bare read %.2f s", read.Seconds(), taken.Seconds(), bare.Seconds()))
	r.atMost("reading a workbook / bare read", read.Seconds()/bare.Seconds(), 1.3)
	r.atMost("intake of a workbook / bare read", taken.Seconds()/bare.Seconds(), 1.3)
	return nil
}

// toWorkbook writes a CSV file as a workbook: numbers as numbers, dates as
// dates.
func toWorkbook(from, to string) (err error) {
	file, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	book := excelize.NewFile()
	day, err := book.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		return err
	}
	sheet, err := book.NewStreamWriter("Sheet1")
	if err != nil {
		return err
	}
	rows := csv.NewReader(file)
	rows.ReuseRecord = true
	for n := 1; ; n++ {
		texts, err := rows.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		cells := make([]any, len(texts))
		for i, text := range texts {
			cells[i] = text
			if v, err := strconv.ParseFloat(text, 64); err == nil {
				cells[i] = v
			} else if date, err := time.Parse(time.DateOnly, text); err == nil {
				cells[i] = excelize.Cell{StyleID: day, Value: date.Unix()/86_400 + 25_569}
			}
		}
		if err := sheet.SetRow("A"+strconv.Itoa(n), cells); err != nil {
			return err
		}
	}
	return errors.Join(sheet.Flush(), book.SaveAs(to), book.Close())
}

func bareWorkbook(path string) (cells int, err error) {
	book, err := excelize.OpenFile(path, excelize.Options{RawCellValue: true})
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	rows, err := book.Rows("Sheet1")
	if err != nil {
		return 0, err
	}
	for rows.Next() {
		texts, err := rows.Columns()
		if err != nil {
			return 0, err
		}
		cells += len(texts)
	}
	return cells, errors.Join(rows.Error(), rows.Close())
}

func readWorkbook(path string) (cells int, err error) {
	in := sheets.Input{Open: func() (io.ReadCloser, error) { return os.Open(path) }, TempDir: filepath.Dir(path)}
	form, err := sheets.Detect(in, sheets.Wish{})
	if err != nil {
		return 0, err
	}
	file, err := sheets.Open(in, form)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	for _, sheet := range file.Sheets {
		headings, err := sheet.Headings()
		if err != nil {
			return 0, err
		}
		cells += len(headings)
		for {
			rec, ok, err := sheet.Next()
			if err != nil {
				return 0, err
			}
			if !ok {
				break
			}
			cells += len(rec.Cells)
		}
	}
	return cells, nil
}
