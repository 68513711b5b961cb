package intake

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/parquet"
	pq "github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/schema"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// exportColumns are the headings of the good exports.
var exportColumns = []string{"measurement_id", "episode_id", "measured_on", "measure", "side", "value", "method"}

// sentFile is a good export, written in one of the formats.
type sentFile struct {
	data []byte
	// rows are where each row stands in data, the headings before the first; none
	// where a row cannot be damaged alone.
	rows [][2]int
}

// renderers write the same rows in every format.
var renderers = []struct {
	name   string
	render func(rows [][]string) (sentFile, error)
}{
	{"plain.csv", separated(",", "\n", "", nil)},
	{"mark.csv", separated(",", "\r\n", "\xef\xbb\xbf", nil)},
	{"semicolons.csv", separated(";", "\r\n", "", charmap.Windows1252)},
	{"wide.txt", separated("\t", "\r\n", "\ufeff", unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM))},
	{"packed.csv.gz", gzipped(separated(",", "\n", "", nil))},
	{"packed.csv.zst", zstdPacked(separated(";", "\n", "", nil))},
	{"lines.ndjson", jsonLines},
	{"table.parquet", parquetTable},
	{"book.xlsx", workbook},
}

type render = func(rows [][]string) (sentFile, error)

func separated(delimiter, lineEnd, mark string, e encoding.Encoding) render {
	return func(rows [][]string) (sentFile, error) {
		var out sentFile
		add := func(text string) error {
			from := len(out.data)
			if e != nil {
				var err error
				if text, err = e.NewEncoder().String(text); err != nil {
					return err
				}
			}
			out.data = append(out.data, text...)
			out.rows = append(out.rows, [2]int{from, len(out.data)})
			return nil
		}
		line := func(cells []string) string {
			quoted := make([]string, len(cells))
			for i, c := range cells {
				if quoted[i] = c; strings.ContainsAny(c, "\"\n"+delimiter) {
					quoted[i] = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
				}
			}
			return strings.Join(quoted, delimiter) + lineEnd
		}
		err := add(mark + line(exportColumns))
		for _, row := range rows {
			err = errors.Join(err, add(line(row)))
		}
		return out, err
	}
}

func gzipped(of render) render {
	return func(rows [][]string) (sentFile, error) {
		plain, err := of(rows)
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		_, err2 := w.Write(plain.data)
		err = errors.Join(err, err2, w.Close())
		return sentFile{data: b.Bytes()}, err
	}
}

func zstdPacked(of render) render {
	return func(rows [][]string) (sentFile, error) {
		plain, err := of(rows)
		w, err2 := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1))
		if err := errors.Join(err, err2); err != nil {
			return sentFile{}, err
		}
		return sentFile{data: w.EncodeAll(plain.data, nil)}, w.Close()
	}
}

func jsonLines(rows [][]string) (sentFile, error) {
	var out sentFile
	for _, row := range rows {
		from := len(out.data)
		out.data = append(out.data, '{')
		for i, cell := range row {
			if cell == "" {
				continue
			}
			text, err := json.Marshal(cell)
			if err != nil {
				return out, err
			}
			if _, err := strconv.ParseFloat(cell, 64); err == nil {
				text = []byte(cell)
			}
			out.data = fmt.Appendf(out.data, "%q: %s, ", exportColumns[i], text)
		}
		out.data = append(bytes.TrimSuffix(out.data, []byte(", ")), "}\n"...)
		out.rows = append(out.rows, [2]int{from, len(out.data)})
	}
	if len(out.rows) > 0 { // there is no line of headings
		out.rows = append([][2]int{{0, 0}}, out.rows...)
	}
	return out, nil
}

