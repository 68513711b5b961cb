package dress

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"

	"evenlimb/pipeline/export"
)

// sessions are rows with something special in each: a line break, a missing
// cell, one taken back, harms.
func sessions(t *testing.T) Sheet {
	t.Helper()
	table, ok := export.Find("sessions")
	if !ok {
		t.Fatal("no sessions")
	}
	rows := [][]byte{
		[]byte("s1,e1,2025-03-31,attended,,clinic,true,c1,37.5,134,83,3,4,,6,true,false,false,"),
		[]byte("s2,e1,2025-04-02,missed,,,,,,,,,,,,,,,"),
		[]byte("s3,,,,,,,,,,,,,,,,,,,withdrawn"),
		[]byte("s4,e2,2025-04-03,attended,,home,false,\"c\n2\",20,,,0,10,1.5,2,false,,true,pain"),
	}
	return Sheet{Table: table, Rows: rows}
}

// noted are the lines at which the rows of a drop are said to stand.
func noted(t *testing.T, d Dress, sheets ...Sheet) (files map[string][]byte, at map[int]string) {
	t.Helper()
	at = map[int]string{}
	written, err := d.Files(Drop{Date: "2025-05-01", Sheets: sheets, Note: func(sheet, i int, file string, line int) {
		at[100*sheet+i] = fmt.Sprintf("%s %d", file, line)
	}})
	if err != nil {
		t.Fatal(err)
	}
	files = map[string][]byte{}
	for _, f := range written {
		files[f.Name] = f.Data
	}
	return files, at
}

func TestTextOfItsOwn(t *testing.T) {
	s := sessions(t)
	s.Rows = append(s.Rows, Spoil([]byte("s5,e2,2025-04-04,missed,,,,,,,,,,,,,,,"), Unclosed), Spoil([]byte("s6,e2,2025-04-04,missed,,,,,,,,,,,,,,,"), MoreCells))
	files, at := noted(t, millrace(), s)
	decoded, err := charmap.Windows1252.NewDecoder().Bytes(files["2025-05-01_sessions.csv"])
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(decoded), "\n")
	for i, begins := range []string{
		"s1;e1;31.03.2025;here;;clinic;y;c1;37,5;134;83;3;4;–;6;", "s2;e1;02.04.2025;not here;–;n/a;", "s3;", "s4;e2;03.04.2025;here;;home;n;\"c", "\"s5;e2;04.04.2025;", "s6;e2;04.04.2025;",
	} {
		var name string
		var line int
		if _, err := fmt.Sscanf(at[i], "%s %d", &name, &line); err != nil || !strings.HasPrefix(lines[line-1], begins) {
			t.Errorf("row %d is said to stand at %q; there stands %q, wanted %q", i, at[i], lines[line-1], begins)
		}
	}
	if !strings.HasSuffix(lines[3], ";taken back") || !strings.HasSuffix(lines[7], ";;") || !strings.Contains(lines[0], "Pain before (0–10)") {
		t.Errorf("%q", lines)
	}
	// The other heading comes with its night.
	for night, want := range map[int]string{renamedFrom - 1: "Load (kg)", renamedFrom: "Weight moved – kg"} {
		if got := millrace().(*text).heading("Load (kg)", night); got != want {
			t.Errorf("night %d: %q", night, got)
		}
	}
}

func TestObjects(t *testing.T) {
	files, at := noted(t, quarry(), sessions(t))
	r, err := gzip.NewReader(bytes.NewReader(files["2025-05-01_sessions.ndjson.gz"]))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	var first struct {
		SessionID   string  `json:"sessionId"`
		Minutes     float64 `json:"minutes"`
		Supervised  bool    `json:"supervised"`
		SystolicKpa float64 `json:"systolicKpa"`
	}
	if err := json.Unmarshal([]byte(lines[0]), &first); err != nil || first.SessionID != "s1" || first.Minutes != 37.5 || !first.Supervised || math.Round(first.SystolicKpa*kilopascal) != 134 {
		t.Errorf("%+v, %v", first, err)
	}
	if lines[2] != `{"sessionId":"s3","rowState":"withdrawn"}` || !strings.Contains(lines[3], `"c\n2"`) || at[3] != "2025-05-01_sessions.ndjson.gz 4" {
		t.Errorf("%q, row 3 at %q", lines, at[3])
	}
}

