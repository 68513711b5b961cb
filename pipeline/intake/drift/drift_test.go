package drift

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

const (
	north    = "north"
	sessions = "sessions"
)

// whole is the profile of a column of n rows of which filled have a value.
func whole(batch int, column string, n, filled int) Profile {
	return Profile{Batch: batch, Sender: north, Table: sessions, Column: column, Rows: n, Filled: filled}
}

func rows(batch, n int) Profile { return whole(batch, "", n, n) }

func measured(batch int, column, part string, n int, middle, width float64) Profile {
	p := whole(batch, column, n, n)
	p.Part, p.Measured, p.Low, p.Middle, p.High = part, true, middle-width/2, middle, middle+width/2
	return p
}

func coded(batch int, column, code string, n, of int) Profile {
	p := whole(batch, column, of, n)
	p.Part = code
	return p
}

// past makes a history of a thousand rows and eight nights of fifty.
func past(night func(batch, n int) []Profile) []Profile {
	all := append(night(1, 1000), rows(1, 1000))
	for batch := 2; batch <= 9; batch++ {
		all = append(append(all, night(batch, 50)...), rows(batch, 50))
	}
	return all
}

func codes(found []Finding) string {
	var list []string
	for _, f := range found {
		list = append(list, f.Code)
	}
	return strings.Join(list, " ")
}

func TestFillFalls(t *testing.T) {
	before := past(func(b, n int) []Profile { return []Profile{whole(b, "effort", n, n*9/10)} })
	for _, c := range []struct {
		name         string
		rows, filled int
		want         string
	}{
		{"as before", 50, 45, ""},
		{"somewhat less", 50, 30, ""},
		{"a third", 50, 15, FillFalls},
		{"nothing", 50, 0, FillFalls},
		{"too few rows to say", 19, 0, ""},
		{"just enough", 20, 0, FillFalls},
		{"more than before", 50, 50, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := Judge([]Profile{rows(10, c.rows), whole(10, "effort", c.rows, c.filled)}, before, nil, nil)
			if got := codes(found); got != c.want {
				t.Errorf("found %q, want %q: %v", got, c.want, found)
			}
		})
	}
	found := Judge([]Profile{rows(10, 50), whole(10, "effort", 50, 5)}, before, nil, nil)
	const want = "effort was filled in in 90 % of the rows before and is in 10 % of the 50 new ones; ask whether its export still has it"
	if len(found) != 1 || found[0].Words != want {
		t.Errorf("words %v, want %q", found, want)
	}
}

// TestScatterExcuses shows that what differs from night to night is no drift.
func TestScatterExcuses(t *testing.T) {
	night := 0
	before := past(func(b, n int) []Profile {
		night++
		return []Profile{whole(b, "effort", n, []int{n, n / 4, n * 3 / 4, n / 3}[night%4])}
	})
	if found := Judge([]Profile{rows(10, 50), whole(10, "effort", 50, 10)}, before, nil, nil); len(found) > 0 {
		t.Errorf("found %v", found)
	}
}

func TestUnitJumps(t *testing.T) {
	before := past(func(b, n int) []Profile { return []Profile{measured(b, "value", "girth_calf", n/2, 36, 4)} })
	for _, c := range []struct {
		name   string
		middle float64
		n      int
		want   string
	}{
		{"as before", 36.8, 25, ""},
		{"inches", 36 / 2.54, 25, UnitJumps},
		{"millimetres", 360, 25, UnitJumps},
		{"inches of a dozen", 36 / 2.54, 12, UnitJumps},
		{"inches of eleven", 36 / 2.54, 11, ""},
		{"half as much again", 36 * 1.55, 25, ValueJumps},
		{"a little more", 36 * 1.4, 25, ""},
		{"of another sign", -36, 25, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := Judge([]Profile{rows(10, 50), measured(10, "value", "girth_calf", c.n, c.middle, 4*c.middle/36)}, before, nil, nil)
			if got := codes(found); got != c.want {
				t.Errorf("found %q, want %q: %v", got, c.want, found)
			}
		})
	}
	found := Judge([]Profile{rows(10, 50), measured(10, "value", "girth_calf", 25, 14.2, 1.6)}, before, nil, nil)
	const want = "the middle of value of girth_calf was 36 and is 14.2 in the 25 new values, as an inch and a centimetre differ; ask in what unit it is recorded now, and say so in the layout"
	if len(found) != 1 || found[0].Words != want {
		t.Errorf("words %v, want %q", found, want)
	}
	for ratio, want := range map[float64]string{2.54: "inch", 1 / 2.2046: "pound and a kilogram", 0.102: "kilogram of force", 10.4: "centimetre and a millimetre", 3.3: "", 1.2: "", 0.01: "share of 1", 60: "minute"} {
		if got := unitWords(ratio); (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("factor %g: %q, want %q", ratio, got, want)
		}
	}
}