// parquetTable writes dates and values as such where all cells are, and text
// otherwise.
func parquetTable(rows [][]string) (sentFile, error) {
	days, values := make([]int32, len(rows)), make([]float64, len(rows))
	typed := [7]bool{2: true, 5: true}
	for i, row := range rows {
		day, err := time.Parse(time.DateOnly, row[2])
		days[i], typed[2] = int32(day.Unix()/86400), typed[2] && err == nil //nolint:gosec // a day of this century
		values[i], err = strconv.ParseFloat(row[5], 64)
		typed[5] = typed[5] && err == nil
	}
	var columns schema.FieldList
	for i, name := range exportColumns {
		kind, physical := schema.LogicalType(schema.StringLogicalType{}), parquet.Types.ByteArray
		switch {
		case i == 2 && typed[i]:
			kind, physical = schema.DateLogicalType{}, parquet.Types.Int32
		case i == 5 && typed[i]:
			kind, physical = schema.NoLogicalType{}, parquet.Types.Double
		}
		node, err := schema.NewPrimitiveNodeLogical(name, parquet.Repetitions.Required, kind, physical, -1, -1)
		if err != nil {
			return sentFile{}, err
		}
		columns = append(columns, node)
	}
	root, err := schema.NewGroupNode("rows", parquet.Repetitions.Required, columns, -1)
	if err != nil {
		return sentFile{}, err
	}
	var b bytes.Buffer
	w := pq.NewParquetWriter(&b, root)
	group, err := w.AppendRowGroupChecked()
	if err != nil {
		return sentFile{}, err
	}
	for i := range exportColumns {
		column, err := group.NextColumn()
		if err != nil {
			return sentFile{}, err
		}
		switch c := column.(type) {
		case *pq.Int32ColumnChunkWriter:
			_, err = c.WriteBatch(days, nil, nil)
		case *pq.Float64ColumnChunkWriter:
			_, err = c.WriteBatch(values, nil, nil)
		case *pq.ByteArrayColumnChunkWriter:
			texts := make([]parquet.ByteArray, len(rows))
			for n, row := range rows {
				texts[n] = parquet.ByteArray(row[i])
			}
			_, err = c.WriteBatch(texts, nil, nil)
		}
		if err := errors.Join(err, column.Close()); err != nil {
			return sentFile{}, err
		}
	}
	err = errors.Join(group.Close(), w.Close())
	return sentFile{data: b.Bytes()}, err
}

// workbook writes a title above the headings, and dates and numbers as such.
func workbook(rows [][]string) (sentFile, error) {
	var sheet strings.Builder
	text := func(at int, row int, cell string) {
		fmt.Fprintf(&sheet, `<c r="%c%d" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, 'B'+at, row, strings.NewReplacer("&", "&amp;", "<", "&lt;").Replace(cell))
	}
	sheet.WriteString(`<worksheet><sheetData><row r="1">`)
	text(0, 1, "Measurements")
	sheet.WriteString(`</row><row r="3">`)
	for i, h := range exportColumns {
		text(i, 3, h)
	}
	sheet.WriteString(`</row>`)
	for n, row := range rows {
		fmt.Fprintf(&sheet, `<row r="%d">`, n+4)
		for i, cell := range row {
			day, notDate := time.Parse(time.DateOnly, cell)
			_, notNumber := strconv.ParseFloat(cell, 64)
			switch {
			case cell == "":
			case notDate == nil:
				fmt.Fprintf(&sheet, `<c r="%c%d" s="1"><v>%d</v></c>`, 'B'+i, n+4, day.Unix()/86400+25569)
			case notNumber == nil:
				fmt.Fprintf(&sheet, `<c r="%c%d"><v>%s</v></c>`, 'B'+i, n+4, cell)
			default:
				text(i, n+4, cell)
			}
		}
		sheet.WriteString(`</row>`)
	}
	sheet.WriteString(`</sheetData></worksheet>`)
	made, err := workbookWith(map[string]string{"xl/sheet.xml": sheet.String()})
	return sentFile{data: made}, err
}

// workbookWith makes a workbook with parts of one's own.
func workbookWith(own map[string]string) ([]byte, error) {
	const relation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
	parts := map[string]string{
		"[Content_Types].xml":        `<Types/>`,
		"xl/workbook.xml":            `<workbook xmlns:r="x"><sheets><sheet name="Rows" sheetId="1" r:id="a"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="a" Type="` + relation + `worksheet" Target="sheet.xml"/><Relationship Id="b" Type="` + relation + `styles" Target="styles.xml"/></Relationships>`,
		"xl/styles.xml":              `<styleSheet><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>`,
		"xl/sheet.xml":               `<worksheet><sheetData/></worksheet>`,
	}
	maps.Copy(parts, own)
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(parts)) {
		out, err := w.Create(name)
		if err == nil {
			_, err = out.Write([]byte(parts[name]))
		}
		if err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}
