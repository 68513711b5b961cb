package intake

import (
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
)

// TestReadAgain finds out after two nights that the layout had come and missed
// the wrong way round.
func TestReadAgain(t *testing.T) {
	t.Parallel()
	f := newFolder(t)
	right := strings.Replace(northLayout, `kind = "complete"`, `kind = "changes"`, 1)
	right = strings.Replace(right, "brake_percent = 40\n", "", 1)
	wrong := strings.Replace(right, `"Y" = "attended", "N" = "missed"`, `"N" = "attended", "Y" = "missed"`, 1)
	f.write("layouts/north.toml", wrong)
	f.write("inbox/north/sessions1.csv", visits("s1 s2 s3"))
	f.night(5)
	f.write("inbox/north/by_hand.csv", "session_id,episode_id,session_date,attendance\ns2,e1,2026-01-01,cancelled\n")
	f.night(6)
	before := f.standing()
	f.write("layouts/north.toml", right)
	again := func(name string, day int) warehouse.Counts {
		t.Helper()
		var also []warehouse.Planned
		f.landing(func(l *warehouse.Landing) (err error) {
			also, err = ReadAgain(t.Context(), f.dir, l, name)
			return err
		})
		got, stop := f.night(day, also...)
		if stop != nil {
			t.Fatal(stop)
		}
		return got.Counts
	}
	// What a file sent later says of s2 holds.
	if got, want := again("inbox/north/sessions1.csv", 7), (warehouse.Counts{Read: 3, Duplicates: 1, Corrections: 2}); got != want {
		t.Errorf("read again: %+v, want %+v", got, want)
	}
	if got, want := f.standing(), "s1:attended s2:cancelled s3:attended"; got != want {
		t.Errorf("standing %s, want %s, before %s", got, want, before)
	}
	f.landing(func(l *warehouse.Landing) error {
		files, err := l.Files(t.Context(), newest)
		if err == nil && (files[2].AgainOf != 1 || files[2].Batch != 3) {
			t.Errorf("files %+v", files)
		}
		return err
	})
	if findings := f.findings(3); len(findings) != 1 || findings[0].Code != "superseded" || findings[0].Lines[0] != 3 {
		t.Errorf("findings %+v", findings)
	}
	// A second time nothing changes, for the file and for all of the sender.
	if got, want := again("north", 8), (warehouse.Counts{Read: 3, Duplicates: 3}); got != want {
		t.Errorf("read once more: %+v, want %+v", got, want)
	}
	// Keys made in another way: what the file no longer says goes.
	f.write("layouts/north.toml", strings.Replace(right, "[table.columns.session_id]\nheading = \"Visit\"", "[table.columns.session_id]\nmade_from = [\"episode_id\", \"visit\"]\njoin = \"/\"\n[table.parts.visit]\nheading = \"Visit\"", 1))
	if got, want := again("north/sessions1.csv", 9), (warehouse.Counts{Read: 3, Accepted: 3, Gone: 2}); got != want {
		t.Errorf("with other keys: %+v, want %+v", got, want)
	}
	if got, want := f.standing(), "e1/s1:attended e1/s2:attended e1/s3:attended s2:cancelled"; got != want {
		t.Errorf("standing %s, want %s", got, want)
	}
}

func TestReadAgainNamesWhatIsNotThere(t *testing.T) {
	t.Parallel()
	f := newFolder(t)
	f.write("inbox/north/names.csv", "session_id,episode_id,session_date,attendance,first name\ns1,e1,2026-01-01,attended,Mary\n")
	f.write("inbox/north/good.csv", oneSession)
	f.night(5)
	l := f.open()
	defer shut(t, l)
	for name, want := range map[string]string{
		"inbox/north/god.csv":   "is it north/good.csv?",
		"north/names.csv":       "nothing of north/names.csv was kept",
		"inbox/north/other.csv": "no file inbox/north/other.csv was taken in",
	} {
		if _, err := ReadAgain(t.Context(), f.dir, l, name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", name, err, want)
		}
	}
}
