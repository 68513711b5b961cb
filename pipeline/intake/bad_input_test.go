package intake

import (
	"bytes"
	"compress/gzip"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/warehouse"
)

// TestBadInput drops what sites have sent, and what somebody might. Each gets one
// line, and the night goes on: the good file among them loads.
func TestBadInput(t *testing.T) {
	const headings, row = "episode_id,contact_on,way\n", "e1,2026-01-02,phone\n"
	packed := pack(t, headings+strings.Repeat(row, 2000))
	columns := strings.TrimSuffix(strings.Repeat("way,", 10_000), ",") + "\n"
	injected := `"way""); drop table files; --",contact_on` + "\n1,2\n"
	files := map[string]struct{ data, problem, quarantine string }{
		"a_truncated.csv.gz":  {packed[:len(packed)-12], "gzip_cut_short", ""},
		"b_open_quote.csv":    {headings + "e2,2026-01-02,\"phone\n" + "e3,2026-01-03,phone\n", "", "quotes_broken"},
		"c_10000_columns.csv": {columns, "too_many_columns", ""},
		"d_50_mb_cell.csv":    {headings + "e4,2026-01-02," + strings.Repeat("x", 50<<20) + "\ne5,2026-01-03,phone\n", "", "row_too_long"},
		"e_nul_bytes.csv":     {headings + "e6,2026-01-02,ph\x00ne\ne7,2026-01-03,phone\n", "", "way:unknown_code"},
		"f_nothing_but_nul":   {string(make([]byte, 1<<20)), "not_text", ""},
		"g_bomb.xlsx":         {bookOfParts(t, "xl/workbook.xml", `<workbook><!-- `+strings.Repeat(" ", 20<<20)+` --></workbook>`), "unpacks_too_large", ""},
		"h_formula.xlsx":      {book(t, func(x *excelize.File) error { return x.SetCellFormula("Sheet1", "C2", "=1+1") }), "formulas", ""},
		"i_macros.xlsx":       {bookOfParts(t, "xl/vbaProject.bin", "x"), "macros", ""},
		"j_links.xlsx":        {bookOfParts(t, "xl/externalLinks/externalLink1.xml", "<x/>"), "external_links", ""},
		"k_nested.parquet":    {parquetBy(t, "select 'e1' as episode_id, [1, 2] as marks"), "nested_column", ""},
		"l_type.parquet":      {parquetBy(t, "select 'e1' as episode_id, interval 1 day as contact_on"), "unusable_column", ""},
		"m_depth.json":        {strings.Repeat("[", 5<<20), "json_not_lines", ""},
		"n_depth.ndjson":      {"{\"episode_id\":\"e8\",\"contact_on\":\"2026-01-02\"}\n" + strings.Repeat(`{"a":`, 8000) + "1" + strings.Repeat("}", 8000) + "\n", "", "value_not_plain"},
		"o_sql.csv":           {injected, "no_table_fits", ""},
		"p_page.xls":          {"<html><table><tr><td>episode_id</td></tr></table></html>", "markup", ""},
		"q_good.csv":          {headings + "e9,2026-01-02,phone\n", "", ""},
	}
	f := newFolder(t)
	for name, file := range files {
		f.write("inbox/north/"+name, file.data)
	}
	f.mkdir("inbox/north/r_folder.csv")
	f.write("inbox/north/.~lock.q_good.csv#", "x")
	f.write("inbox/north/~$q_good.xlsx", "x")
	f.write("inbox/north/Thumbs.db", "x")
	if err := os.Symlink("/etc/passwd", filepath.Join(f.dir, "inbox/north/s_link.csv")); err != nil {
		t.Fatal(err)
	}
	report := f.take(january(5))
	if len(report.Files) != len(files) {
		t.Errorf("%d of %d files were looked at", len(report.Files), len(files))
	}
	l := f.open()
	defer shut(t, l)
	checkSums(t, l)
	for _, got := range report.Files {
		name := strings.TrimPrefix(got.Path, "north/")
		want := files[name]
		if got.Problem.Code != want.problem || strings.Contains(got.Problem.Words, "\n") || (want.problem != "" && !strings.ContainsAny(got.Problem.Words, ";,")) {
			t.Errorf("%s: %+v, want %s", name, got.Problem, want.problem)
		}
		if reasons := reasonsOf(t, l, got.Path); reasons != want.quarantine {
			t.Errorf("%s: rows in quarantine for %q, want %q", name, reasons, want.quarantine)
		}
		if want.problem == "" && got.Counts.Accepted != 1 {
			t.Errorf("%s: %+v, want one row accepted", name, got.Counts)
		}
	}
	var trouble []string
	for _, one := range report.Trouble {
		trouble = append(trouble, one.Path+" "+one.Code)
	}
	if got := strings.Join(trouble, "; "); got != "north/s_link.csv link" {
		t.Errorf("left in the inbox: %q", got)
	}
	if left, err := filepath.Glob(filepath.Join(f.dir, "archive", temporary+"*")); err != nil || len(left) > 0 {
		t.Errorf("left half written: %v, %v", left, err)
	}
}

// reasonsOf lists why rows of a file were rejected, each reason once.
func reasonsOf(t *testing.T, l *warehouse.Landing, path string) string {
	t.Helper()
	files, err := l.Files(t.Context(), newest)
	if err != nil {
		t.Fatal(err)
	}
	reasons := ""
	for _, f := range files {
		if f.Path != path {
			continue
		}
		rejected, err := l.Quarantine(t.Context(), f.File)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rejected {
			reasons += strings.Join(r.Reasons, ";")
		}
	}
	return reasons
}

func pack(t *testing.T, text string) string {
	t.Helper()
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, err := w.Write([]byte(text))
	if err := errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// book is a workbook of one row, changed.
func book(t *testing.T, change func(*excelize.File) error) string {
	t.Helper()
	x := excelize.NewFile()
	err := errors.Join(x.SetSheetRow("Sheet1", "A1", &[]any{"episode_id", "contact_on", "way"}), x.SetSheetRow("Sheet1", "A2", &[]any{"e1", "2026-01-02", "phone"}), change(x))
	var b bytes.Buffer
	if err := errors.Join(err, x.Write(&b)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// parquetBy lets the engine write a file, which shares no code with our reader.
func parquetBy(t *testing.T, query string) string {
	t.Helper()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, db)
	path := filepath.Join(t.TempDir(), "x.parquet")
	if _, err := db.ExecContext(t.Context(), fmt.Sprintf("copy (%s) to '%s' (format parquet)", query, path)); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path) //nolint:gosec // a file of the test
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// bookOfParts is a workbook with one part more, or another one. Parts that
// cannot be packed keep its ratio ordinary.
func bookOfParts(t *testing.T, name, text string) string {
	t.Helper()
	made, err := workbookWith(map[string]string{name: text, "xl/media/noise.bin": string(noise(rand.New(rand.NewPCG(1, 1)), 20<<10))})
	if err != nil {
		t.Fatal(err)
	}
	return string(made)
}
