package source

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/unicode"
)

// FuzzFile: whatever a file holds, it is read to its end or refused, twice the
// same way, and its lines go up.
func FuzzFile(f *testing.F) {
	for _, seed := range []string{
		"a,b\n1,2\n", "Title\n\na;b;c\n1;2,5;\"x\ny\"\n", "sep=|\na|b\n", "'a'\t'b'\n'1'\t'2'\n", "a,b\n\"\\\"1\\\"\",2\n", "{\"a\":1}\n{\"b\":null}\n", "[{\"a\":1}]", "a,\xe9\n\xc3\xa9,\xff\n", "\xff\xfea\x00,\x00", "<html>", "%PDF", "",
	} {
		f.Add([]byte(seed))
	}
	wide, err := unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder().String("a,b\né,2\n")
	if err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(wide))
	f.Add(gzipped(f, "a,b\n1,2\n"))
	f.Add(zstdPacked(f, "{\"a\":1}\n"))
	f.Add(sessionsParquet(f, 4, 2))
	f.Add(bookOf(f, twoHeadings+rowsUpTo(4), map[string]string{"xl/comments1.xml": "<text><t>x</t></text>"}))
	f.Fuzz(func(t *testing.T, data []byte) {
		form, rows, err := rowsOf(t, data, Wish{})
		var refusal *Refusal
		if err != nil && (!errors.As(err, &refusal) || refusal.Code == "" || strings.ContainsAny(refusal.Words, "\n\x00")) {
			t.Fatalf("%s: %v", form, err)
		}
		again, rowsAgain, errAgain := rowsOf(t, data, Wish{})
		if form != again || len(rows) != len(rowsAgain) || (err == nil) != (errAgain == nil) {
			t.Fatalf("%s, %d rows, %v; again %s, %d rows, %v", form, len(rows), err, again, len(rowsAgain), errAgain)
		}
		if err != nil {
			return
		}
		in := Input{Open: func() (io.ReadCloser, error) { return inPlace{bytes.NewReader(data)}, nil }}
		for _, open := range []func(Input, Form) (*File, error){Open, OpenAsides} {
			file, err := open(in, form)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range file.Sheets {
				linesGoUp(t, s)
			}
			if err := file.Close(); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func linesGoUp(t *testing.T, r Reader) {
	t.Helper()
	headings, err := r.Headings()
	if err != nil {
		return
	}
	for last := 0; ; {
		rec, ok, err := r.Next()
		if err != nil || !ok {
			return
		}
		if rec.Line <= last || (len(rec.Cells) == 0 && len(headings) > 0) || (rec.Fault != "" && (len(rec.Cells) != 1 || FaultWords(rec.Fault) == "")) {
			t.Fatalf("%+v after line %d", rec, last)
		}
		last = rec.Line
	}
}

// FuzzWorkbookNumber: a number of a workbook comes out as a number of the same
// 15 digits, a date, a time, or as it was.
func FuzzWorkbookNumber(f *testing.F) {
	for _, seed := range []string{"37.399999999999999", "0", "-0", "1e21", "60", "46112.5", "NaN", "-1E-7", "0x1p3", "1_0", "2958465.99999", "007"} {
		f.Add(seed, "yyyy-mm-dd")
		f.Add(seed, "[h]:mm")
		f.Add(seed, "0.00")
	}
	f.Fuzz(func(t *testing.T, text, format string) {
		kind := kindOfFormat(format)
		for _, e := range []epoch{epoch1900, epoch1904} {
			got := numberText(text, kind, e)
			if got == text {
				continue
			}
			date, clock, _ := strings.Cut(got, "T")
			v, err := strconv.ParseFloat(text, 64)
			switch {
			case err != nil:
				t.Fatalf("%q is no number, and came out as %q", text, got)
			case kind == plainNumber:
				back, err := strconv.ParseFloat(got, 64)
				if err != nil || math.Abs(back-v) > math.Abs(v)*1e-14 || len(got) > 400 {
					t.Fatalf("%q came out as %q", text, got)
				}
			case kind == dateNumber:
				_, err := time.Parse(time.DateOnly, date)
				if (err != nil && date != "1900-02-29") || (clock != "" && len(clock) != 8) {
					t.Fatalf("%q came out as %q", text, got)
				}
			case strings.Count(got, ":") != 2:
				t.Fatalf("%q came out as %q", text, got)
			}
		}
	})
}
