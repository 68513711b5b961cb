package intake

import (
	"database/sql"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2" // the driver with which the tests look into the store
)

// dropTwoNights fills the inbox of a folder with a first night's files, which
// are taken in, and a second night's, which are not.
func dropTwoNights(f folder) {
	f.t.Helper()
	f.write("inbox/north/1_episodes.csv", "episode_id,site,injury_type,side,start_date\ne1,north,calf_strain,left,2026-01-01\n")
	f.take(january(5))
	f.write("inbox/north/2_sessions.csv", "session_id,episode_id,session_date,attendance\ns1,e1,2026-01-01,attended\ns2,e1,2026-01-02,came\ns1,e1,2026-01-01,missed\n")
	f.write("inbox/north/3_cupboard.csv", "shelf\n1\n")
	f.write("inbox/south/1_delivery.csv", "site,complete_to\nsouth,2026-01-04\n")
	f.write("inbox/south/2_bouts.csv", "session_id,bout_no,exercise\ns1,1,knee_extension\ns1,1,hop\n")
	f.write("practice.toml", practiceText+"[report]\nsilent_after_days = 20\n")
}

// TestKilledAnywhere kills a run at every step it reports, by the signal that
// no program can catch, and runs again: everything must come out as in a run that
// was left alone.
func TestKilledAnywhere(t *testing.T) {
	if dir := os.Getenv("KILL_FOLDER"); dir != "" {
		runAndDie(t, dir)
		return
	}
	whole := newFolder(t)
	dropTwoNights(whole)
	start := whole.snapshot() // before the night that is killed
	steps := 0
	l := whole.open()
	if _, err := Run(t.Context(), Input{Dir: whole.dir, Landing: l, Now: january(6), Program: "test", Progress: func(Event) { steps++ }}); err != nil {
		t.Fatal(err)
	}
	shut(t, l)
	want := whole.content()
	if steps < 15 {
		t.Fatalf("only %d steps", steps)
	}
	for step := range steps {
		t.Run(strconv.Itoa(step), func(t *testing.T) {
			t.Parallel()
			f := folder{t, t.TempDir()}
			f.restore(start)
			child := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestKilledAnywhere$") //nolint:gosec // this test binary itself
			child.Env = append(os.Environ(), "KILL_FOLDER="+f.dir, "KILL_STEP="+strconv.Itoa(step))
			out, err := child.CombinedOutput()
			if child.ProcessState.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
				t.Fatalf("the run was not killed: %v\n%s", err, out)
			}
			f.write("archive/.new-1", "what the kill left half written")
			f.write("quarantine/north/.new-2", "the same")
			f.take(january(7)) // a later day: a batch that was planned keeps its date
			if got := f.content(); got != want && got != strings.ReplaceAll(want, "2026-01-06", "2026-01-07") {
				t.Errorf("got:\n%s\nwant:\n%s", got, want)
			}
		})
	}
}

func runAndDie(t *testing.T, dir string) {
	t.Helper()
	left, err := strconv.Atoi(os.Getenv("KILL_STEP"))
	if err != nil {
		t.Fatal(err)
	}
	f := folder{t, dir}
	_, err = Run(t.Context(), Input{Dir: dir, Landing: f.open(), Now: january(6), Program: "test", Progress: func(Event) {
		if left == 0 {
			if err := syscall.Kill(os.Getpid(), syscall.SIGKILL); err != nil {
				t.Error(err)
			}
			select {} // until the signal arrives
		}
		left--
	}})
	t.Fatalf("the run ended: %v", err)
}

// snapshot and restore copy a folder.
func (f folder) snapshot() map[string][]byte {
	f.t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(f.dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		below, err := filepath.Rel(f.dir, path)
		if err != nil {
			return err
		}
		files[below], err = os.ReadFile(path) //nolint:gosec // a file of the test
		return err
	})
	if err != nil {
		f.t.Fatal(err)
	}
	return files
}

func (f folder) restore(files map[string][]byte) {
	f.t.Helper()
	for path, data := range files {
		f.write(path, string(data))
	}
}

// content is everything that a run leaves behind, as text: each table of the
// landing store but when the files of the inbox were written, the files of the
// quarantine, the archive and its index.
func (f folder) content() string {
	f.t.Helper()
	var b strings.Builder
	f.look(func(rows func(string) []string) {
		for _, table := range rows("select table_name from information_schema.tables where table_type = 'BASE TABLE' and table_name <> 'seen_files' order by 1") {
			for _, row := range rows("select to_json(t)::varchar from " + table + " as t order by 1") {
				fmt.Fprintf(&b, "%s %s\n", table, row)
			}
		}
	})
	disk := f.snapshot()
	for _, path := range slices.Sorted(maps.Keys(disk)) {
		if !strings.HasPrefix(path, "landing.duckdb") {
			fmt.Fprintf(&b, "%s %q\n", path, disk[path])
		}
	}
	return b.String()
}

// look opens the landing store, which nobody has open, and hands over a function
// that reads one column of text.
func (f folder) look(with func(rows func(query string) []string)) {
	f.t.Helper()
	db, err := sql.Open("duckdb", filepath.Join(f.dir, "landing.duckdb"))
	if err != nil {
		f.t.Fatal(err)
	}
	defer shut(f.t, db)
	with(func(query string) (list []string) {
		f.t.Helper()
		rows, err := db.QueryContext(f.t.Context(), query) //nolint:sqlclosecheck // shut closes it
		if err != nil {
			f.t.Fatal(err)
		}
		defer shut(f.t, rows)
		for rows.Next() {
			var one string
			if err := rows.Scan(&one); err != nil {
				f.t.Fatal(err)
			}
			list = append(list, one)
		}
		if err := rows.Err(); err != nil {
			f.t.Fatal(err)
		}
		return list
	})
}
