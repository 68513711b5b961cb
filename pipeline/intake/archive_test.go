package intake

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"evenlimb/pipeline/warehouse"
)

func TestIndexOfTheArchive(t *testing.T) {
	f := newFolder(t)
	batch := warehouse.Batch{Number: 7, ReceivedOn: time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), Program: "1.0"}
	lines := []indexLine{
		{Kind: ofSettings, Path: "layouts/north.toml", Version: "v"},
		{SHA256: "aa", Sender: "north", Path: "north/a.csv", Bytes: 3, Layout: canonical},
		{SHA256: "bb", Sender: "north", Path: "north/b \"x\".csv", Bytes: 4, Refused: "identity", Words: "no", Rules: "r", Mode: warehouse.Again, Allowed: []string{"c"}},
	}
	whole := `{"sha256":"00","sender":"south","path":"south/old.csv","batch":1,"received_on":"2026-01-01","bytes":1,"layout":"canonical","program":"0.9"}` + "\n"
	f.write("archive/index.ndjson", whole+`{"sha256":"aa","sender":"no`) // cut off while it was written
	for range 2 {
		if err := addToIndex(f.dir, batch, lines); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(filepath.Join(f.dir, "archive/index.ndjson"))
	if err != nil {
		t.Fatal(err)
	}
	want := whole + `{"kind":"settings","path":"layouts/north.toml","batch":7,"received_on":"2026-01-05","program":"1.0","version":"v"}
{"sha256":"aa","sender":"north","path":"north/a.csv","batch":7,"received_on":"2026-01-05","bytes":3,"layout":"canonical","program":"1.0"}
{"sha256":"bb","sender":"north","path":"north/b \"x\".csv","batch":7,"received_on":"2026-01-05","bytes":4,"program":"1.0","mode":"again","refused":"identity","words":"no","rules":"r","allowed":["c"]}
`
	if string(got) != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

func TestArchive(t *testing.T) {
	f := newFolder(t)
	text := strings.Repeat("some text\n", 10_000)
	sum, bytes, err := hashFile(t.Context(), strings.NewReader(text))
	if err != nil || bytes != int64(len(text)) {
		t.Fatal(bytes, err)
	}
	broken := errors.New("the disk is gone")
	if p, err := packFile(t.Context(), f.dir, io.MultiReader(strings.NewReader(text), iotest.ErrReader(broken))); !errors.Is(err, errReading) || p.path != "" {
		t.Errorf("a file that cannot be read to its end: %+v, %v", p, err)
	}
	for i := range 3 { // the last is not kept
		p, err := packFile(t.Context(), f.dir, strings.NewReader(text))
		if err != nil || p.sum != sum || p.bytes != bytes || archived(f.dir, sum) != (i > 0) {
			t.Fatalf("packed as %+v, %v", p, err)
		}
		if err := map[bool]func() error{true: p.discard, false: func() error { return p.keep(f.dir) }}[i == 2](); err != nil {
			t.Fatal(err)
		}
	}
	if left := f.snapshot(); len(left) != 2 {
		t.Errorf("%d files are there, want the settings and one in the archive", len(left))
	}
	src, err := OpenArchived(f.dir, sum)
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(src)
	if err != nil || string(got) != text {
		t.Errorf("%d bytes came back of %d, %v", len(got), len(text), err)
	}
	shut(t, src)
	damaged := f.snapshot()[filepath.Join("archive", sum+".zst")]
	f.write("archive/"+sum+".zst", string(damaged[:len(damaged)-8]))
	if src, err = OpenArchived(f.dir, sum); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadAll(src); err == nil {
		t.Error("a damaged file was read without an error")
	}
	shut(t, src)
}

// A damaged archive stops the run with a sentence, and nothing of the file is in.
func TestDamagedArchiveStopsTheRun(t *testing.T) {
	f := newFolder(t)
	f.write("inbox/north/a.csv", oneSession+strings.Repeat("s2,e1,2026-01-01,attended\n", 1000))
	l := f.open()
	defer shut(t, l)
	spoil := func(e Event) {
		if e.Stage == "planned" {
			for path := range f.snapshot() {
				if strings.HasSuffix(path, ".zst") {
					f.write(path, "no archive")
				}
			}
		}
	}
	_, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test", Progress: spoil})
	if err == nil || !strings.Contains(err.Error(), "put it back from a backup") {
		t.Errorf("got %v", err)
	}
	if files, err := l.Files(t.Context(), newest); err != nil || len(files) != 0 {
		t.Errorf("half a file is in: %+v, %v", files, err)
	}
}
