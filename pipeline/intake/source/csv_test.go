package source

import (
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
)

// readAll returns all rows, headings first.
func readAll(tb testing.TB, r Reader) []Record {
	tb.Helper()
	headings, err := r.Headings()
	if refusal := (*Refusal)(nil); errors.As(err, &refusal) {
		return nil
	}
	if err != nil {
		tb.Fatal(err)
	}
	all := []Record{{Cells: headings}}
	for {
		rec, ok, err := r.Next()
		if err != nil {
			tb.Fatal(err)
		}
		if !ok {
			return all
		}
		all = append(all, rec)
	}
}

func TestCSV(t *testing.T) {
	long := strings.Repeat("x", MaxRow+1)
	cases := []struct {
		name, text string
		want       []Record
	}{
		{"plain", "a,b\n1,2\n3,4\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1", "2"}, ""}, {3, []string{"3", "4"}, ""}}},
		{"no line feed at the end", "a\n1", []Record{{0, []string{"a"}, ""}, {2, []string{"1"}, ""}}},
		{"carriage returns", "a,b\r\n1,2\r\n\r\n\"3\",4\r\n5,\"6\"\r\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1", "2"}, ""}, {4, []string{"3", "4"}, ""}, {5, []string{"5", "6"}, ""}}},
		{"carriage return at the very end", "a,b\r\n\"1\",2\r", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1", "2"}, ""}}},
		{"byte order mark and blank lines", "\xef\xbb\xbf\n\na\n\n1\n\n\n2\n", []Record{{0, []string{"a"}, ""}, {5, []string{"1"}, ""}, {8, []string{"2"}, ""}}},
		{"line breaks in quotes count", "a,b\n\"1\n2\n3\",4\n5,\"6\r\n7\"\n8,9\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1\n2\n3", "4"}, ""}, {5, []string{"5", "6\n7"}, ""}, {7, []string{"8", "9"}, ""}}},
		{"quotes, doubled and around commas", "a,b\n\"1,\"\"2\"\"\",\"\"\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1,\"2\"", ""}, ""}}},
		{"empty cells", "a,b,c\n,,\n\"\",,\n", []Record{{0, []string{"a", "b", "c"}, ""}, {2, []string{"", "", ""}, ""}, {3, []string{"", "", ""}, ""}}},
		{"quoted heading", "\"a\",b\n1,2\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1", "2"}, ""}}},
		{"open quote costs one row", "a,b\n1,\"2\n3,4\n5,6\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1,\"2"}, FaultQuotes}, {3, []string{"3", "4"}, ""}, {4, []string{"5", "6"}, ""}}},
		{"open quote before quoted cells", "a,b\n1,\"2\n3,\"4\"\n5,6\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"1,\"2"}, FaultQuotes}, {3, []string{"3", "4"}, ""}, {4, []string{"5", "6"}, ""}}},
		{"quote inside a bare cell", "a,b\n5\",2\n3,4\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"5\",2"}, FaultQuotes}, {3, []string{"3", "4"}, ""}}},
		{"text behind a closing quote", "a,b\n\"1\"x,2\n3,4\n", []Record{{0, []string{"a", "b"}, ""}, {2, []string{"\"1\"x,2"}, FaultQuotes}, {3, []string{"3", "4"}, ""}}},
		{"too long", "a\n" + long + "\n1\n", []Record{{0, []string{"a"}, ""}, {2, []string{long[:200] + "..."}, FaultLong}, {3, []string{"1"}, ""}}},
		{"too long at the end", "a\n" + long, []Record{{0, []string{"a"}, ""}, {2, []string{long[:200] + "..."}, FaultLong}}},
		{"longest that fits", "a\n" + long[1:] + "\n1\n", []Record{{0, []string{"a"}, ""}, {2, []string{long[1:]}, ""}, {3, []string{"1"}, ""}}},
		{"nothing", "", []Record{{}}},
		{"blank lines alone", "\n\r\n\n", []Record{{}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for how, src := range map[string]io.Reader{"at once": strings.NewReader(c.text), "byte by byte": iotest.OneByteReader(strings.NewReader(c.text))} {
				if got := readAll(t, NewCSV(src)); !reflect.DeepEqual(got, c.want) {
					t.Errorf("%s: got %+v, want %+v", how, got, c.want)
				}
			}
		})
	}
}

func TestCSVManyBuffers(t *testing.T) {
	var b strings.Builder
	b.WriteString("a,b\n")
	const rows = 60_000
	for range rows {
		b.WriteString("0123456789,\"text, with a comma\nand a line break\"\n")
	}
	got := readAll(t, NewCSV(strings.NewReader(b.String())))
	if len(got) != rows+1 {
		t.Fatalf("%d rows, want %d", len(got)-1, rows)
	}
	for i, rec := range got[1:] {
		if rec.Line != 2+2*i || rec.Fault != "" || len(rec.Cells) != 2 || rec.Cells[1] != "text, with a comma\nand a line break" {
			t.Fatalf("row %d: %+v", i, rec)
		}
	}
}

func TestCSVPassesOnReadErrors(t *testing.T) {
	broken := errors.New("disk gone")
	r := NewCSV(io.MultiReader(strings.NewReader("a\n1\n"), iotest.ErrReader(broken)))
	if _, err := r.Headings(); !errors.Is(err, broken) {
		t.Errorf("got %v, want the error of the source", err)
	}
}

// FuzzCSV holds the reader against encoding/csv on what that accepts, and
// against its own rules on the rest: every line is read once, none invented.
func FuzzCSV(f *testing.F) {
	delimiters := []rune{',', ';', '\t', '¦'}
	for _, seed := range []string{
		"a,b\n1,2\n", "a\r\n\"1\r\n2\"\r\n", "\xef\xbb\xbfa,\"b\"\n", "a,b\n1,\"2\n3,4\n", "\"\"\n\"\"\"\"\n", "a\n\n\r\n\r\r\n", "\",\n\"\n,", "a\n\"1\"\r",
	} {
		for i, d := range delimiters {
			f.Add([]byte(strings.ReplaceAll(seed, ",", string(d))), byte(i))
		}
	}
	f.Fuzz(func(t *testing.T, text []byte, which byte) {
		delimiter := delimiters[int(which)%len(delimiters)]
		got := readAll(t, newCSV(strings.NewReader(string(text)), Form{Delimiter: string(delimiter)}.filled()))
		if got == nil {
			return
		}
		last := 0
		for _, rec := range got {
			if rec.Line < last || rec.Line > strings.Count(string(text), "\n")+1 {
				t.Fatalf("line %d after %d", rec.Line, last)
			}
			last = rec.Line
		}
		body := strings.TrimPrefix(string(text), "\xef\xbb\xbf")
		std := csv.NewReader(strings.NewReader(body))
		std.FieldsPerRecord, std.Comma = -1, delimiter
		var want [][]string
		var lines []int
		for {
			cells, err := std.Read()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil || len(body) > MaxRow {
				return
			}
			line, _ := std.FieldPos(0)
			want, lines = append(want, cells), append(lines, line)
		}
		if len(want) == 0 {
			return
		}
		if len(got) != len(want) {
			t.Fatalf("%d rows, encoding/csv reads %d", len(got), len(want))
		}
		for i := range want {
			if !reflect.DeepEqual(got[i].Cells, want[i]) || (i > 0 && got[i].Line != lines[i]) {
				t.Fatalf("row %d: %q at %d, encoding/csv reads %q at %d", i, got[i].Cells, got[i].Line, want[i], lines[i])
			}
		}
	})
}
