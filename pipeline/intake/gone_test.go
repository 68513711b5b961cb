package intake

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
)

// northLayout is a layout for complete deliveries of sessions of the site north.
const northLayout = `sender = "north"
version = "1"
[file]
match = ["sessions*.csv"]
[delivery]
kind = "complete"
site = "north"
brake_percent = 40
[[table]]
name = "sessions"
[table.columns.session_id]
heading = "Visit"
[table.columns.episode_id]
heading = "Case"
[table.columns.session_date]
heading = "Day"
[table.columns.attendance]
heading = "Came"
codes = { "Y" = "attended", "N" = "missed" }
`

// visits writes a delivery by that layout.
func visits(keys string) string {
	var b strings.Builder
	b.WriteString("Visit,Case,Day,Came\n")
	for _, key := range strings.Fields(keys) {
		fmt.Fprintf(&b, "%s,e1,2026-01-01,Y\n", key)
	}
	return b.String()
}

// completePractice has taken in an episode of each of two sites and a complete
// delivery of five sessions of one of them.
func completePractice(t *testing.T) folder {
	t.Helper()
	f := newFolder(t)
	f.write("practice.toml", strings.ReplaceAll(practiceText, `senders = ["south"]`, `senders = ["south", "north"]`))
	f.write("layouts/north.toml", northLayout)
	f.write("inbox/north/1_episodes.csv", "episode_id,site,injury_type,side,start_date\ne1,north,calf_strain,left,2026-01-01\ne2,south,calf_strain,left,2026-01-01\n")
	f.write("inbox/north/2_other.csv", "session_id,episode_id,session_date,attendance\no1,e2,2026-01-01,attended\no2,nobody,2026-01-01,attended\n")
	f.write("inbox/north/sessions1.csv", visits("s1 s2 s3 s4 s5"))
	f.night(5)
	return f
}

// stopped is what a run says that a check stopped.
type stopped struct{ code, words string }

// night takes in what is new and returns what became of its last file, and what
// stopped the run; any other error fails the test.
func (f folder) night(day int, also ...warehouse.Planned) (last FileReport, stop *stopped) {
	f.t.Helper()
	var by *StopError
	f.landing(func(l *warehouse.Landing) error {
		report, err := Run(f.t.Context(), Input{Dir: f.dir, Landing: l, Now: january(day), Program: "test", Also: also})
		if len(report.Files) > 0 {
			last = report.Files[len(report.Files)-1]
		}
		if errors.As(err, &by) {
			stop = &stopped{by.Code, by.Words}
			return nil
		}
		return err
	})
	if c := last.Counts; c.Read != c.Accepted+c.Duplicates+c.Corrections+c.Withdrawals+c.Quarantined {
		f.t.Errorf("%s: the sum does not hold: %+v", last.Path, c)
	}
	return last, stop
}

// landing hands over the open landing store.
func (f folder) landing(use func(*warehouse.Landing) error) {
	f.t.Helper()
	l := f.open()
	defer shut(f.t, l)
	if err := use(l); err != nil {
		f.t.Fatal(err)
	}
}

// standing lists the sessions that hold, as the store has them.
func (f folder) standing() string {
	f.t.Helper()
	var list []string
	f.look(func(rows func(string) []string) {
		list = rows(`select session_id || ':' || attendance from (
			select * from sessions qualify row_number() over (partition by _key order by _file desc, _line desc) = 1)
			where _action <> 'withdrawal' order by session_id`)
	})
	return strings.Join(list, " ")
}

// findings are those of one file.
func (f folder) findings(file int) (list []warehouse.FileFinding) {
	f.t.Helper()
	f.landing(func(l *warehouse.Landing) (err error) {
		list, err = l.FileFindings(f.t.Context(), file)
		return err
	})
	return list
}

func TestACompleteDeliveryWithdrawsWhatItLeavesOut(t *testing.T) {
	t.Parallel()
	f := completePractice(t)
	f.write("inbox/north/sessions2.csv", visits("s1 s2 s3 s6"))
	got, stop := f.night(6)
	if want := (warehouse.Counts{Read: 4, Accepted: 1, Duplicates: 3, Gone: 2}); stop != nil || got.Counts != want {
		t.Fatalf("two of five gone: %+v, %v, want %+v", got.Counts, stop, want)
	}
	// Sessions of another site, and those whose site nobody knows, stay.
	if got, want := f.standing(), "o1:attended o2:attended s1:attended s2:attended s3:attended s6:attended"; got != want {
		t.Errorf("standing %s, want %s", got, want)
	}
	f.write("inbox/north/sessions3.csv", visits("s1 s2 s3 s4 s6"))
	if got, _ := f.night(7); got.Counts.Corrections != 1 || got.Counts.Gone != 0 {
		t.Errorf("one that comes back: %+v", got.Counts)
	}
}

