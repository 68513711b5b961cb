package source

import (
	"errors"
	"io"
	"strings"

	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
)

// parquetReader reads a Parquet file row by row: a stretch of each column at a
// time, row group after row group. Lines are numbers of rows, from 1.
type parquetReader struct {
	src     *randomFile
	file    *file.Reader
	columns []parquetColumn
	read    []func([]string) error // of the row group, by column

	group int        // row groups opened
	left  int64      // rows of the group that are not in batch yet
	batch [][]string // texts by column
	rows  int        // in batch
	at    int        // the next of them
	line  int
}

const (
	parquetRows     = 1024     // read at a time
	maxParquetPage  = 64 << 20 // bytes of a page, unpacked
	brokenParquet   = "parquet_broken"
	maxParquetGroup = 1 << 40 // rows; what a damaged file says of itself
)

func (f *File) openParquet(in Input, form Form) error {
	src, err := f.randomAccess(in, form.Compression)
	if err != nil {
		return err
	}
	r := &parquetReader{src: src}
	f.Sheets = []Sheet{{Ordinal: 1, Reader: r}}
	return nil
}

// Headings returns the names of the columns.
func (r *parquetReader) Headings() (headings []string, err error) {
	defer r.mend(&err)
	properties := parquet.NewReaderProperties(memory.DefaultAllocator)
	properties.BufferedStreamEnabled = true
	properties.MaxCompressedPageSize, properties.MaxUncompressedPageSize = maxParquetPage, maxParquetPage
	r.file, err = file.NewParquetReader(io.NewSectionReader(r.src, 0, r.src.size), file.WithReadProps(properties))
	if err != nil {
		return nil, err
	}
	root := r.file.MetaData().Schema.Root()
	if root.NumFields() > MaxColumns {
		return nil, checkHeadings(make([]string, root.NumFields()))
	}
	for i := range root.NumFields() {
		column, err := parquetColumnOf(root.Field(i))
		if err != nil {
			return nil, err
		}
		r.columns = append(r.columns, column)
		headings = append(headings, root.Field(i).Name())
		r.batch = append(r.batch, make([]string, parquetRows))
	}
	return headings, checkHeadings(headings)
}

func (r *parquetReader) Next() (rec Record, ok bool, err error) {
	if r.at == r.rows {
		if more, err := r.fill(); err != nil || !more {
			return Record{}, false, err
		}
	}
	r.line++
	rec = Record{Line: r.line, Cells: make([]string, len(r.columns))}
	size := 0
	for i := range r.columns {
		rec.Cells[i] = r.batch[i][r.at]
		size += len(rec.Cells[i])
	}
	r.at++
	if size > MaxRow {
		rec.Cells, rec.Fault = []string{cutTo(strings.Join(rec.Cells, ","), keptBytes) + "..."}, FaultLong
	}
	return rec, true, nil
}

// fill reads the next stretch of every column.
func (r *parquetReader) fill() (more bool, err error) {
	defer r.mend(&err)
	for r.left == 0 {
		if r.group == r.file.NumRowGroups() || len(r.columns) == 0 {
			return false, nil
		}
		if err := r.openGroup(); err != nil {
			return false, err
		}
	}
	r.at, r.rows = 0, int(min(r.left, parquetRows))
	r.left -= int64(r.rows)
	for i, read := range r.read {
		if err := read(r.batch[i][:r.rows]); err != nil {
			r.rows = 0
			return false, err
		}
	}
	return true, nil
}

func (r *parquetReader) openGroup() error {
	group := r.file.RowGroup(r.group)
	r.group++
	if r.left = group.NumRows(); r.left < 0 || r.left > maxParquetGroup || group.NumColumns() != len(r.columns) {
		return errShort
	}
	r.read = r.read[:0]
	for i, column := range r.columns {
		chunk, err := group.Column(i)
		if err != nil {
			return err
		}
		read, err := column.reader(chunk)
		if err != nil {
			return err
		}
		r.read = append(r.read, read)
	}
	return nil
}

// errShort says that a column has not as many rows as the file says.
var errShort = errors.New("a column ends early")

// mend turns what goes wrong inside the library, which panics at some damaged
// files, into a refusal of the file.
func (r *parquetReader) mend(err *error) {
	panicked := recover()
	refusal := (*Refusal)(nil)
	switch {
	case r.src.err != nil:
		*err = r.src.err
	case panicked != nil || (*err != nil && !errors.As(*err, &refusal)):
		*err = refuse(brokenParquet, "the Parquet file is damaged and cannot be read; write it anew and send it again")
	}
}
