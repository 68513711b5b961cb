package intake

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"evenlimb/pipeline/warehouse"
)

// overwrite puts other bytes of the same length into a file and leaves its time
// as it was.
func (f folder) overwrite(path, text string) {
	f.t.Helper()
	full := filepath.Join(f.dir, path)
	before, err := os.Stat(full)
	if err != nil {
		f.t.Fatal(err)
	}
	f.write(path, text)
	if err := os.Chtimes(full, time.Time{}, before.ModTime()); err != nil {
		f.t.Fatal(err)
	}
	if after, err := os.Stat(full); err != nil || after.Size() != before.Size() {
		f.t.Fatalf("%d bytes after %d, %v", after.Size(), before.Size(), err)
	}
}

// TestAKnownFileIsNotReadEveryNight changes a file in a way that neither its
// size nor its time tells: only reading it can.
func TestAKnownFileIsNotReadEveryNight(t *testing.T) {
	t.Parallel()
	const path = "inbox/north/a.csv"
	first, second := "session_id,episode_id,session_date,attendance\ns1,e1,2026-01-01,attended\n", "session_id,episode_id,session_date,attendance\ns1,e2,2026-01-01,attended\n"
	t.Run("until a month is over", func(t *testing.T) {
		t.Parallel()
		f := newFolder(t)
		f.write(path, first)
		f.night(1)
		f.overwrite(path, second)
		for _, day := range []int{2, 30} { // 29 days later at most
			if got, _ := f.night(day); got.Path != "" {
				t.Fatalf("on the %dth it was read: %+v", day, got)
			}
		}
		if got, _ := f.night(31); got.Counts.Corrections != 1 {
			t.Errorf("after 30 days: %+v", got)
		}
		if got, _ := f.night(62); got.Path != "" {
			t.Errorf("read again as it was: %+v", got)
		}
	})
	t.Run("unless the settings say each night", func(t *testing.T) {
		t.Parallel()
		f := newFolder(t)
		f.write("practice.toml", practiceText+"[intake]\nrehash_days = 0\n")
		f.write(path, first)
		f.night(1)
		f.overwrite(path, second)
		if got, _ := f.night(2); got.Counts.Corrections != 1 {
			t.Errorf("the next night: %+v", got)
		}
	})
	t.Run("a new time alone makes no batch", func(t *testing.T) {
		t.Parallel()
		f := newFolder(t)
		f.write(path, first)
		f.night(1)
		full := filepath.Join(f.dir, path)
		if err := os.Chtimes(full, time.Time{}, january(2)); err != nil {
			t.Fatal(err)
		}
		if got, _ := f.night(2); got.Path != "" {
			t.Errorf("taken in again: %+v", got)
		}
		f.landing(func(l *warehouse.Landing) error {
			seen, err := l.Seen(t.Context())
			if one := seen["north/a.csv"]; len(seen) != 1 || !one.Modified.Equal(january(2)) || one.HashedOn.Day() != 2 {
				t.Errorf("noted %+v", seen)
			}
			return err
		})
	})
}
