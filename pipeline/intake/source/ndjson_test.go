package source

import (
	"errors"
	"reflect"
	"strings"
	"testing"
)

func TestNDJSON(t *testing.T) {
	text := "\xef\xbb\xbf" + `{"key":"e1","value":37.50,"done":true,"note":null}
  {"note": "a \"b\" \u00e9\n", "key": "e2" , "value":-1.5e3}

{"key":"e3","later":"é"}
` + strings.Repeat("{}\n", headingRows)
	form, rows, err := rowsOf(t, []byte(text), Wish{})
	if err != nil || form.String() != "ndjson, utf-8" {
		t.Fatalf("%s, %v", form, err)
	}
	want := [][]string{{"key", "value", "done", "note", "later"}, {"e1", "37.50", "true", "", ""}, {"e2", "-1.5e3", "", "a \"b\" é\n", ""}, {"e3", "", "", "", "é"}, {"", "", "", "", ""}}
	if !reflect.DeepEqual(rows[:5], want) {
		t.Errorf("got %q, want %q", rows[:5], want)
	}
}

func TestNDJSONFaults(t *testing.T) {
	cases := []struct{ line, fault string }{
		{`{"key":"e1"}`, ""},
		{`{"key":"e1"`, FaultJSON},
		{`{"key":"e1"} {"key":"e2"}`, FaultJSON},
		{`{'key':'e1'}`, FaultJSON},
		{`{"key":01}`, FaultJSON},
		{`{"key":NaN}`, FaultJSON},
		{`{"key":"e1",}`, FaultJSON},
		{`["e1"]`, FaultJSON},
		{`"e1"`, FaultJSON},
		{strings.Repeat("[", 60_000), FaultJSON},
		{strings.Repeat(`{"key":`, 8_000) + "1" + strings.Repeat("}", 8_000), FaultNested},
		{strings.Repeat(`{"key":`, 9_000) + "1", FaultJSON},
		{`{"key":{"a":1}}`, FaultNested},
		{`{"key":[1]}`, FaultNested},
		{`{"key":"e1","key":"e2"}`, FaultTwice},
		{`{"key":"e1","k\u0065y":"e2"}`, FaultTwice},
		{`{"key":"\ud83d"}`, FaultBytes},
		{`{"other":1}`, FaultUnknown},
		{`{"key":"` + strings.Repeat("x", MaxRow) + `"}`, FaultLong},
	}
	var text strings.Builder
	text.WriteString(strings.Repeat(`{"key":"e0"}`+"\n", headingRows))
	for _, c := range cases {
		text.WriteString(c.line + "\n")
	}
	r := newNDJSON(strings.NewReader(text.String()), Form{Encoding: UTF8})
	if headings, err := r.Headings(); err != nil || !reflect.DeepEqual(headings, []string{"key"}) {
		t.Fatalf("headings %q, %v", headings, err)
	}
	for i := range headingRows + len(cases) {
		rec, ok, err := r.Next()
		if err != nil || !ok || rec.Line != i+1 {
			t.Fatalf("row %d: %+v, %v, %v", i, rec, ok, err)
		}
		if i < headingRows {
			continue
		}
		if c := cases[i-headingRows]; rec.Fault != c.fault {
			t.Errorf("%.60s: %q, want %q", c.line, rec.Fault, c.fault)
		} else if c.fault != "" && FaultWords(c.fault) == "" {
			t.Errorf("%s has no words", c.fault)
		}
	}
}

func TestJSONThatIsNotLines(t *testing.T) {
	for text, code := range map[string]string{
		`[{"key":"e1"},{"key":"e2"}]`:      "json_not_lines",
		"[\n  {\"key\":\"e1\"}\n]\n":       "json_not_lines",
		"{\n  \"key\": \"e1\"\n}\n":        "json_not_lines",
		strings.Repeat("[", 50<<20):        "json_not_lines",
		strings.Repeat(`{"a":`, 10<<20):    "json_not_lines",
		`{"a":1` + strings.Repeat(" ", 99): "json_not_lines",
	} {
		var refusal *Refusal
		if _, _, err := rowsOf(t, []byte(text), Wish{}); !errors.As(err, &refusal) || refusal.Code != code {
			t.Errorf("%.20q: %v, want %s", text, err, code)
		}
	}
}

// FuzzNDJSON: whatever stands in a line, it is one row, whole or at fault.
func FuzzNDJSON(f *testing.F) {
	for _, seed := range []string{`{"key":"e1","n":1.50}`, `{"key":null,"b":true} `, `{"a":{"b":[1]}}`, `{"a":"\u00e9\ud83d\ude00\\"}`, `{"a":1,"a":2}`, "{}\n\n{\r\n", `{"":""}`} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		r := newNDJSON(strings.NewReader(string(text)), Form{Encoding: UTF8})
		headings, err := r.Headings()
		if err != nil {
			return
		}
		want := 0
		for line := range strings.SplitSeq(strings.TrimPrefix(string(text), "\xef\xbb\xbf"), "\n") {
			if strings.TrimSuffix(line, "\r") != "" {
				want++
			}
		}
		for got := 0; ; got++ {
			rec, ok, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			if !ok {
				if got != want {
					t.Fatalf("%d rows of %d lines", got, want)
				}
				return
			}
			if rec.Fault == "" && len(rec.Cells) != len(headings) || rec.Fault != "" && len(rec.Cells) != 1 {
				t.Fatalf("%d cells under %d headings, fault %q", len(rec.Cells), len(headings), rec.Fault)
			}
		}
	})
}