func TestCodes(t *testing.T) {
	before := past(func(b, n int) []Profile {
		return []Profile{whole(b, "setting", n, n), coded(b, "setting", "clinic", n*8/10, n), coded(b, "setting", "home", n*2/10, n)}
	})
	night := func(clinic, home, remote, klinic int) []Profile {
		n := clinic + home + remote + klinic
		list := []Profile{rows(10, n), whole(10, "setting", n, n)}
		for code, count := range map[string]int{"clinic": clinic, "home": home, "remote": remote, "klinic": klinic} {
			if count > 0 {
				list = append(list, coded(10, "setting", code, count, n))
			}
		}
		return list
	}
	for _, c := range []struct {
		name string
		now  []Profile
		want string
	}{
		{"as before", night(38, 12, 0, 0), ""},
		{"the share turns", night(15, 35, 0, 0), "share_moves share_moves"},
		{"one code is gone", night(0, 50, 0, 0), "share_moves share_moves"},
		{"a new one, rarely", night(39, 9, 2, 0), ""},
		{"a new one, five times", night(38, 7, 5, 0), NewCode},
		{"few rows", night(0, 39, 0, 0), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := codes(Judge(c.now, before, nil, nil)); got != c.want {
				t.Errorf("found %q, want %q", got, c.want)
			}
		})
	}
	found := Judge(night(0, 10, 0, 40), before, nil, nil)
	if got := codes(found); got != "new_code share_moves" || !strings.Contains(found[0].Words, "clinic, which it sent before, no longer comes") {
		t.Errorf("a code that took another's place: %v", found)
	}
}

func TestOneValue(t *testing.T) {
	effort := func(b, n, common int) Profile {
		p := whole(b, "effort", n, n)
		p.Common, p.CommonCount = "5", common
		return p
	}
	before := past(func(b, n int) []Profile { return []Profile{effort(b, n, n*3/10)} })
	for _, c := range []struct {
		n, common int
		want      string
	}{{50, 15, ""}, {50, 39, ""}, {50, 40, OneValue}, {50, 50, OneValue}, {39, 39, ""}} {
		if got := codes(Judge([]Profile{rows(10, c.n), effort(10, c.n, c.common)}, before, nil, nil)); got != c.want {
			t.Errorf("%d of %d: found %q, want %q", c.common, c.n, got, c.want)
		}
	}
	always := past(func(b, n int) []Profile { return []Profile{effort(b, n, n*9/10)} })
	if found := Judge([]Profile{rows(10, 50), effort(10, 50, 50)}, always, nil, nil); len(found) > 0 {
		t.Errorf("a column that always had one value: %v", found)
	}
}

func TestHeadings(t *testing.T) {
	file := func(batch int, names ...string) Header { return Header{batch, north, sessions, names} }
	before := []Header{file(1, "Datum", "Anwesenheit", "Dauer", ""), file(2, "Datum", "Anwesenheit", "Dauer")}
	for _, c := range []struct {
		name string
		now  Header
		want string
	}{
		{"the same", file(3, "Datum", "Anwesenheit", "Dauer"), ""},
		{"in another order", file(3, "Dauer", "Datum", "Anwesenheit"), ""},
		{"one more", file(3, "Datum", "Anwesenheit", "Dauer", "Ort"), "new_heading"},
		{"one fewer", file(3, "Datum", "Anwesenheit"), "heading_gone"},
		{"most of them others", file(3, "Datum", "Name", "Preis"), ""},
		{"one renamed", file(3, "Datum", "Anwesenheit", "Dauer min"), "heading_gone new_heading"},
		{"a column of ours", file(3, "Datum", "Anwesenheit", "Dauer", "row_state", "minutes"), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := codes(Judge(nil, nil, []Header{c.now}, before)); got != c.want {
				t.Errorf("found %q, want %q", got, c.want)
			}
		})
	}
	found := Judge(nil, nil, []Header{file(3, "Datum", "Anwesenheit", "Dauern")}, before)
	if len(found) != 2 || !strings.Contains(found[1].Words, `"Dauer", which stood before, is gone`) {
		t.Errorf("found %v", found)
	}
	found = Judge(nil, nil, []Header{file(3, "Datum", "Anwesenheit", "Minutes, net")}, before)
	if len(found) != 2 || !strings.Contains(found[1].Words, `"Dauer", which stood before, is gone`) {
		t.Errorf("the only one gone beside the only one new: %v", found)
	}
	if found := Judge(nil, nil, []Header{file(3, "visit", "came", "Datum")}, before); len(found) > 0 {
		t.Errorf("a second system of the sender: %v", found)
	}
	two := append(slices.Clone(before), file(1, "visit", "came"), file(2, "visit", "came"))
	if found := Judge(nil, nil, []Header{file(3, "Datum", "Anwesenheit", "Dauer")}, two); len(found) > 0 {
		t.Errorf("a system that sent nothing: %v", found)
	}
	if found := Judge(nil, nil, []Header{file(1, "Datum")}, nil); len(found) > 0 {
		t.Errorf("a first file: %v", found)
	}
}

