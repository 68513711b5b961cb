package source

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// inputOf is a file of a test.
func inputOf(tb testing.TB, data []byte) Input {
	tb.Helper()
	return Input{Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }, TempDir: tb.TempDir()}
}

// inPlace is a file of a test that need not be unpacked to be read at any place.
type inPlace struct{ *bytes.Reader }

func (inPlace) Close() error { return nil }

// rowsOf detects a file's form and reads it.
func rowsOf(tb testing.TB, data []byte, wish Wish) (Form, [][]string, error) {
	tb.Helper()
	in := Input{Open: func() (io.ReadCloser, error) { return inPlace{bytes.NewReader(data)}, nil }}
	form, err := Detect(in, wish)
	if err != nil {
		return form, nil, err
	}
	back, err := ParseForm(form.String())
	if err != nil || back != form {
		tb.Fatalf("form %q reads back as %+v, %v", form, back, err)
	}
	f, err := Open(in, form)
	if err != nil {
		return form, nil, err
	}
	defer func() {
		if err := f.Close(); err != nil {
			tb.Error(err)
		}
	}()
	var rows [][]string
	for _, s := range f.Sheets {
		headings, err := s.Headings()
		if err != nil {
			return form, rows, err
		}
		rows = append(rows, headings)
		for {
			rec, ok, err := s.Next()
			if err != nil {
				return form, rows, err
			}
			if !ok {
				break
			}
			rows = append(rows, rec.Cells)
		}
	}
	return form, rows, nil
}

const semicolons = "key;größe;note\ne1;37,5;tape, resting\ne2;38;\n"

func TestDetectText(t *testing.T) {
	want := [][]string{{"key", "größe", "note"}, {"e1", "37,5", "tape, resting"}, {"e2", "38", ""}}
	cases := []struct {
		name, form string
		data       []byte
		wish       Wish
	}{
		{"commas", "csv, comma, utf-8", []byte("key,größe,note\ne1,\"37,5\",\"tape, resting\"\ne2,38,\n"), Wish{}},
		{"semicolons", "csv, semicolon, utf-8", []byte(semicolons), Wish{}},
		{"tabs", "csv, tab, utf-8", []byte(strings.ReplaceAll(semicolons, ";", "\t")), Wish{}},
		{"bars", "csv, bar, utf-8", []byte(strings.ReplaceAll(semicolons, ";", "|")), Wish{}},
		{"another letter, wished", "csv, delimiter U+00A6, utf-8", []byte(strings.ReplaceAll(semicolons, ";", "¦")), Wish{Delimiter: "¦"}},
		{"another letter, stated", "csv, delimiter U+007E, utf-8, skip 1", []byte("sep=~\r\n" + strings.ReplaceAll(semicolons, ";", "~")), Wish{}},
		{"byte order mark", "csv, semicolon, utf-8", append([]byte("\xef\xbb\xbf"), semicolons...), Wish{}},
		{"UTF-16 little end first", "csv, semicolon, utf-16le", encoded(t, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)), Wish{}},
		{"UTF-16 big end first", "csv, semicolon, utf-16be", encoded(t, unicode.UTF16(unicode.BigEndian, unicode.UseBOM)), Wish{}},
		{"UTF-16 without mark", "csv, semicolon, utf-16le", encoded(t, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)), Wish{}},
		{"Windows-1252", "csv, semicolon, windows-1252", encoded(t, charmap.Windows1252), Wish{}},
		{"gzip", "csv, semicolon, utf-8, gzip", gzipped(t, semicolons), Wish{}},
		{"zstd", "csv, semicolon, utf-8, zstd", zstdPacked(t, semicolons), Wish{}},
		{"single quotes", "csv, comma, utf-8, quote '", []byte("'key','größe','note'\n'e1','37,5','tape, resting'\n'e2','38',''\n"), Wish{}},
		{"title rows", "csv, semicolon, utf-8, skip 3", []byte("Sessions;;\nNorth, January;;\n\n" + semicolons), Wish{}},
		{"title rows of one cell", "csv, semicolon, utf-8, skip 2", []byte("Sessions\n\"North,\nJanuary\"\n" + semicolons)[9:], Wish{}},
		{"rows to skip, wished", "csv, semicolon, utf-8, skip 1", []byte("x;y;z\n" + semicolons), Wish{SkipRows: 1}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			form, got, err := rowsOf(t, c.data, c.wish)
			if err != nil || form.String() != c.form || !reflect.DeepEqual(got, want) {
				t.Errorf("form %q, rows %q, %v; want %q", form, got, err, c.form)
			}
		})
	}
}

