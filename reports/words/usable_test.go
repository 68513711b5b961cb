package words_test

import (
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestUsableSentences(t *testing.T) {
	r := sample.Month(t)
	want := []string{
		"North Road: 276 episodes began; 262 could be used for the return, 220 for symmetry and 165 for dose. One more item on record, a second day on which both sides are measured, would have added about 30, one a person.",
	}
	got := words.UsableSentences(r)
	if len(got) != 4 {
		t.Fatalf("%d sentences for three sites and the practice", len(got))
	}
	for i, text := range want {
		if got[i].Text != text {
			t.Errorf("got  %s\nwant %s", got[i].Text, text)
		}
	}
}

// Every form in which a file may be read has words.
func TestForms(t *testing.T) {
	for form, want := range map[string]string{
		"":                  "could not be told",
		"csv, comma, utf-8": "comma-separated text, UTF-8",
		"csv, semicolon, windows-1252, quote none, skip 3, gzip": "semicolon-separated text, Windows-1252, without quotes, lines before the headings: 3, compressed (gzip)",
		"csv, delimiter U+00A7, utf-16le, backslash":             "text separated by U+00A7, UTF-16, quotes marked by a backslash",
		"ndjson, utf-8, zstd":                                    "objects, one a line, UTF-8, compressed (zstd)",
		"parquet":                                                "Parquet",
		"xlsx":                                                   "workbook",
	} {
		if got := words.Form(result.FileForm{Form: form}); got != want {
			t.Errorf("%q is %q, want %q", form, got, want)
		}
	}
}
