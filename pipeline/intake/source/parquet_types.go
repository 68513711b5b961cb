package source

import (
	"encoding/binary"
	"encoding/hex"
	"math/big"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/schema"
)

// parquetColumn says how the values of a column become texts.
type parquetColumn struct {
	optional bool
	kind     schema.LogicalType
	physical parquet.Type
}

// parquetColumnOf looks whether a column can be a column of an export: plain values of
// a type that has a text.
func parquetColumnOf(node schema.Node) (parquetColumn, error) {
	name := quoteName(node.Name())
	leaf, plain := node.(*schema.PrimitiveNode)
	if !plain || node.RepetitionType() == parquet.Repetitions.Repeated {
		return parquetColumn{}, refuse("nested_column", "the column %s of the Parquet file holds lists or records; send plain values, one in a column", name)
	}
	c := parquetColumn{
		optional: node.RepetitionType() == parquet.Repetitions.Optional,
		kind:     node.LogicalType(), physical: leaf.PhysicalType(),
	}
	if !c.usable() {
		return parquetColumn{}, refuse("unusable_column", "the column %s of the Parquet file is of the type %s, which has no text; send it as text, number, date or true and false", name, c.kind)
	}
	return c, nil
}

func (c parquetColumn) usable() bool {
	_, decimal := c.kind.(schema.DecimalLogicalType)
	switch c.kind.(type) {
	case schema.StringLogicalType, schema.EnumLogicalType, schema.DateLogicalType, schema.TimeLogicalType, schema.TimestampLogicalType,
		schema.IntLogicalType, schema.DecimalLogicalType, schema.UUIDLogicalType, schema.NullLogicalType, schema.NoLogicalType, schema.UnknownLogicalType:
	default:
		return false
	}
	if d, ok := c.kind.(schema.DecimalLogicalType); ok && (d.Scale() < 0 || d.Scale() > 100) {
		return false
	}
	_, uuid := c.kind.(schema.UUIDLogicalType)
	return c.physical != parquet.Types.FixedLenByteArray || decimal || uuid
}

// reader returns what reads the next values of a column chunk as texts.
func (c parquetColumn) reader(chunk file.ColumnChunkReader) (func([]string) error, error) {
	switch r := chunk.(type) {
	case *file.BooleanColumnChunkReader:
		return texts(r, c.optional, strconv.FormatBool), nil
	case *file.Int32ColumnChunkReader:
		return texts(r, c.optional, func(v int32) string { return c.whole(int64(v), 32) }), nil
	case *file.Int64ColumnChunkReader:
		return texts(r, c.optional, func(v int64) string { return c.whole(v, 64) }), nil
	case *file.Int96ColumnChunkReader:
		return texts(r, c.optional, int96Text), nil
	case *file.Float32ColumnChunkReader:
		return texts(r, c.optional, func(v float32) string { return strconv.FormatFloat(float64(v), 'f', -1, 32) }), nil
	case *file.Float64ColumnChunkReader:
		return texts(r, c.optional, func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }), nil
	case *file.ByteArrayColumnChunkReader:
		return texts(r, c.optional, func(v parquet.ByteArray) string { return c.bytes(v) }), nil
	case *file.FixedLenByteArrayColumnChunkReader:
		return texts(r, c.optional, func(v parquet.FixedLenByteArray) string { return c.bytes(v) }), nil
	default:
		return nil, errShort
	}
}

// typedReader is a column chunk of the library.
type typedReader[T any] interface {
	ReadBatch(size int64, values []T, definitions, repetitions []int16) (total int64, read int, err error)
}

func texts[T any](r typedReader[T], optional bool, text func(T) string) func([]string) error {
	values, definitions := make([]T, parquetRows), make([]int16, parquetRows)
	return func(out []string) error {
		for len(out) > 0 {
			total, read, err := r.ReadBatch(int64(len(out)), values, definitions, nil)
			if err != nil {
				return err
			}
			if total <= 0 || total > int64(len(out)) {
				return errShort
			}
			next := 0
			for i := range out[:total] {
				if out[i] = ""; optional && definitions[i] == 0 {
					continue
				}
				if next == read {
					return errShort
				}
				out[i] = text(values[next])
				next++
			}
			out = out[total:]
		}
		return nil
	}
}

