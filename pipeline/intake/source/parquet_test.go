package source

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/compress"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/schema"
)

// parquetOf writes columns in row groups of the size given. write fills one
// column of a group.
func parquetOf(tb testing.TB, columns schema.FieldList, groups int, write func(group, column int, w file.ColumnChunkWriter) error) []byte {
	tb.Helper()
	root, err := schema.NewGroupNode("schema", parquet.Repetitions.Required, columns, -1)
	if err != nil {
		tb.Fatal(err)
	}
	var b bytes.Buffer
	w := file.NewParquetWriter(&b, root, file.WithWriterProps(parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy))))
	for g := range groups {
		group, err := w.AppendRowGroupChecked()
		if err != nil {
			tb.Fatal(err)
		}
		for i := range group.NumColumns() {
			column, err := group.NextColumn()
			if err != nil {
				tb.Fatal(err)
			}
			if err := errors.Join(write(g, i, column), column.Close()); err != nil {
				tb.Fatal(err)
			}
		}
		if err := group.Close(); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func leaf(tb testing.TB, name string, optional bool, kind schema.LogicalType, physical parquet.Type, length int) schema.Node {
	tb.Helper()
	repetition := parquet.Repetitions.Required
	if optional {
		repetition = parquet.Repetitions.Optional
	}
	node, err := schema.NewPrimitiveNodeLogical(name, repetition, kind, physical, length, -1)
	if err != nil {
		tb.Fatal(err)
	}
	return node
}

// sessionsParquet is a file of rows with a key and a number that every third row
// lacks.
func sessionsParquet(tb testing.TB, rows, groups int) []byte {
	tb.Helper()
	columns := schema.FieldList{
		leaf(tb, "key", false, schema.StringLogicalType{}, parquet.Types.ByteArray, -1),
		leaf(tb, "value", true, schema.NoLogicalType{}, parquet.Types.Double, -1),
	}
	return parquetOf(tb, columns, groups, func(group, column int, w file.ColumnChunkWriter) error {
		var keys []parquet.ByteArray
		var values []float64
		var there []int16
		for i := range rows {
			n := group*rows + i
			keys = append(keys, parquet.ByteArray(fmt.Sprintf("e%d", n)))
			if there = append(there, 0); n%3 != 0 {
				values, there[i] = append(values, float64(n)/8), 1
			}
		}
		var err error
		if column == 0 {
			_, err = w.(*file.ByteArrayColumnChunkWriter).WriteBatch(keys, nil, nil)
		} else {
			_, err = w.(*file.Float64ColumnChunkWriter).WriteBatch(values, there, nil)
		}
		return err
	})
}

func TestParquet(t *testing.T) {
	form, rows, err := rowsOf(t, sessionsParquet(t, 2500, 3), Wish{})
	if err != nil || form.String() != "parquet" || len(rows) != 7501 || !reflect.DeepEqual(rows[0], []string{"key", "value"}) {
		t.Fatalf("%s, %d rows, %v", form, len(rows), err)
	}
	for i, row := range rows[1:] {
		want := []string{fmt.Sprintf("e%d", i), strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", float64(i)/8), "0"), ".")}
		if i%3 == 0 {
			want[1] = ""
		}
		if !reflect.DeepEqual(row, want) {
			t.Fatalf("row %d: %q, want %q", i+1, row, want)
		}
	}
}

func TestParquetColumnsThatAreNoColumns(t *testing.T) {
	text := leaf(t, "key", false, schema.StringLogicalType{}, parquet.Types.ByteArray, -1)
	list, err := schema.NewPrimitiveNode("marks\n", parquet.Repetitions.Repeated, parquet.Types.Int32, -1, -1)
	if err != nil {
		t.Fatal(err)
	}
	group, err := schema.NewGroupNode("person", parquet.Repetitions.Optional, schema.FieldList{text}, -1)
	if err != nil {
		t.Fatal(err)
	}
	many := make(schema.FieldList, MaxColumns+1)
	for i := range many {
		many[i] = leaf(t, fmt.Sprintf("c%d", i), false, schema.NoLogicalType{}, parquet.Types.Boolean, -1)
	}
	for _, c := range []struct {
		column schema.FieldList
		code   string
		names  string
	}{
		{schema.FieldList{text, list}, "nested_column", `"marks\n"`},
		{schema.FieldList{text, group}, "nested_column", `"person"`},
		{schema.FieldList{text, leaf(t, "span", false, schema.IntervalLogicalType{}, parquet.Types.FixedLenByteArray, 12)}, "unusable_column", `"span"`},
		{schema.FieldList{text, leaf(t, "raw", false, schema.NoLogicalType{}, parquet.Types.FixedLenByteArray, 5)}, "unusable_column", `"raw"`},
		{schema.FieldList{text, leaf(t, "tree", false, schema.JSONLogicalType{}, parquet.Types.ByteArray, -1)}, "unusable_column", `"tree"`},
		{many, "too_many_columns", "2001"},
	} {
		data := parquetOf(t, c.column, 0, nil)
		var refusal *Refusal
		if _, _, err := rowsOf(t, data, Wish{}); !errors.As(err, &refusal) || refusal.Code != c.code || !strings.Contains(refusal.Words, c.names) {
			t.Errorf("%v, want %s that names %s", err, c.code, c.names)
		}
	}
}

// Whatever is damaged, the file is refused or read; it never panics or hangs. A
// file cut short is always refused: what says where its columns are stands last.
func TestDamagedParquet(t *testing.T) {
	good := sessionsParquet(t, 40, 2)
	refused := 0
	for at := 0; at < len(good); at += 3 {
		bad := bytes.Clone(good)
		bad[at] ^= 1 << (at % 8)
		_, _, err := rowsOf(t, bad, Wish{})
		var refusal *Refusal
		if err != nil && !errors.As(err, &refusal) {
			t.Fatalf("byte %d: %v", at, err)
		}
		if err != nil {
			refused++
		}
		if at%7 == 0 {
			if _, _, err := rowsOf(t, append(good[:at:at], good[at+at%3:at+at%3]...), Wish{Format: Parquet}); !errors.As(err, &refusal) {
				t.Fatalf("cut at %d: %v", at, err)
			}
		}
	}
	if refused < len(good)/12 {
		t.Errorf("%d of %d flips refused", refused, len(good)/3)
	}
}