func TestKeysChanged(t *testing.T) {
	shaped := func(b int, column, shape string, n int) Profile {
		return Profile{Batch: b, Sender: north, Table: sessions, Column: column, Part: Shape + shape, Rows: n, Filled: n}
	}
	known := func(b, n, of int) Profile {
		return Profile{Batch: b, Sender: north, Table: sessions, Column: "episode_id", Part: Known, Rows: of, Filled: n}
	}
	twins := func(b, n, of int) Profile {
		return Profile{Batch: b, Sender: north, Table: sessions, Part: Twins, Rows: of, Filled: n}
	}
	before := past(func(b, n int) []Profile {
		seen := n / 5 * 9 / 10
		if b == 1 {
			seen = 0
		}
		return []Profile{shaped(b, "episode_id", "a9", n), known(b, seen, n/5), twins(b, 0, n/10)}
	})
	for _, c := range []struct {
		name string
		now  Profile
		want string
	}{
		{"keys as before", shaped(10, "episode_id", "a9", 50), ""},
		{"keys unlike any before", shaped(10, "episode_id", "a-9-9", 50), KeysChanged},
		{"too few to say", shaped(10, "episode_id", "a-9-9", 19), ""},
		{"episodes known", known(10, 18, 20), ""},
		{"some known", known(10, 1, 20), ""},
		{"none known", known(10, 0, 20), KeysChanged},
		{"none known of nineteen", known(10, 0, 19), ""},
		{"new episodes", twins(10, 0, 20), ""},
		{"episodes under other keys", twins(10, 10, 20), KeysChanged},
		{"some look alike", twins(10, 9, 20), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := Judge([]Profile{rows(10, 50), c.now}, before, nil, nil)
			if got := codes(found); got != c.want {
				t.Errorf("found %q, want %q: %v", got, c.want, found)
			}
			if c.want != "" && !strings.Contains(found[0].Words, "rekey.csv") {
				t.Errorf("no next step in %q", found[0].Words)
			}
		})
	}
	// Half of the new keys are as before: that is a second system, not a change.
	mixed := []Profile{rows(10, 50), shaped(10, "episode_id", "a9", 25), shaped(10, "episode_id", "x-x", 25)}
	if found := Judge(mixed, before, nil, nil); len(found) > 0 {
		t.Errorf("found %v", found)
	}
}

func TestFirstBatchIsTheMeasure(t *testing.T) {
	now := []Profile{rows(1, 50), whole(1, "effort", 50, 0)}
	for name, before := range map[string][]Profile{
		"nothing before": nil,
		"another sender": {{Batch: 0, Sender: "south", Table: sessions, Rows: 50, Filled: 50}},
		"later batches":  {rows(2, 50), whole(2, "effort", 50, 50)},
	} {
		if found := Judge(now, before, nil, nil); len(found) > 0 {
			t.Errorf("%s: %v", name, found)
		}
	}
}

// TestFalseAlarms draws nights from a practice in which nothing moves: columns
// whose rows come in clusters, of shares and numbers that differ from night to
// night. By the limits of chance about one comparison in two million is to be
// told; here are 40,000.
func TestFalseAlarms(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	comparisons, found := 0, 0
	for range 15 {
		before, now := stable(rng, 40, 12)
		for _, one := range now {
			comparisons += len(one)
			found += len(Judge(one, before, nil, nil))
			before = append(before, one...)
		}
	}
	t.Logf("%d findings in %d comparisons", found, comparisons)
	if found > 1 || comparisons < 40_000 {
		t.Errorf("%d findings in %d comparisons where nothing moved", found, comparisons)
	}
}

// stable draws a history and then nights of a sender with so many columns of each
// kind: shares filled, codes, numbers.
func stable(rng *rand.Rand, columns, nights int) (history []Profile, later [][]Profile) {
	const clusters = 3 // rows of one session
	base := make([]float64, columns)
	for i := range base {
		base[i] = 0.02 + 0.96*rng.Float64()
	}
	drawn := func(n int, p float64) (x int) {
		p = 1 / (1 + math.Exp(-(math.Log(p/(1-p)) + 0.15*rng.NormFloat64()))) // this night
		for range n / clusters {
			if rng.Float64() < p {
				x += clusters
			}
		}
		return x
	}
	night := func(batch, n int) []Profile {
		list := []Profile{rows(batch, n)}
		for i, p := range base {
			list = append(list, whole(batch, fmt.Sprintf("c%d", i), n, drawn(n, p)))
			list = append(list, coded(batch, "code", fmt.Sprintf("k%d", i), drawn(n, p), n))
			values := make([]float64, n/clusters)
			for j := range values {
				values[j] = 10 + 50*p + (2+6*p)*rng.NormFloat64()
			}
			slices.Sort(values)
			m := measured(batch, fmt.Sprintf("m%d", i), "", n, 0, 0)
			k := len(values)
			m.Low, m.Middle, m.High = values[k/4], values[k/2], values[k*3/4]
			list = append(list, m)
		}
		return append(list, whole(batch, "code", n, n))
	}
	history = night(1, 3000)
	for b := 2; b <= 4; b++ {
		history = append(history, night(b, 30+rng.IntN(120))...)
	}
	for b := range nights * 2 {
		later = append(later, night(5+b, 30+rng.IntN(120)))
	}
	return history, later
}
