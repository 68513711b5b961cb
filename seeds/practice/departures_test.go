package practice

import (
	"bytes"
	"slices"
	"testing"
)

// Each reads the very rows that Tables gives.
func TestEachReadsWhatTablesGives(t *testing.T) {
	p := small(t, 120)
	tables, err := Tables(p)
	if err != nil {
		t.Fatal(err)
	}
	for table, name := range tableNames {
		n := 0
		err := p.Each(name, headings()[table], func(cells [][]byte) {
			for i, cell := range cells {
				if string(cell) != tables[name][n][i] {
					t.Fatalf("%s, row %d: %q, wanted %q", name, n, cell, tables[name][n][i])
				}
			}
			n++
		})
		if err != nil || n != len(tables[name]) {
			t.Errorf("%s: %d rows of %d, %v", name, n, len(tables[name]), err)
		}
	}
	if p.Each("episodes", []string{"start"}, func([][]byte) {}) == nil || p.Each("episode", nil, func([][]byte) {}) == nil {
		t.Error("a column and a table that do not exist were read")
	}
}

// A brief practice is the same one without the later bouts.
func TestABriefPracticeIsTheSameWithoutLaterBouts(t *testing.T) {
	s := Default()
	s.Episodes = 150
	brief, err := DrawBrief(s)
	if err != nil {
		t.Fatal(err)
	}
	whole := small(t, 150)
	same := func(a, b row) bool { return bytes.Equal(a.line, b.line) && a.known == b.known && a.key == b.key }
	for table := range whole.rows {
		if table != boutsTable && !slices.EqualFunc(whole.rows[table], brief.rows[table], same) {
			t.Errorf("%s is not the same", tableNames[table])
		}
	}
	at := 0
	for _, r := range whole.rows[boutsTable] {
		if at < len(brief.rows[boutsTable]) && same(r, brief.rows[boutsTable][at]) {
			at++
		}
	}
	if n := len(brief.rows[boutsTable]); at != n || n < 2000 || 2*n > len(whole.rows[boutsTable]) {
		t.Errorf("%d of %d brief bouts are among the %d", at, n, len(whole.rows[boutsTable]))
	}
}

// Every departure changes the records, and of each only the tables it is about.
func TestDeparturesChangeWhatTheyAreAbout(t *testing.T) {
	base := Default()
	base.Episodes = 300
	plain, err := Draw(base)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(*Departures)
		same   []int // tables left as they were
	}{
		"loss":       {func(d *Departures) { d.LossFactor = 4 }, nil},
		"covariates": {func(d *Departures) { d.CovariateGaps = 0.3 }, []int{sessionsTable, boutsTable, measurementsTable, milestonesTable}},
		"bouts":      {func(d *Departures) { d.BoutGaps = 0.1 }, []int{episodesTable, milestonesTable, eventsTable}},
		"persons":    {func(d *Departures) { d.PersonSpread = 0.6 }, nil},
		"clinicians": {func(d *Departures) { d.ClinicianSpread = 0.2 }, nil},
		"limb":       {func(d *Departures) { d.LimbDrivesReturn = true }, nil},
		"shape":      {func(d *Departures) { d.OtherShape = true }, []int{episodesTable, sessionsTable, boutsTable, milestonesTable, eventsTable}},
	} {
		s := base
		c.change(&s.Departures)
		p, err := Draw(s)
		if err != nil {
			t.Fatal(err)
		}
		changed := false
		for table := range p.rows {
			same := slices.EqualFunc(p.rows[table], plain.rows[table], func(a, b row) bool { return bytes.Equal(a.line, b.line) })
			changed = changed || !same
			if !same && slices.Contains(c.same, table) {
				t.Errorf("%s: %s is not as it was", name, tableNames[table])
			}
		}
		if !changed {
			t.Errorf("%s: nothing changed", name)
		}
	}
}

// Where the limb drives the return, the stronger are back earlier; elsewhere
// the one says nothing about the other.
func TestTheLimbDrivesTheReturnWhereItIsToldTo(t *testing.T) {
	for _, driven := range []bool{false, true} {
		s := Default()
		s.LimbDrivesReturn = driven
		w, err := newWorld(s)
		if err != nil {
			t.Fatal(err)
		}
		var sum, n [2]float64
		for number := range 4000 {
			e := w.drawEpisode(number, drawPerson(&s, number), 0)
			b := w.drawBody(stream(s.Seed, number, forBody), &e, &course{})
			high := 0
			if b.ratio.intercept > e.ratioShift() {
				high = 1
			}
			sum[high], n[high] = sum[high]+e.need, n[high]+1
		}
		slower := sum[0] / n[0] / (sum[1] / n[1])
		if driven && slower < 1.4 || !driven && (slower < 0.9 || slower > 1.1) {
			t.Errorf("driven %t: the weaker need %.2f times as long", driven, slower)
		}
	}
}

// A truth of few figures is the same one.
func TestTruthOfAFewFiguresIsTheSame(t *testing.T) {
	s := Default()
	const code = "calf_strain"
	few, err := TruthOf(s, []string{code}, 8000, 2000, 24)
	if err != nil {
		t.Fatal(err)
	}
	all := committed(t)
	compared := 0
	for _, v := range few.Values {
		want, ok := all.Find(v.Name())
		if !ok {
			t.Fatalf("%s is not in the truth file", v.Name())
		}
		// Events of the last 24 months are not quite those of all 30.
		if off := v.Value - want.Value; off*off > 25*(v.SE*v.SE+want.SE*want.SE)+1e-6 {
			t.Errorf("%s: %.5f (%.5f), the file has %.5f", v.Name(), v.Value, v.SE, want.Value)
		}
		compared++
	}
	if compared < 60 {
		t.Errorf("only %d values", compared)
	}
	if _, err := TruthOf(s, []string{"sore_leg"}, 100, 100, 24); err == nil {
		t.Error("an injury type that nobody has has a truth")
	}
}
