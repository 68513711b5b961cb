package intake

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"evenlimb/pipeline/settings"
)

const oneSession = "session_id,episode_id,session_date,attendance\ns1,e1,2026-01-01,attended\n"

func TestLinksAndOddFilesAreLeft(t *testing.T) {
	f := newFolder(t)
	outside := filepath.Join(t.TempDir(), "secret.csv")
	if err := os.WriteFile(outside, []byte(oneSession), 0o600); err != nil {
		t.Fatal(err)
	}
	f.write("inbox/north/good.csv", oneSession)
	f.mkdir("inbox/south/folder.csv")
	link := func(to, at string) {
		t.Helper()
		if err := os.Symlink(to, filepath.Join(f.dir, "inbox", at)); err != nil {
			t.Fatal(err)
		}
	}
	link(outside, "north/link.csv")
	link("good.csv", "north/inner.csv")
	link(filepath.Dir(outside), "north/away")
	link(filepath.Dir(outside), "elsewhere")
	if err := syscall.Mkfifo(filepath.Join(f.dir, "inbox/north/pipe.csv"), 0o600); err != nil {
		t.Fatal(err)
	}
	f.write("inbox/north/bell\a.csv", oneSession)
	f.write("inbox/north/latin\xff.csv", oneSession)
	report := f.take(january(5))
	if len(report.Files) != 1 || report.Files[0].Path != "north/good.csv" {
		t.Errorf("took in %+v", report.Files)
	}
	var got []string
	for _, trouble := range report.Trouble {
		got = append(got, trouble.Path+" "+trouble.Code)
	}
	want := []string{
		"elsewhere no_sender", "north/away link", `"north/bell\a.csv" odd_name`, "north/inner.csv link",
		`"north/latin\xff.csv" odd_name`, "north/link.csv link", "north/pipe.csv not_a_file",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("left:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// A file that changes between the first look and the archive waits for the next
// night; nothing of it is kept.
func TestFileStillBeingWrittenWaits(t *testing.T) {
	f := newFolder(t)
	f.write("inbox/north/a.csv", oneSession)
	f.write("inbox/north/b.csv", oneSession+"s2,e1,2026-01-01,attended\n")
	l := f.open()
	defer shut(t, l)
	grow := func(e Event) {
		if e.Stage == "archiving" && e.Done == 0 {
			f.write("inbox/north/b.csv", oneSession+"s2,e1,2026-01-01,attended\ns3,e1,2026-01-01,attended\n")
			if err := os.Remove(filepath.Join(f.dir, "inbox/north/a.csv")); err != nil {
				t.Fatal(err)
			}
		}
	}
	report, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test", Progress: grow})
	if err != nil {
		t.Fatal(err)
	}
	if len(report.Files) != 0 || strings.Join(report.Waiting, " ") != "north/a.csv north/b.csv" {
		t.Errorf("took in %+v, waiting %v", report.Files, report.Waiting)
	}
	report, err = Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(6), Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if len(report.Files) != 1 || report.Files[0].Counts.Accepted != 3 {
		t.Errorf("the next night took in %+v", report.Files)
	}
}

func TestNoInbox(t *testing.T) {
	f := newFolder(t)
	if err := os.Remove(filepath.Join(f.dir, "inbox")); err != nil {
		t.Fatal(err)
	}
	l := f.open()
	defer shut(t, l)
	_, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test"})
	if err == nil || !strings.Contains(err.Error(), "make the folder inbox") {
		t.Errorf("got %v", err)
	}
}

// A settings file that is wrong stops the run before anything is kept; a change
// without meaning makes no batch; one that is gone does.
func TestSettingsMakeBatches(t *testing.T) {
	f := newFolder(t)
	l := f.open()
	defer shut(t, l)
	night := func() Report {
		t.Helper()
		report, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test"})
		if err != nil {
			t.Fatal(err)
		}
		return report
	}
	for _, step := range []struct {
		what, path, text string
		batch            int
		opened           bool
	}{
		{"the first settings", "practice.toml", practiceText, 1, true},
		{"nothing", "practice.toml", practiceText, 1, false},
		{"a remark and the engine", "practice.toml", "# words\n" + practiceText + "[engine]\nthreads = 1\n", 1, false},
		{"a rule", "practice.toml", practiceText + "[return]\nhold_days = 15\n", 2, true},
		{"a layout", "layouts/a.toml", "sender = \"north\"\nversion = \"1\"\n[[table]]\nname = \"followups\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.contact_on.heading = \"Day\"\n", 3, true},
	} {
		f.write(step.path, step.text)
		if report := night(); report.Batch.Number != step.batch || report.New != step.opened {
			t.Errorf("%s: batch %d, new %t", step.what, report.Batch.Number, report.New)
		}
	}
	if err := os.Remove(filepath.Join(f.dir, "layouts/a.toml")); err != nil {
		t.Fatal(err)
	}
	if report := night(); report.Batch.Number != 4 {
		t.Errorf("a layout gone: batch %d", report.Batch.Number)
	}
	for batch, want := range map[int]string{1: "practice.toml 14", 2: "practice.toml 15", 3: "layouts/a.toml practice.toml 15", 4: "practice.toml 15"} {
		files, err := l.SettingsAt(t.Context(), batch)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, file := range files {
			got = append(got, file.Path)
		}
		practice, err := l.PracticeAt(t.Context(), batch)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, map[int]string{14: "14", 15: "15"}[practice.Return.HoldDays])
		if strings.Join(got, " ") != want {
			t.Errorf("settings of batch %d: %v, want %s", batch, got, want)
		}
	}
	f.write("practice.toml", practiceText+"[retrun]\n")
	_, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test"})
	var problems *settings.Problems
	if !errors.As(err, &problems) {
		t.Errorf("wrong settings: %v", err)
	}
}

// A run that is interrupted returns the context's error, and the next finishes it.
func TestInterrupted(t *testing.T) {
	f := newFolder(t)
	var rows bytes.Buffer
	rows.WriteString("session_id,episode_id,session_date,attendance\n")
	for i := range 2 * smallRows {
		rows.WriteString("s" + strings.Repeat("x", i%20) + string(rune('a'+i%26)) + ",e1,2026-01-01,attended\n")
	}
	f.write("inbox/north/a.csv", rows.String())
	l := f.open()
	defer shut(t, l)
	ctx, cancel := context.WithCancel(t.Context())
	stop := func(e Event) {
		if e.Stage == "rows" {
			cancel()
		}
	}
	if _, err := Run(ctx, Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test", Progress: stop}); !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
	files, err := l.Files(t.Context(), newest)
	if err != nil || len(files) != 0 {
		t.Fatalf("half a file is in: %+v, %v", files, err)
	}
	report, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(6), Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if report.Resumed != 1 || report.New || report.Batch.ReceivedOn.Day() != 5 || report.Files[0].Counts.Read != 2*smallRows {
		t.Errorf("%+v", report)
	}
}
