package dress

import (
	"bytes"
	"fmt"
	"strconv"
	"time"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/schema"

	"evenlimb/pipeline/export"
)

// columns is Parquet, as a data store would write it: every column of its own
// type, nothing where a cell is not recorded.
type columns struct {
	script  *script
	prefix  string
	layouts []layoutFile
	about   string
}

// Files writes one file for each table.
func (x *columns) Files(d Drop) ([]File, error) {
	var files []File
	for n, s := range d.Sheets {
		name := x.prefix + d.stem(s) + ".parquet"
		data, err := x.file(s, func(i int) { d.Note(n, i, name, i+1) })
		if err != nil {
			return nil, fmt.Errorf("write a made-up Parquet file: %w", err)
		}
		files = append(files, File{name, data})
	}
	return files, nil
}

func (x *columns) file(s Sheet, note func(i int)) ([]byte, error) {
	p := x.script.pen(s.Table)
	cells := make([][]string, len(p.heads)) // of each column
	for i, row := range s.Rows {
		r, err := parse(s.Table, row)
		if err != nil {
			return nil, err
		}
		note(i)
		for n, cell := range p.cells(i, r) {
			cells[n] = append(cells[n], cell)
		}
	}
	var nodes schema.FieldList
	for n, name := range p.heads {
		node, err := node(name, p.kind(n))
		if err != nil {
			return nil, err
		}
		nodes = append(nodes, node)
	}
	root, err := schema.NewGroupNode("rows", parquet.Repetitions.Required, nodes, -1)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := file.NewParquetWriter(&out, root, file.WithWriterProps(
		parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy), parquet.WithCreatedBy("a made-up data store"))))
	group, err := w.AppendRowGroupChecked()
	if err != nil {
		return nil, err
	}
	for n := range cells {
		column, err := group.NextColumn()
		if err != nil {
			return nil, err
		}
		if err := writeColumn(column, cells[n], p.kind(n)); err != nil {
			return nil, fmt.Errorf("%s: %w", p.heads[n], err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// node describes a column. Every cell of it may be missing.
func node(name string, kind export.Type) (schema.Node, error) {
	optional := parquet.Repetitions.Optional
	switch kind {
	case export.Integer:
		return schema.NewInt32Node(name, optional, -1), nil
	case export.Decimal:
		return schema.NewFloat64Node(name, optional, -1), nil
	case export.Boolean:
		return schema.NewBooleanNode(name, optional, -1), nil
	case export.Date:
		return schema.NewPrimitiveNodeLogical(name, optional, schema.DateLogicalType{}, parquet.Types.Int32, -1, -1)
	default:
		return schema.NewPrimitiveNodeLogical(name, optional, schema.StringLogicalType{}, parquet.Types.ByteArray, -1, -1)
	}
}

// writeColumn writes the cells of one column, an empty one as missing.
func writeColumn(w file.ColumnChunkWriter, cells []string, kind export.Type) (err error) {
	levels := make([]int16, len(cells)) // 1 where there is a value
	there := make([]string, 0, len(cells))
	for i, cell := range cells {
		if cell != "" {
			levels[i] = 1
			there = append(there, cell)
		}
	}
	switch w := w.(type) {
	case *file.Int32ColumnChunkWriter:
		read := whole
		if kind == export.Date {
			read = dayNumber
		}
		err = writeValues(there, levels, read, w.WriteBatch)
	case *file.Float64ColumnChunkWriter:
		err = writeValues(there, levels, func(cell string) (float64, error) { return strconv.ParseFloat(cell, 64) }, w.WriteBatch)
	case *file.BooleanColumnChunkWriter:
		err = writeValues(there, levels, strconv.ParseBool, w.WriteBatch)
	case *file.ByteArrayColumnChunkWriter:
		err = writeValues(there, levels, func(cell string) (parquet.ByteArray, error) { return parquet.ByteArray(cell), nil }, w.WriteBatch)
	}
	if err != nil {
		return err
	}
	return w.Close()
}

func writeValues[T any](cells []string, levels []int16, read func(string) (T, error), write func([]T, []int16, []int16) (int64, error)) error {
	values := make([]T, len(cells))
	for i, cell := range cells {
		var err error
		if values[i], err = read(cell); err != nil {
			return err
		}
	}
	_, err := write(values, levels, nil)
	return err
}

func whole(cell string) (int32, error) {
	v, err := strconv.ParseInt(cell, 10, 32)
	return int32(v), err
}

// dayNumber counts days from 1 January 1970.
func dayNumber(cell string) (int32, error) {
	day, err := time.Parse(time.DateOnly, cell)
	return int32(day.Unix() / (24 * 60 * 60)), err //nolint:gosec // the day of a date of these centuries
}

// kind is the type of the column that a heading stands for; text where it
// stands for several.
func (p *pen) kind(n int) export.Type {
	if len(p.parts[n]) > 1 {
		return export.Text
	}
	one := p.parts[n][0]
	if one.unit.size != 0 {
		return export.Decimal
	}
	return one.kind
}

// Holds says whether a typed column can hold a text.
func (x *columns) Holds(t export.Table, column, text string) bool {
	c, ok := t.Column(column)
	if !ok || text == "" {
		return true
	}
	var err error
	switch c.Type {
	case export.Integer:
		_, err = whole(text)
	case export.Decimal:
		_, err = strconv.ParseFloat(text, 64)
	case export.Date:
		_, err = dayNumber(text)
	case export.Boolean:
		_, err = strconv.ParseBool(text)
	default:
	}
	return err == nil
}

// Breaks is nothing: such a file has no rows that can be harmed.
func (*columns) Breaks(Harm) string { return "" }

// Layouts are the desk's layout files.
func (x *columns) Layouts(nights []string) []File { return layoutsOf(x.layouts, nights) }

// About says what the desk sends.
func (x *columns) About() string { return x.about }
