package truthcheck

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2" // the engine of the queries

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/export"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/queries"
	"evenlimb/seeds/practice"
	"evenlimb/seeds/reference"
)

// contrasts is what one practice says about the thirds of dose, over all types
// that show them: the mean over persons of estimate less truth.
type contrasts struct {
	raw, standardised float64 // less the standardised truth
	rawSE, standardSE float64
	types             int
	worst             float64 // the standardised contrast of one type farthest off, in standard errors
	worstID           string
	quartiles         quartiles
}

// TestDoseHoldsTheTruth holds the standardised contrast of the thirds of dose
// against its truth for five practices: each type, and their mean. Over the
// five the raw contrast flatters a high dose and the standardised one does not.
func TestDoseHoldsTheTruth(t *testing.T) {
	truth := committedTruth(t)
	var raw, standardised, rawVariance, variance float64
	var all quartiles
	const seeds = 5
	for seed := uint64(1); seed <= seeds; seed++ {
		s := practice.Default()
		s.Seed, s.Clean = seed, true
		c := contrastsOf(t, s, truth)
		if c.types < 8 {
			t.Errorf("seed %d: only %d types were compared", seed, c.types)
		}
		if c.worst > 4 {
			t.Errorf("seed %d: %s is %.1f standard errors off", seed, c.worstID, c.worst)
		}
		if off := c.standardised / c.standardSE; math.Abs(off) > 4 {
			t.Errorf("seed %d: the standardised contrasts are %.1f standard errors off", seed, off)
		}
		c.quartiles.hold(t, fmt.Sprintf("seed %d", seed), 4)
		all.take(c.quartiles)
		t.Logf("seed %d: %d types, raw %+.3f (%.3f), standardised %+.3f (%.3f), worst %.1f of %s", seed, c.types, c.raw, c.rawSE, c.standardised, c.standardSE, c.worst, c.worstID)
		raw, standardised = raw+c.raw/seeds, standardised+c.standardised/seeds
		rawVariance, variance = rawVariance+c.rawSE*c.rawSE/seeds/seeds, variance+c.standardSE*c.standardSE/seeds/seeds
	}
	all.hold(t, "all seeds", 2.5)
	t.Logf("mean: raw %+.4f (%.4f), standardised %+.4f (%.4f)", raw, math.Sqrt(rawVariance), standardised, math.Sqrt(variance))
	if off := raw / math.Sqrt(rawVariance); off < 4 {
		t.Errorf("the raw contrasts are %.1f standard errors above the truth, wanted more than 4", off)
	}
	if off := standardised / math.Sqrt(variance); math.Abs(off) > 2 {
		t.Errorf("the standardised contrasts are %.1f standard errors off, wanted less than 2", off)
	}
}

// TestWithoutAnEffectOfDoseTheTruthIsOff draws people whom dose does nothing
// for and leaves the truth file as it is: the same comparison must fail.
func TestWithoutAnEffectOfDoseTheTruthIsOff(t *testing.T) {
	s := practice.Default()
	s.Clean, s.DoseEffect = true, 0
	c := contrastsOf(t, s, committedTruth(t))
	off := c.standardised / c.standardSE
	t.Logf("standardised %+.3f (%.3f), worst type %.1f", c.standardised, c.standardSE, c.worst)
	if off > -4 {
		t.Errorf("the standardised contrasts are only %.1f standard errors off though dose does nothing", off)
	}
}

// contrastsOf compares the contrasts of a practice's last month with a truth.
func contrastsOf(t *testing.T, s practice.Scenario, truth *practice.Truth) contrasts {
	t.Helper()
	in, wh := doseOf(t, s)
	defer func() {
		if err := wh.Close(); err != nil {
			t.Error(err)
		}
	}()
	in.Replicates = 200
	set, err := dose.Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	figures := map[string]result.Figure{}
	for _, f := range set.Figures {
		figures[f.ID] = f
	}
	if s.Seed == 1 && s.DoseEffect > 0 {
		standOnTheirRows(t, wh, set, figures)
	}
	c := contrasts{quartiles: quartilesOf(figures, in.InjuryTypes, truth)}
	var persons float64
	for _, injury := range in.InjuryTypes {
		picture := result.PictureID("dose", injury, "", "", "", "", "24m")
		raw, standardised := figures[picture+"/thirds_contrast_raw@w26"], figures[picture+"/thirds_contrast_standardised@w26"]
		want, ok := truth.Find("dose." + injury + ".sets/thirds_standardised@w26")
		if !ok || standardised.StdError == nil {
			continue
		}
		c.types++
		n := float64(*standardised.Persons)
		persons += n
		c.raw += n * (*raw.Value - want.Value)
		c.rawSE += n * n * (*raw.StdError**raw.StdError + want.SE*want.SE)
		c.standardised += n * (*standardised.Value - want.Value)
		variance := *standardised.StdError**standardised.StdError + want.SE*want.SE
		c.standardSE += n * n * variance
		if off := math.Abs(*standardised.Value-want.Value) / math.Sqrt(variance); off > c.worst {
			c.worst, c.worstID = off, standardised.ID
		}
	}
	c.raw, c.standardised = c.raw/persons, c.standardised/persons
	c.rawSE, c.standardSE = math.Sqrt(c.rawSE)/persons, math.Sqrt(c.standardSE)/persons
	return c
}