func TestColumns(t *testing.T) {
	s := sessions(t)
	files, at := noted(t, ropewalk(), s)
	r, err := file.NewParquetReader(bytes.NewReader(files["ropewalk_2025-05-01_sessions.parquet"]))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	column := func(name string) file.ColumnChunkReader {
		c, err := r.RowGroup(0).Column(r.MetaData().Schema.ColumnIndexByName(name))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	levels := make([]int16, 4)
	minutes, days, yes, ids := make([]float64, 4), make([]int32, 4), make([]bool, 4), make([]parquet.ByteArray, 4)
	if _, n, err := column("minutes").(*file.Float64ColumnChunkReader).ReadBatch(4, minutes, levels, nil); err != nil || n != 2 || minutes[1] != 20 || levels[1] != 0 || levels[3] != 1 {
		t.Errorf("minutes %v at %v, %v", minutes, levels, err)
	}
	if _, _, err := column("session_date").(*file.Int32ColumnChunkReader).ReadBatch(4, days, levels, nil); err != nil || days[0] != 20178 {
		t.Errorf("dates %v, %v", days, err)
	}
	if _, _, err := column("stopped_early").(*file.BooleanColumnChunkReader).ReadBatch(4, yes, levels, nil); err != nil || yes[0] || !yes[1] {
		t.Errorf("stopped early %v, %v", yes, err)
	}
	if _, _, err := column("session_id").(*file.ByteArrayColumnChunkReader).ReadBatch(4, ids, levels, nil); err != nil || string(ids[3]) != "s4" || at[3] != "ropewalk_2025-05-01_sessions.parquet 4" {
		t.Errorf("keys %s, row 3 at %q, %v", ids, at[3], err)
	}
	d := ropewalk()
	for text, want := range map[string]bool{"forty": false, "40": true, "": true} {
		if d.Holds(s.Table, "minutes", text) != want {
			t.Errorf("minutes hold %q: %t", text, !want)
		}
	}
	if d.Holds(s.Table, "session_date", "2024-02-30") || !d.Holds(s.Table, "attendance", "came") {
		t.Error("the types of columns hold something else")
	}
}

func TestWorkbook(t *testing.T) {
	table, _ := export.Find("followups")
	calls := Sheet{Table: table, Rows: [][]byte{[]byte("e1,2025-04-01,phone,true,,"), []byte("e2,2025-04-02,phone,false,,")}}
	files, at := noted(t, orchard(), sessions(t), calls)
	book, err := excelize.OpenReader(bytes.NewReader(files["2025-05-01.xlsx"]))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	}()
	raw := excelize.Options{RawCellValue: true}
	for cell, want := range map[string]string{"A1": "Orchard Rise: Sessions", "A4": "Session", "C5": "45747", "I5": "37.5", "A8": "s4"} {
		if got, err := book.GetCellValue("Sessions", cell, raw); err != nil || got != want {
			t.Errorf("%s is %q, wanted %q, %v", cell, got, want, err)
		}
	}
	if got, err := book.GetCellValue("Follow-ups", "A6"); err != nil || got != "e2" || at[101] != "2025-05-01.xlsx 2000006" || at[3] != "2025-05-01.xlsx 8" {
		t.Errorf("%q, %v; rows at %q and %q", got, err, at[101], at[3])
	}
	merged, err := book.GetMergeCells("Sessions")
	if err != nil || len(merged) != 2 {
		t.Errorf("merged %v, %v", merged, err)
	}
}

// A number now and then is text, as where people have typed over a cell.
func TestSomeNumbersOfAWorkbookAreText(t *testing.T) {
	s := sessions(t)
	s.Rows = slices.Repeat(s.Rows[:1], 200)
	files, _ := noted(t, orchard(), s)
	book, err := excelize.OpenReader(bytes.NewReader(files["2025-05-01.xlsx"]))
	if err != nil {
		t.Fatal(err)
	}
	text := 0
	for row := headingRow + 1; row <= headingRow+200; row++ {
		kind, err := book.GetCellType("Sessions", "I"+strconv.Itoa(row))
		if err != nil {
			t.Fatal(err)
		}
		if kind == excelize.CellTypeInlineString || kind == excelize.CellTypeSharedString {
			text++
		}
	}
	if text != 200/textEvery {
		t.Errorf("%d of 200 numbers are text", text)
	}
	if err := book.Close(); err != nil {
		t.Error(err)
	}
}

func TestVisitsStandWide(t *testing.T) {
	table, _ := export.Find("measurements")
	files, at := noted(t, saltmarsh(), Sheet{Table: table, Rows: [][]byte{
		[]byte("m1,e1,2025-04-01,girth_calf,left,36.5,cm,1,tape,,c1"),
		[]byte("m2,e1,2025-04-01,girth_calf,right,35.9,cm,1,tape,,c1"),
		[]byte("m3,e1,2025-04-01,body_mass,none,80,kg,1,,,c1"),
		[]byte("m4,e1,2025-04-01,girth_calf,left,36.6,cm,1,tape,,c1"),
	}})
	lines := strings.Split(string(files["saltmarsh_2025-05-01_assessments.csv"]), "\r\n")
	if len(lines) != 5 || !strings.HasPrefix(lines[1], "e1,2025-04-01,c1,tape,14.37,14.13,") || !strings.Contains(lines[2], ",176.4,") || !strings.HasPrefix(lines[3], "e1,2025-04-01,c1,tape,14.4,,") {
		t.Errorf("%q", lines)
	}
	if at[0] != at[1] || at[1] != "saltmarsh_2025-05-01_assessments.csv 2" || at[3] != "saltmarsh_2025-05-01_assessments.csv 4" {
		t.Errorf("rows at %v", at)
	}
}

// What a unit writes comes back to the number, rounded to its decimals.
func TestUnitsComeBack(t *testing.T) {
	for _, u := range []unit{{inch, 1}, {pound, 1}, {poundForce, 1}, {kilopascal, 0}, {fraction, 0}} {
		step := math.Pow10(-u.decimals)
		for i := range 3000 {
			number := strconv.FormatFloat(float64(i)*step, 'f', u.decimals, 64)
			text := u.write(number)
			v, err := strconv.ParseFloat(text, 64)
			if back := strconv.FormatFloat(v*u.size, 'f', u.decimals, 64); err != nil || back != number || len(text) > len(number)+3 {
				t.Fatalf("%s in units of %g is written %s, which is %s", number, u.size, text, back)
			}
		}
	}
	if got := (unit{inch, 1}).write("wide"); got != "wide" {
		t.Errorf("a word becomes %q", got)
	}
}

func TestTheSameBytesTwice(t *testing.T) {
	for _, d := range []Dress{Canonical{}, millrace(), orchard(), quarry(), saltmarsh(), ropewalk()} {
		first, _ := noted(t, d, sessions(t))
		second, _ := noted(t, d, sessions(t))
		for name, data := range first {
			if !bytes.Equal(data, second[name]) {
				t.Errorf("%s has other bytes the second time", name)
			}
		}
	}
}