// Commas in the one row of the sample must not turn its headings into a title.
func TestDetectOfTwoRows(t *testing.T) {
	form, rows, err := rowsOf(t, []byte("key;value;note\ne1;37;tape, resting\n"), Wish{})
	if err != nil || form.Delimiter != ";" || len(rows) != 2 {
		t.Errorf("%s, %q, %v", form, rows, err)
	}
}

func TestBackslashBeforeQuotes(t *testing.T) {
	form, got, err := rowsOf(t, []byte(`a,b`+"\n"+`1,"say \"x\", then \\"`+"\n"+`2,y`+"\n"), Wish{})
	want := [][]string{{"a", "b"}, {"1", `say "x", then \`}, {"2", "y"}}
	if err != nil || form.String() != "csv, comma, utf-8, backslash" || !reflect.DeepEqual(got, want) {
		t.Errorf("form %q, rows %q, %v", form, got, err)
	}
}

// One damaged byte must not change how the other rows are read.
func TestEncodingByMajority(t *testing.T) {
	rows := strings.Repeat("e1,ruhig, größer\n", 20_000)
	form, _, err := rowsOf(t, []byte("a,b,c\n"+"x\xffy,b,c\n"+rows), Wish{})
	if err != nil || form.Encoding != UTF8 {
		t.Errorf("%q, %v", form, err)
	}
	// Rubbish at the end is one line, however many bytes it has.
	form, _, err = rowsOf(t, []byte("a,b,c\ne1,ruhig,größer\ne2,ruhig,größer\n"+strings.Repeat("\xff", 500)), Wish{})
	if err != nil || form.Encoding != UTF8 {
		t.Errorf("%q, %v", form, err)
	}
	// Lines that are no text at all have no vote.
	form, _, err = rowsOf(t, []byte("a,b,c\ne1,ruhig,größer\n"+strings.Repeat("\xff\x01\n\xfe\x81\n", 5)), Wish{})
	if err != nil || form.Encoding != UTF8 {
		t.Errorf("%q, %v", form, err)
	}
	// The first letter that is not ASCII stands far behind the sample.
	late := strings.Repeat("e1,calm,3\n", 100_000) + "e1,gr\xf6\xdfer,3\n"
	form, got, err := rowsOf(t, []byte("a,b,c\n"+late), Wish{})
	if err != nil || form.Encoding != Windows1252 || got[len(got)-1][1] != "größer" {
		t.Errorf("%q, %q, %v", form, got[len(got)-1], err)
	}
}

func TestRefusedFiles(t *testing.T) {
	packed := gzipped(t, strings.Repeat("e1,2,3\n", 10_000))
	damaged := bytes.Clone(packed)
	damaged[len(damaged)/2] ^= 0x40
	zipped := zstdPacked(t, strings.Repeat("e1,2,3\n", 10_000))
	cases := []struct {
		name, code string
		data       []byte
		wish       Wish
	}{
		{"gzip without its end", "gzip_cut_short", packed[:len(packed)-20], Wish{}},
		{"gzip of a few bytes", "gzip_cut_short", packed[:5], Wish{}},
		{"damaged gzip", "gzip_damaged", damaged, Wish{}},
		{"zstd without its end", "zstd_cut_short", zipped[:len(zipped)-5], Wish{}},
		{"packed twice", "packed_twice", gzipped(t, string(packed)), Wish{}},
		{"a bomb", "unpacks_too_large", zstdPacked(t, strings.Repeat("0,0\n", 20<<20)), Wish{}},
		{"10,000 columns", "too_many_columns", []byte(strings.Repeat("a,", 9_999) + "a\n1,2\n"), Wish{}},
		{"NUL in the headings", "not_text", []byte("a\x00b,c\n" + strings.Repeat("1,2\n", 100)), Wish{}},
		{"NULs alone", "not_text", make([]byte, 1<<20), Wish{}},
		{"open quote in the headings", "no_headings", []byte("\"a,b\n1,2\n"), Wish{}},
		{"headings of 50 MB", "no_headings", bytes.Repeat([]byte("a"), 50<<20), Wish{}},
		{"carriage returns alone", "old_line_ends", []byte("a,b\r1,2\r"), Wish{}},
		{"an old workbook", "old_workbook", []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 and more"), Wish{}},
		{"a page that says it is a workbook", "markup", []byte("\n<html><table><tr><td>a"), Wish{}},
		{"another format than the layout says", "other_format", []byte("a,b\n1,2\n"), Wish{Format: XLSX}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, rows, err := rowsOf(t, c.data, c.wish)
			var refusal *Refusal
			if !errors.As(err, &refusal) || refusal.Code != c.code {
				t.Fatalf("%d rows, %v; want %s", len(rows), err, c.code)
			}
			if strings.ContainsAny(refusal.Words, "\n") || !strings.Contains(refusal.Words, "; ") {
				t.Errorf("%q is not one line with a next step", refusal.Words)
			}
		})
	}
}

// What a cell must not be costs its row alone.
func TestOddRows(t *testing.T) {
	long := strings.Repeat("x", 50<<20)
	in := inputOf(t, []byte("a,b\n1,2\n"+long+",3\n4,5\n"))
	f, err := Open(in, Form{})
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // nothing was unpacked
	if _, err := f.Sheets[0].Headings(); err != nil {
		t.Fatal(err)
	}
	var faults []string
	for {
		rec, ok, err := f.Sheets[0].Next()
		if err != nil {
			t.Fatal(err)
		}
		if !ok {
			break
		}
		faults = append(faults, rec.Fault)
	}
	if want := []string{"", FaultLong, ""}; !reflect.DeepEqual(faults, want) {
		t.Errorf("faults %q, want %q", faults, want)
	}
}

func TestForms(t *testing.T) {
	for _, text := range []string{"csv", "csv, comma", "csv, comma, utf-8, utf-8", "csv, comma, latin", "xlsx, sheets 1", "xlsx, sheets 2@1 1@1", "csv, ;, utf-8", "csv, comma, utf-8, skip x", "csv, comma, utf-8, skip -1", "pdf", "parquet, utf-8 "} {
		if f, err := ParseForm(text); err == nil {
			t.Errorf("%q reads as %+v", text, f)
		}
	}
	for _, text := range []string{"csv, comma, utf-8", "ndjson, utf-16be, zstd", "parquet", "xlsx, sheets 1@1 3@12, gzip"} {
		if f, err := ParseForm(text); err != nil || f.String() != text {
			t.Errorf("%q reads as %+v, %v", text, f, err)
		}
	}
	if f, err := ParseForm(""); err != nil || f != (Form{}).filled() {
		t.Errorf("empty text reads as %+v, %v", f, err)
	}
}

func TestPlace(t *testing.T) {
	for form, want := range map[Form]string{{Format: CSV}: "line 4000017", {}: "line 4000017", {Format: Parquet}: "row 4000017", {Format: XLSX}: "sheet 3, row 17"} {
		if got := form.Place(4_000_017); got != want {
			t.Errorf("%s: %q, want %q", form, got, want)
		}
	}
}

func encoded(t *testing.T, e encoding.Encoding) []byte {
	t.Helper()
	out, err := e.NewEncoder().Bytes([]byte(semicolons))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func gzipped(tb testing.TB, text string) []byte {
	tb.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	if _, err := w.Write([]byte(text)); err != nil {
		tb.Fatal(err)
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func zstdPacked(tb testing.TB, text string) []byte {
	tb.Helper()
	w, err := zstd.NewWriter(nil)
	if err != nil {
		tb.Fatal(err)
	}
	return w.EncodeAll([]byte(text), nil)
}
