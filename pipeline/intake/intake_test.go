package intake

import (
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"evenlimb/pipeline/warehouse"
)

// practiceText is the settings of the tests: two senders, two sites each their
// own, one shared.
const practiceText = `
[practice]
name = "Two Rivers"
code = "two_rivers"
time_zone = "Europe/Lisbon"
[[sites]]
code = "north"
label = "North"
senders = ["north"]
[[sites]]
code = "south"
label = "South"
senders = ["south"]
[[sites]]
code = "shared"
label = "Shared"
senders = ["north", "south"]
[[ways]]
code = "usual"
label = "Usual care"
`

// folder is a practice folder of a test.
type folder struct {
	t   testing.TB
	dir string
}

func newFolder(tb testing.TB) folder {
	tb.Helper()
	f := folder{tb, tb.TempDir()}
	f.write("practice.toml", practiceText)
	f.mkdir("inbox")
	return f
}

func (f folder) mkdir(path string) {
	f.t.Helper()
	if err := os.MkdirAll(filepath.Join(f.dir, path), 0o700); err != nil {
		f.t.Fatal(err)
	}
}

func (f folder) write(path, text string) {
	f.t.Helper()
	f.mkdir(filepath.Dir(path))
	if err := os.WriteFile(filepath.Join(f.dir, path), []byte(text), 0o600); err != nil { //nolint:gosec // a folder of the test
		f.t.Fatal(err)
	}
}

func (f folder) open() *warehouse.Landing {
	f.t.Helper()
	l, err := warehouse.OpenLanding(f.t.Context(), filepath.Join(f.dir, "landing.duckdb"), warehouse.Engine{Threads: 2, MemoryMB: 512})
	if err != nil {
		f.t.Fatal(err)
	}
	return l
}

// january is noon of a day of January 2026.
func january(d int) time.Time {
	return time.Date(2026, time.January, d, 12, 0, 0, 0, time.UTC)
}

// take runs the intake once.
func (f folder) take(now time.Time) Report {
	f.t.Helper()
	l := f.open()
	defer shut(f.t, l)
	report, err := Run(f.t.Context(), Input{Dir: f.dir, Landing: l, Now: now, Program: "test"})
	if err != nil {
		f.t.Fatal(err)
	}
	return report
}

func shut(tb testing.TB, c io.Closer) {
	tb.Helper()
	if err := c.Close(); err != nil {
		tb.Error(err)
	}
}
