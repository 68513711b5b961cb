package truthcheck

import (
	"bytes"
	"cmp"
	"encoding/csv"
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

// TestSymmetryHoldsTheTruth holds the typical index, the index against baseline
// and the difference in girth at weeks 6 and 12, of all types of five practices,
// against their truth.
func TestSymmetryHoldsTheTruth(t *testing.T) {
	truth := committedTruth(t)
	statistics := map[string]string{"typical_index": "typical_index", "baseline_referenced_index": "baseline_index", "girth_difference": "girth_difference"}
	var mean float64
	compared := 0
	for seed := uint64(1); seed <= 5; seed++ {
		s := practice.Default()
		s.Seed, s.Clean = seed, true
		in := symmetryOf(t, s)
		in.Rules.ThresholdWeeks = nil // its intervals take most of the time and have no truth
		set, err := symmetry.Analyse(t.Context(), in)
		if err != nil {
			t.Fatal(err)
		}
		figures := map[string]result.Figure{}
		for _, f := range set.Figures {
			figures[f.ID] = f
		}
		within := 0
		for _, v := range truth.Values {
			if v.Question != "symmetry" {
				continue
			}
			id := result.ID(result.PictureID("symmetry", v.InjuryType, "", "", "", v.Measure, "24m"), statistics[v.Statistic], v.X)
			f := figures[id]
			if f.Value == nil {
				if f.Reason == "" {
					t.Errorf("seed %d: %s is not there", seed, id)
				}
				continue
			}
			want := v.Value
			if v.Statistic == "girth_difference" {
				want = -want // the truth says by how much the involved side is thinner
			}
			off := (*f.Value - want) / math.Hypot(*f.StdError, v.SE)
			if math.Abs(off) > 4 {
				t.Errorf("seed %d: %s is %.3f, its truth %.3f: %.1f standard errors of %.3f off", seed, id, *f.Value, want, off, *f.StdError)
			}
			mean += off
			within++
		}
		if within < 40 {
			t.Errorf("seed %d: only %d figures were compared", seed, within)
		}
		compared += within
	}
	// Not a test of coverage: it would see a bias of a third of a standard error
	// that all types share.
	if mean /= float64(compared); math.Abs(mean) > 0.33 {
		t.Errorf("the %d figures are %.2f standard errors off on average", compared, mean)
	}
	t.Logf("%d figures, on average %.2f standard errors off", compared, mean)
}

func committedTruth(t *testing.T) *practice.Truth {
	t.Helper()
	data, err := os.ReadFile("../../../testdata/truth/default.json")
	if err != nil {
		t.Fatal(err)
	}
	truth, err := practice.ReadTruth(data)
	if err != nil {
		t.Fatal(err)
	}
	return truth
}

// symmetryOf draws a practice and pairs its measurements in the plain way.
func symmetryOf(t *testing.T, s practice.Scenario) symmetry.Input {
	t.Helper()
	drawn, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	tables := map[string][]practice.Row{"episodes": sent(t, drawn, "episodes"), "measurements": sent(t, drawn, "measurements")}
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

// sent returns the last version of every row of a table that the practice sent.
// Reading two tables as they were sent is much faster than all of them in memory.
func sent(t *testing.T, p *practice.Practice, table string) []practice.Row {
	t.Helper()
	found, ok := export.Find(table)
	if !ok {
		t.Fatalf("no export table %s", table)
	}
	var keys []int
	for i, c := range found.Columns {
		if slices.Contains(found.Key, c.Name) || slices.Contains(found.FallbackKey, c.Name) {
			keys = append(keys, i)
		}
	}
	var rows []practice.Row
	at := map[string]int{}
	for _, d := range p.Deliveries() {
		for _, f := range d.Files {
			if !strings.HasSuffix(f.Name, "_"+table+".csv") {
				continue
			}
			reader := csv.NewReader(bytes.NewReader(f.Data))
			lines, err := reader.ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range lines[1:] {
				var key strings.Builder
				for _, k := range keys {
					key.WriteString(line[k] + "|")
				}
				if i, known := at[key.String()]; known {
					rows[i] = line
					continue
				}
				at[key.String()] = len(rows)
				rows = append(rows, line)
			}
		}
	}
	return rows
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