// standOnTheirRows finds the rows of every figure again by its predicate: as
// many episodes of as many persons as it says, in every part of the flow.
func standOnTheirRows(t *testing.T, wh *warehouse.Warehouse, set result.Set, figures map[string]result.Figure) {
	t.Helper()
	seen := map[string]int{}
	for _, source := range set.Sources {
		f := figures[source.FigureID]
		rows, err := wh.DoseEpisodes(t.Context(), source.Predicate)
		if err != nil {
			t.Fatal(err)
		}
		persons := map[int]bool{}
		for _, r := range rows {
			persons[r.PersonKey] = true
		}
		if len(rows) != *f.Episodes || len(persons) != *f.Persons {
			t.Errorf("%s: %d episodes of %d persons under %s; it says %d of %d", f.ID, len(rows), len(persons), source.Predicate, *f.Episodes, *f.Persons)
		}
		seen[f.Statistic] += len(rows)
	}
	for _, part := range []string{"left_out.returned", "left_out.ended_otherwise", "left_out.lost", "left_out.left_otherwise", "left_out.in_care", "left_out.at_target", "no_cuff_work"} {
		if seen[part] == 0 {
			t.Errorf("nobody is %s, so nothing was tested", part)
		}
	}
}

// doseOf draws a practice, reads its files as they were sent and runs the
// project's own queries up to published.dose_episodes and dose_covariates, in memory.
func doseOf(t *testing.T, s practice.Scenario) (dose.Input, *warehouse.Warehouse) {
	t.Helper()
	drawn, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	rules, err := settings.Parse(drawn.Settings(), "practice.toml")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "warehouse.duckdb")
	db, err := sql.Open("duckdb", path+"?threads=2")
	if err != nil {
		t.Fatal(err)
	}
	w := writer{t, db}
	for _, schema := range []string{"seeds", "settings", "landing", "clean", "derived", "published"} {
		w.run("create schema " + schema)
	}
	w.roots(rules, drawn)
	w.land(drawn)
	w.build("published.dose_episodes", "published.dose_covariates")
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	wh, err := warehouse.Open(t.Context(), path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	in := dose.Input{Month: s.Start.AddDate(0, s.Months-1, 0), WindowMonths: rules.Return.WindowMonths, Rules: rules.Dose, InjuryTypes: reference.Codes("injury_types"), Batch: 1}
	if in.Episodes, err = wh.DoseEpisodes(t.Context(), ""); err != nil {
		t.Fatal(err)
	}
	if in.Covariates, err = wh.DoseCovariates(t.Context(), ""); err != nil {
		t.Fatal(err)
	}
	return in, wh
}

// writer writes the tables of a warehouse that one published table needs.
type writer struct {
	t  *testing.T
	db *sql.DB
}

func (w writer) run(statement string) {
	w.t.Helper()
	if _, err := w.db.ExecContext(context.Background(), statement); err != nil {
		w.t.Fatalf("%.200s: %v", statement, err)
	}
}

// roots writes the settings, the date of the last delivery, and the code tables
// as the engine reads them.
func (w writer) roots(rules *settings.Practice, drawn *practice.Practice) {
	w.t.Helper()
	text := func(v any) string {
		return "'" + strings.ReplaceAll(strings.ReplaceAll(fmt.Sprint(v), "'", "''"), " ", ", ") + "'"
	}
	for _, table := range rules.Tables() {
		var columns []string
		for _, c := range table.Columns {
			columns = append(columns, c.Name+" "+c.Type)
		}
		w.run("create table settings." + table.Name + " (" + strings.Join(columns, ", ") + ")")
		for _, row := range table.Rows {
			var values []string
			for _, v := range row {
				values = append(values, text(v))
			}
			w.run("insert into settings." + table.Name + " values (" + strings.Join(values, ", ") + ")")
		}
	}
	all := drawn.Deliveries()
	w.run("create table settings.run as select 1 as as_of_batch, date '" + all[len(all)-1].ReceivedOn.Format("2006-01-02") + "' as received_on")
	for _, table := range reference.Tables() {
		var b strings.Builder
		for _, row := range append([][]string{table.Columns}, table.Rows...) {
			b.WriteString(strings.Join(row, "\t") + "\n")
		}
		path := filepath.Join(w.t.TempDir(), table.Name+".tsv")
		if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
			w.t.Fatal(err)
		}
		w.run("create table seeds." + table.Name + " as from read_csv('" + path + "', delim = '\t', header = true, quote = '')")
	}
}