func TestARejectedRowIsInTheDelivery(t *testing.T) {
	t.Parallel()
	f := completePractice(t)
	f.write("inbox/north/sessions2.csv", visits("s1 s2 s3 s4")+"s5,e1,2026-13-01,Y\n")
	got, _ := f.night(6)
	if want := (warehouse.Counts{Read: 5, Duplicates: 4, Quarantined: 1}); got.Counts != want {
		t.Fatalf("a row that is rejected, by its key: %+v, want %+v", got.Counts, want)
	}
	// A row without a readable key may be any of those that seem to be missing.
	f.write("inbox/north/sessions3.csv", visits("s1 s2 s3 s4")+",e1,2026-01-01,Y\n")
	got, _ = f.night(7)
	if want := (warehouse.Counts{Read: 5, Duplicates: 4, Quarantined: 1}); got.Counts != want {
		t.Errorf("a row without a key: %+v, want %+v", got.Counts, want)
	}
	if findings := f.findings(5); len(findings) != 1 || findings[0].Code != "gone_not_judged" {
		t.Errorf("findings %+v", findings)
	}
}

// TestAnExchangedKeyIsNotGone: the row is in the delivery under its new key.
func TestAnExchangedKeyIsNotGone(t *testing.T) {
	t.Parallel()
	f := completePractice(t)
	f.write("inbox/north/rekey.csv", "table,old_key,new_key\nsessions,s5,n5\n")
	f.write("inbox/north/sessions2.csv", visits("s1 s2 s3 n5"))
	got, stop := f.night(6)
	if want := (warehouse.Counts{Read: 4, Accepted: 1, Duplicates: 3, Gone: 1}); stop != nil || got.Counts != want {
		t.Errorf("%+v, %v, want %+v", got.Counts, stop, want)
	}
}

func TestTheBrakeHoldsADeliveryBack(t *testing.T) {
	t.Parallel()
	f := completePractice(t)
	before := f.standing()
	f.write("inbox/north/sessions2.csv", visits("s1 s2 s9"))
	f.write("inbox/south/1_bouts.csv", "session_id,bout_no,exercise\no1,1,knee_extension\n")
	got, stop := f.night(6)
	if stop == nil || stop.code != warehouse.HeldBack || !strings.Contains(stop.words, "3 of 5 rows of sessions") || !strings.Contains(stop.words, "--accept inbox/north/sessions2.csv") {
		t.Fatalf("three of five gone: %v", stop)
	}
	if got.Table != "bouts" || got.Counts.Accepted != 1 {
		t.Errorf("the file after it: %+v", got)
	}
	if now := f.standing(); now != before {
		t.Errorf("something of it was kept: %s, before %s", now, before)
	}
	if _, stop := f.night(7); stop == nil {
		t.Error("the next night forgot it")
	}
	var meant warehouse.Planned
	f.landing(func(l *warehouse.Landing) (err error) {
		if _, err := Accept(t.Context(), l, "inbox/north/session2.csv"); err == nil || !strings.Contains(err.Error(), "inbox/north/sessions2.csv") {
			t.Errorf("a file that is not held back: %v", err)
		}
		meant, err = Accept(t.Context(), l, "inbox/north/sessions2.csv")
		return err
	})
	got, stop = f.night(8, meant)
	if want := (warehouse.Counts{Read: 3, Accepted: 1, Duplicates: 2, Gone: 3}); stop != nil || got.Counts != want {
		t.Errorf("accepted: %+v, %v, want %+v", got.Counts, stop, want)
	}
}

func TestAHeldDeliveryCanBeGoneOnWithout(t *testing.T) {
	t.Parallel()
	answers := map[string]func(f folder){
		"set aside": func(f folder) {
			f.landing(func(l *warehouse.Landing) error { return SetAside(f.t.Context(), l, "north/sessions2.csv", january(7)) })
		},
		"a later delivery": func(f folder) { f.write("inbox/north/sessions3.csv", visits("s1 s2 s3 s4")) },
	}
	for name, answer := range answers {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := completePractice(t)
			f.write("inbox/north/sessions2.csv", visits("s1"))
			if _, stop := f.night(6); stop == nil {
				t.Fatal("it was not held back")
			}
			answer(f)
			if _, stop := f.night(7); stop != nil {
				t.Errorf("still held back: %v", stop)
			}
			if got := strings.Fields(f.standing()); len(got) < 6 {
				t.Errorf("standing %v", got)
			}
		})
	}
}