// whole is the text of a whole number, by what it stands for.
func (c parquetColumn) whole(v int64, width int) string {
	switch kind := c.kind.(type) {
	case schema.DateLogicalType:
		return time.Unix(v*daySeconds, 0).UTC().Format(time.DateOnly)
	case schema.TimestampLogicalType:
		return instantText(instant(v, kind.TimeUnit()), kind.IsAdjustedToUTC())
	case schema.TimeLogicalType:
		return instant(v, kind.TimeUnit()).Format("15:04:05.999999999")
	case schema.DecimalLogicalType:
		return decimalText(big.NewInt(v), int(kind.Scale()))
	case schema.IntLogicalType:
		if !kind.IsSigned() && width == 32 {
			return strconv.FormatUint(uint64(uint32(v)), 10) //nolint:gosec // the bits of an unsigned number
		}
		if !kind.IsSigned() {
			return strconv.FormatUint(uint64(v), 10) //nolint:gosec // as above
		}
	default:
	}
	return strconv.FormatInt(v, 10)
}

// bytes is the text of a row of bytes, by what it stands for. Without a type it
// is taken for text, as older programs write it.
func (c parquetColumn) bytes(v []byte) string {
	switch kind := c.kind.(type) {
	case schema.DecimalLogicalType:
		n := new(big.Int).SetBytes(v)
		if len(v) > 0 && v[0] >= 0x80 {
			n.Sub(n, new(big.Int).Lsh(big.NewInt(1), uint(8*len(v))))
		}
		return decimalText(n, int(kind.Scale()))
	case schema.UUIDLogicalType:
		if text := hex.EncodeToString(v); len(text) == 32 {
			return strings.Join([]string{text[:8], text[8:12], text[12:16], text[16:20], text[20:]}, "-")
		}
	default:
	}
	return string(v)
}

func instant(v int64, unit schema.TimeUnitType) time.Time {
	switch unit {
	case schema.TimeUnitMillis:
		return time.UnixMilli(v).UTC()
	case schema.TimeUnitMicros:
		return time.UnixMicro(v).UTC()
	default:
		return time.Unix(v/1_000_000_000, v%1_000_000_000).UTC()
	}
}

// instantText writes a date and time as ISO 8601 has it; a time that is of no
// zone and midnight is a date. An instant keeps its Z: which day it was depends
// on the place.
func instantText(t time.Time, zoned bool) string {
	if zoned {
		return t.Format("2006-01-02T15:04:05.999999999Z")
	}
	return isoText(t.Format("2006-01-02T15:04:05.999999999"))
}

// int96Text is the time that older programs write in 96 bits: nanoseconds of a
// day, and the Julian day.
func int96Text(v parquet.Int96) string {
	const unixDay = 2_440_588
	day := int64(binary.LittleEndian.Uint32(v[8:])) - unixDay
	nanos := int64(binary.LittleEndian.Uint64(v[:8])) //nolint:gosec // below 2^47 in any file that means something
	return instantText(time.Unix(day*daySeconds, 0).Add(time.Duration(nanos)).UTC(), false)
}

// decimalText writes a whole number with a point before its last digits, and
// without zeros at its end that say nothing.
func decimalText(n *big.Int, scale int) string {
	digits := new(big.Int).Abs(n).String()
	if scale > 0 {
		if short := scale + 1 - len(digits); short > 0 {
			digits = strings.Repeat("0", short) + digits
		}
		digits = strings.TrimRight(digits[:len(digits)-scale]+"."+digits[len(digits)-scale:], "0")
		digits = strings.TrimSuffix(digits, ".")
	}
	if n.Sign() < 0 {
		return "-" + digits
	}
	return digits
}