// land writes the rows of all deliveries in the order in which they came: of two
// versions of a row the later line is the newer. To save time it leaves out
// measurements; bouts without the cuff, but for the first of a session; and
// those of sessions long after any window. None of them is work that counts.
func (w writer) land(drawn *practice.Practice) {
	w.t.Helper()
	dir := w.t.TempDir()
	together := map[string][]byte{}
	for _, d := range drawn.Deliveries() {
		for _, f := range d.Files {
			_, table, _ := strings.Cut(strings.TrimSuffix(f.Name, ".csv"), "_")
			path := filepath.Join(dir, table, f.Sender+".csv")
			_, rows, _ := bytes.Cut(bytes.TrimSpace(bytes.ReplaceAll(bytes.TrimPrefix(f.Data, []byte("\ufeff")), []byte("\r\n"), []byte("\n"))), []byte("\n"))
			switch table {
			case "measurements":
				rows = nil
			case "bouts":
				rows = withCuff(rows)
			}
			if len(rows) > 0 {
				rows = append(rows, '\n')
			}
			together[path] = append(together[path], rows...)
		}
	}
	for path, rows := range together {
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			w.t.Fatal(err)
		}
		if err := os.WriteFile(path, rows, 0o600); err != nil {
			w.t.Fatal(err)
		}
	}
	for _, table := range export.Tables() {
		var names, columns, key []string
		for _, c := range table.Columns {
			names = append(names, "'"+c.Name+"': 'varchar'")
			columns = append(columns, fmt.Sprintf("cast(%s as %s) as %s", c.Name, engineType(c.Type), c.Name))
		}
		for _, k := range append(slices.Clone(table.Key), table.FallbackKey...) {
			key = append(key, "coalesce("+k+", '')")
		}
		where := ""
		if table.Name == "bouts" {
			where = " where session_id in (select s.session_id from landing.sessions as s join landing.episodes as e on e.episode_id = s.episode_id where s.session_date < e.start_date + 50)"
		}
		w.read(filepath.Join(dir, table.Name, "*.csv"), table.Name, where, names, append(columns, "concat_ws('|', "+strings.Join(key, ", ")+") as _key"))
	}
	w.read(filepath.Join(dir, "delivery", "*.csv"), "deliveries", "", []string{"'site': 'varchar'", "'complete_from': 'varchar'", "'complete_to': 'varchar'"},
		[]string{"site", "cast(complete_from as date) as complete_from", "cast(complete_to as date) as complete_to"})
}

// withCuff keeps the lines of bouts with the cuff and the first of each session.
func withCuff(rows []byte) []byte {
	var kept [][]byte
	for line := range bytes.SplitSeq(rows, []byte("\n")) {
		_, cells, _ := bytes.Cut(line, []byte(","))
		if bytes.HasPrefix(cells, []byte("1,")) || bytes.Contains(cells, []byte(",continuous,")) || bytes.Contains(cells, []byte(",intermittent,")) {
			kept = append(kept, line)
		}
	}
	return bytes.Join(kept, []byte("\n"))
}

func (w writer) read(files, table, where string, names, columns []string) {
	w.t.Helper()
	w.run("create table landing." + table + " as select 1 as _batch, '' as _path, parse_filename(filename, true) as _sender, 1 as _file, " +
		"cast(row_number() over () as integer) as _line, 'accepted' as _action, " + strings.Join(columns, ", ") +
		" from read_csv('" + files + "', auto_detect = false, header = false, delim = ',', quote = '\"', escape = '\"', filename = true, columns = {" + strings.Join(names, ", ") + "})" + where)
}

func engineType(kind export.Type) string {
	switch kind {
	case export.Date:
		return "date"
	case export.Integer:
		return "integer"
	case export.Decimal:
		return "decimal(14,4)"
	case export.Boolean:
		return "boolean"
	default:
		return "varchar"
	}
}

// build makes tables after all that they read, in the project's own order.
func (w writer) build(tables ...string) {
	w.t.Helper()
	all, err := queries.All()
	if err != nil {
		w.t.Fatal(err)
	}
	ordered, err := queries.Order(all)
	if err != nil {
		w.t.Fatal(err)
	}
	needed := map[string]bool{}
	for _, table := range tables {
		needed[table] = true
	}
	for _, q := range slices.Backward(ordered) {
		if needed[q.Table()] {
			for _, read := range q.Reads {
				needed[read] = true
			}
		}
	}
	for _, q := range ordered {
		if q.Schema == "landing" || !needed[q.Table()] {
			continue
		}
		kind := "table"
		if q.View {
			kind = "view"
		}
		w.run("create " + kind + " " + q.Table() + " as " + q.SQL)
	}
}
