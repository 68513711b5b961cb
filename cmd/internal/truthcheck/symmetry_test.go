package truthcheck

import (
	"cmp"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/export"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
	"evenlimb/seeds/reference"
)

// TestSymmetryHoldsTheTruth holds the typical index and the difference in girth
// at weeks 6 and 12, of all types of five practices, against their truth.
func TestSymmetryHoldsTheTruth(t *testing.T) {
	data, err := os.ReadFile("../../../testdata/truth/default.json")
	if err != nil {
		t.Fatal(err)
	}
	truth, err := practice.ReadTruth(data)
	if err != nil {
		t.Fatal(err)
	}
	for seed := uint64(1); seed <= 5; seed++ {
		s := practice.Default()
		s.Seed = seed
		began := time.Now()
		in := symmetryOf(t, s)
		t.Log("draw", time.Since(began))
		began = time.Now()
		set, err := symmetry.Analyse(in)
		if err != nil {
			t.Fatal(err)
		}
		t.Log("analyse", time.Since(began), len(set.Figures))
		for _, v := range truth.Values {
			if v.Question != "symmetry" {
				continue
			}
			sign := 1.0
			stat := v.Statistic
			if stat == "girth_difference" {
				sign = -1
			}
			if stat == "baseline_referenced_index" {
				stat = "baseline_index"
			}
			id := "symmetry." + v.InjuryType + "." + v.Measure + ".24m/" + stat + "@" + v.X
			i := slices.IndexFunc(set.Figures, func(f result.Figure) bool { return f.ID == id })
			if i < 0 {
				t.Log(seed, id, "not there")
				continue
			}
			f := set.Figures[i]
			if f.Value == nil {
				t.Log(seed, id, f.Reason)
				continue
			}
			z := (*f.Value - sign*v.Value) / *f.StdError
			if v.InjuryType == "calf_strain" || math.Abs(z) > 3 {
				t.Logf("%d %s %.3f truth %.3f se %.3f z %.2f n %d %v", seed, id, *f.Value, sign*v.Value, *f.StdError, z, *f.Persons, f.Warnings)
			}
		}
	}
}

// symmetryOf draws a practice and pairs its measurements in the plain way.
func symmetryOf(t *testing.T, s practice.Scenario) symmetry.Input {
	t.Helper()
	drawn, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	tables, err := practice.Tables(drawn)
	if err != nil {
		t.Fatal(err)
	}
	set, err := settings.Parse(drawn.Settings(), "practice.toml")
	if err != nil {
		t.Fatal(err)
	}
	in := symmetry.Input{Month: s.Start.AddDate(0, s.Months-1, 0), WindowMonths: set.Return.WindowMonths, Rules: set.Symmetry, InjuryTypes: reference.Codes("injury_types"), Batch: 1}
	cell := cellsOf(t, "episodes")
	day := func(text string) time.Time {
		d, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	slices.SortFunc(tables["episodes"], func(a, b practice.Row) int { return strings.Compare(cell(a, "episode_id"), cell(b, "episode_id")) })
	persons, episodes, sides := map[string]int{}, map[string]int{}, map[int]string{}
	for _, r := range tables["episodes"] {
		key := len(episodes) + 1
		person := cell(r, "person_id")
		if person == "" {
			person = "?" + cell(r, "episode_id")
		}
		if persons[person] == 0 {
			persons[person] = len(persons) + 1
		}
		episodes[cell(r, "episode_id")], sides[key] = key, cell(r, "side")
		in.Episodes = append(in.Episodes, warehouse.SymmetryEpisode{
			EpisodeKey: key, PersonKey: persons[person], Site: cell(r, "site"), InjuryType: cell(r, "injury_type"), StartDate: day(cell(r, "start_date")),
			Bilateral: cell(r, "side") == "bilateral", Severity: cell(r, "severity"),
		})
	}
	type visit struct {
		episode int
		measure string
		day     int
	}
	sums := map[string]map[visit][]float64{"involved": {}, "uninvolved": {}}
	cell = cellsOf(t, "measurements")
	for _, r := range tables["measurements"] {
		key := episodes[cell(r, "episode_id")]
		if key == 0 || cell(r, "side") == "none" || sides[key] == "bilateral" {
			continue
		}
		limb := "uninvolved"
		if cell(r, "side") == sides[key] {
			limb = "involved"
		}
		value, err := strconv.ParseFloat(cell(r, "value"), 64)
		if err != nil {
			t.Fatal(err)
		}
		at := visit{key, cell(r, "measure"), int(day(cell(r, "measured_on")).Sub(in.Episodes[key-1].StartDate).Hours() / 24)}
		sums[limb][at] = append(sums[limb][at], value)
	}
	mean := func(xs []float64) float64 {
		var sum float64
		for _, x := range xs {
			sum += x
		}
		return sum / float64(len(xs))
	}
	for v, xs := range sums["involved"] {
		e := in.Episodes[v.episode-1]
		p := warehouse.SidePair{
			EpisodeKey: v.episode, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate, Severity: e.Severity,
			Measure: v.measure, Day: v.day, Involved: mean(xs),
		}
		for _, off := range []int{0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5, -6, 6, -7, 7} {
			if ys, ok := sums["uninvolved"][visit{v.episode, v.measure, v.day + off}]; ok {
				p.Uninvolved, p.UninvolvedDay = mean(ys), v.day+off
				index := 100 * p.Involved / p.Uninvolved
				p.IndexPercent = &index
				break
			}
		}
		if p.IndexPercent == nil {
			continue
		}
		for d := range 8 {
			if ys, ok := sums["uninvolved"][visit{v.episode, v.measure, d}]; ok {
				base := mean(ys)
				index := 100 * p.Involved / base
				p.UninvolvedBaseline, p.BaselinePercent = &base, &index
				break
			}
		}
		in.Pairs = append(in.Pairs, p)
	}
	slices.SortFunc(in.Pairs, func(a, b warehouse.SidePair) int {
		return cmp.Or(cmp.Compare(a.EpisodeKey, b.EpisodeKey), strings.Compare(a.Measure, b.Measure), cmp.Compare(a.Day, b.Day))
	})
	return in
}

// cellsOf returns a function that finds a cell of a row by its column.
func cellsOf(t *testing.T, table string) func(r practice.Row, column string) string {
	t.Helper()
	found, ok := export.Find(table)
	if !ok {
		t.Fatalf("no export table %s", table)
	}
	at := map[string]int{}
	for i, c := range found.Columns {
		at[c.Name] = i
	}
	return func(r practice.Row, column string) string { return r[at[column]] }
}
