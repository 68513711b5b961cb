package intake

import (
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2" // reads the store from beside

	"evenlimb/pipeline/warehouse"
)

// TestHostileFiles takes in 1,000 good exports of all formats that were damaged,
// each in a way of which it is known which rows are left unharmed. Nothing may
// stop the nights; of every file the sum holds; the rows that are unharmed load
// exactly as they were written, unless nothing of the file can be trusted; and
// nothing else loads.
func TestHostileFiles(t *testing.T) {
	files := 1000
	if testing.Short() {
		files = 100
	}
	var right, judged, named atomic.Int64
	t.Run("practices", func(t *testing.T) {
		const practices = 2
		for n := range practices {
			t.Run(fmt.Sprint(n), func(t *testing.T) {
				t.Parallel()
				takeHostile(t, n*files/practices, files/practices, func(path string, err error, problem warehouse.Problem, rows int) {
					judged.Add(1)
					switch {
					case problem.Code == "identity":
						named.Add(1)
					case err != nil:
						t.Errorf("%s: %v (%s: %s)", path, err, problem.Code, problem.Words)
					case rows > 0:
						right.Add(1)
					}
				})
			})
		}
	})
	t.Logf("%d files, of %d it can be told what must load: %d load wholly or in part, exactly, %d looked as if they named persons", files, judged.Load(), right.Load(), named.Load())
	if int(right.Load()) < files*6/10 {
		t.Errorf("%d of %d files load wholly or in part with the right rows, at least %d are wanted", right.Load(), files, files*6/10)
	}
	if int(named.Load()) > files/200 {
		t.Errorf("%d of %d files were refused because damage looked like persons", named.Load(), files)
	}
}

// takeHostile takes damaged files into a practice of their own in two nights and
// has each judged of which it can be told what must become of it.
func takeHostile(t *testing.T, first, files int, verdict func(path string, err error, problem warehouse.Problem, rows int)) {
	t.Helper()
	rng := rand.New(rand.NewPCG(20260105, uint64(first))) //nolint:gosec // a number of a file
	f := newFolder(t)
	all := map[string]hostile{}
	l := f.open()
	for night := range 2 {
		for n := range files / 2 {
			h, err := makeHostile(rng, first+night*files/2+n)
			if err != nil {
				t.Fatal(err)
			}
			f.write("inbox/north/"+h.name, string(h.data))
			all["north/"+h.name] = h
		}
		if _, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5 + night), Program: "test"}); err != nil {
			t.Fatal(err)
		}
	}
	checkSums(t, l)
	taken, err := l.Files(t.Context(), newest)
	if err := errors.Join(err, l.Close()); err != nil {
		t.Fatal(err)
	}
	if len(taken) != files {
		t.Fatalf("%d of %d files were taken in", len(taken), files)
	}
	loaded := loadedRows(t, filepath.Join(f.dir, "landing.duckdb"))
	for _, file := range taken {
		h, rows := all[file.Path], loaded[file.File]
		if file.Problem.Code != "" && len(rows) > 0 {
			t.Errorf("%s: %s, and yet %d rows loaded", file.Path, file.Problem.Code, len(rows))
		}
		if !h.unjudged {
			verdict(file.Path, h.judge(rows), file.Problem, len(rows))
		}
	}
}

// judge holds the rows that loaded of a file against what is known of it.
func (h hostile) judge(loaded map[string]string) error {
	if len(loaded) == 0 && h.orNone {
		return nil
	}
	others := len(loaded)
	free := 0
	for i, row := range h.rows {
		got, there := loaded[row[0]]
		want := strings.Join(row, "|")
		switch h.fates[i] {
		case loads:
			if got != want {
				return fmt.Errorf("row %d is unharmed, and loaded as %q, not as %q", i, got, want)
			}
			others--
		case stays:
			if there {
				return fmt.Errorf("row %d must not load, and stands there as %q", i, got)
			}
		case open:
			free++
		}
	}
	if others > free {
		return fmt.Errorf("%d rows loaded that nobody sent", others-free)
	}
	return nil
}

// loadedRows reads what landing holds, by file and key, without the code that is
// under test.
func loadedRows(t *testing.T, path string) map[int]map[string]string {
	t.Helper()
	db, err := sql.Open("duckdb", path+"?access_mode=read_only")
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, db)
	rows, err := db.QueryContext(t.Context(), `select _file, measurement_id, concat_ws('|', measurement_id, episode_id, measured_on::varchar, measure, side, printf('%.1f', value::double), coalesce(method, ''))
		from measurements where _action <> 'withdrawal'`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close() //nolint:errcheck // its error is looked at below
	all := map[int]map[string]string{}
	for rows.Next() {
		var file int
		var key, row string
		if err := rows.Scan(&file, &key, &row); err != nil {
			t.Fatal(err)
		}
		if all[file] == nil {
			all[file] = map[string]string{}
		}
		all[file][key] = row
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// TestHostileFilesAreJudged makes sure that the judgement can fail.
func TestHostileFilesAreJudged(t *testing.T) {
	h := hostile{rows: [][]string{{"a", "1"}, {"b", "2"}, {"c", "3"}}, fates: []fate{loads, stays, open}}
	for _, c := range []struct {
		loaded map[string]string
		wrong  bool
	}{
		{map[string]string{"a": "a|1"}, false},
		{map[string]string{"a": "a|1", "c": "c|9"}, false},
		{map[string]string{"a": "a|1", "x": "x|9"}, false},
		{map[string]string{"a": "a|9"}, true},
		{map[string]string{}, true},
		{map[string]string{"a": "a|1", "b": "b|2"}, true},
		{map[string]string{"a": "a|1", "c": "c|3", "x": "x|9"}, true},
	} {
		if err := h.judge(c.loaded); (err != nil) != c.wrong {
			t.Errorf("%v: %v", c.loaded, err)
		}
	}
}
