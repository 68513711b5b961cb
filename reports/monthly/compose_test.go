package monthly

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

func compose(t *testing.T, r *disclosure.Released) map[string][]byte {
	t.Helper()
	files, err := Compose(r)
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// TestCompose makes one report and looks at each of its files; drawing takes
// most of the time, so it is made twice only.
func TestCompose(t *testing.T) {
	r := sample.Month(t)
	files := compose(t, r)
	t.Run("files", func(t *testing.T) { wantFiles(t, files) })
	t.Run("same bytes again", func(t *testing.T) { wantSameBytes(t, files) })
	t.Run("manifest", func(t *testing.T) { wantManifest(t, files) })
	t.Run("figures", func(t *testing.T) { wantFigures(t, r, files["figures.csv"]) })
	t.Run("workbook", func(t *testing.T) { wantWorkbook(t, files["monthly.xlsx"]) })
	t.Run("page", func(t *testing.T) {
		for _, name := range []string{"return.calf_strain.24m", "return.by_injury_type"} {
			if !bytes.Contains(files["monthly.html"], files["plots/"+name+".svg"]) {
				t.Errorf("the page does not hold the picture %s", name)
			}
		}
	})
}

func wantFiles(t *testing.T, files map[string][]byte) {
	t.Helper()
	var want []string
	for _, name := range []string{
		"return.24m.flow", "return.achilles_tendinopathy.24m", "return.anterior_cruciate_reconstruction.24m",
		"return.by_injury_type", "return.calf_strain.24m", "return.calf_strain.24m.stages", "return.hamstring_strain.24m",
		"dose.24m.pooled", "dose.achilles_tendinopathy.24m", "dose.achilles_tendinopathy.24m.curve", "dose.hamstring_strain.24m", "dose.hamstring_strain.24m.curve", "groups.by_site", "safety.by_injury_type", "safety.by_kind", "safety.by_site", "symmetry.anterior_cruciate_reconstruction.strength_knee_extension.24m",
		"symmetry.calf_strain.girth_calf.24m", "symmetry.calf_strain.strength_plantarflexion.24m",
		"progression.first_step", "tolerance.by_band", "scores.pain", "scores.achilles_tendinopathy.visa_a.24m", "scores.calf_strain.lefs.24m",
	} {
		want = append(want, "plots/"+name+".csv", "plots/"+name+".png", "plots/"+name+".svg")
	}
	want = append([]string{"figures.csv", "manifest.json", "monthly.html", "monthly.xlsx"}, want...)
	slices.Sort(want)
	if got := slices.Sorted(maps.Keys(files)); !slices.Equal(got, want) {
		t.Errorf("files %q\nwant  %q", got, want)
	}
	for name, data := range files {
		if !strings.HasSuffix(name, ".png") && !strings.HasSuffix(name, ".xlsx") && bytes.Contains(data, []byte("NaN")) {
			t.Errorf("%s holds a NaN", name)
		}
	}
}

// wantSameBytes composes again from figures in another order and in another
// time zone.
func wantSameBytes(t *testing.T, files map[string][]byte) {
	t.Helper()
	local := time.Local
	time.Local = time.FixedZone("elsewhere", -9*3600)
	defer func() { time.Local = local }()
	set := sample.Set()
	slices.Reverse(set.Figures)
	slices.Reverse(set.Totals)
	again := compose(t, sample.Release(t, set, sample.Context()))
	for name, data := range files {
		if !bytes.Equal(data, again[name]) {
			t.Errorf("%s differs the second time", name)
		}
	}
}

func wantManifest(t *testing.T, files map[string][]byte) {
	t.Helper()
	var m manifestFile
	if err := json.Unmarshal(files["manifest.json"], &m); err != nil {
		t.Fatal(err)
	}
	if m.Month != "2026-06" || m.Inputs.Batch != 9 || m.Inputs.Settings != "9b8a7c6d5e4f" || m.Audience != "circulating" || m.Inputs.Senders[0].Quarantined != 3 {
		t.Errorf("%+v", m)
	}
	if len(m.Files) != len(files)-1 {
		t.Errorf("%d files listed, %d written beside the manifest", len(m.Files), len(files)-1)
	}
	for _, f := range m.Files {
		sum := sha256.Sum256(files[f.Name])
		if f.SHA256 != hex.EncodeToString(sum[:]) || f.Bytes != len(files[f.Name]) {
			t.Errorf("%s: %+v does not match the file", f.Name, f)
		}
	}
}

func wantFigures(t *testing.T, r *disclosure.Released, data []byte) {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], figureColumns) || len(rows)-1 != len(r.Figures()) {
		t.Fatalf("%d rows under %q, %d figures", len(rows)-1, rows[0], len(r.Figures()))
	}
	at := func(row []string, column string) string { return row[slices.Index(figureColumns, column)] }
	row := rows[1:][slices.IndexFunc(rows[1:], func(row []string) bool { return row[0] == "return.calf_strain.24m/share@w12" })]
	f, _ := r.Lookup(row[0])
	for column, want := range map[string]float64{"value": *f.Value, "low": *f.Low, "high": *f.High, "std_error": *f.StdError, "x": 12, "persons": 172, "level": 0.95} {
		if got, err := strconv.ParseFloat(at(row, column), 64); err != nil || math.Abs(got-want) > 1e-11 {
			t.Errorf("%s of %s is %q, want %g", column, row[0], at(row, column), want)
		}
	}
	listed, err := ReadFigures(data)
	if err != nil || len(listed) != len(rows)-1 || !slices.Equal(listed[7].Cells(), rows[8]) {
		t.Errorf("read back as %d figures, %v", len(listed), err)
	}
	if _, err := ReadFigures(bytes.Replace(data, []byte("figure_id"), []byte("id"), 1)); err == nil {
		t.Error("a list with other columns is read")
	}
	hidden := 0
	for _, row := range rows[1:] {
		f, ok := r.Lookup(at(row, "figure_id"))
		if !ok || at(row, "status") != string(f.Status) || at(row, "shown_as") != words.Value(f) {
			t.Errorf("%q", row)
		}
		if f.Status != result.Hidden {
			continue
		}
		hidden++
		for _, column := range []string{"value", "low", "high", "level", "std_error", "persons", "episodes", "events", "exposure", "missing", "warnings", "inputs_hash"} {
			if at(row, column) != "" {
				t.Errorf("%s is hidden and its %s is %q", f.ID, column, at(row, column))
			}
		}
	}
	if hidden == 0 {
		t.Error("no hidden figure in the sample")
	}
}

func wantWorkbook(t *testing.T, data []byte) {
	t.Helper()
	book, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	}()
	want := []string{
		"Summary", "Return to activity", "Time to return", "Flow", "Sensitivities",
		"Since the injury", "Stages by week", "Stage to stage", "In care again", "Groups and sites", "Symmetry", "Real change", "Both sides by week", "Dose and response", "Curves of dose", "Pain and scores", "Progression", "Tolerance", "Adverse events", "Events counted", "Data", "Used", "Methods", "Dictionary", "Cautions",
	}
	if got := book.GetSheetList(); !slices.Equal(got, want) {
		t.Fatalf("sheets %q", got)
	}
	for sheet, cells := range map[string][]string{
		"Summary":        {"Calf strain", "172", "80% ", "not shown", words.Cautions()[1]},
		"Time to return": {"not reached", "Not reached: by the end of follow-up 28 % were back."},
		"Flow":           {"The whole practice", "660", "fewer than 10"},
		"Sensitivities":  {"As reported", "If only returns that hold for 28 days count"},
		"Used":           {"Mill Yard", "12 May 2026", "The whole practice"},
		"Data":           {"60,988", "Mill Yard: data through 12 May 2026 (silent: nothing newer has come)."},
		"Cautions":       words.Cautions(),
	} {
		rows, err := book.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		all := slices.Concat(rows...)
		for _, cell := range cells {
			if !slices.Contains(all, cell) {
				t.Errorf("sheet %s has no cell %q", sheet, cell)
			}
		}
	}
	for sheet, want := range map[string][]string{
		"Summary":            {"Calf strain", "172", "54% ", "47% ", "62% ", "first report", "80% ", "74% ", "86% "},
		"Return to activity": {"Calf strain", "12", "80% ", "74% ", "86% ", "1% ", "30"},
		"Time to return":     {"Calf strain", "Half are back by", "5.5", "4.8", "6.3", "first report", "172"},
		"Symmetry":           {"Calf strain", "Largest calf girth", "12", "-0.4", "-0.6", "-0.2", "first report", "cm"},
		"Since the injury":   {"Calf strain", "6", "27% ", "20% ", "34% "},
		"Stages by week":     {"Calf strain", "Jogging in a straight line", "4"},
		"Stage to stage":     {"Calf strain", "Half have moved on from the stage \"fast running\" after", "1.6", "1.3", "2.1", "first report", "104"},
		"Groups and sites":   {"Severe, less mild", "Difference of the share back, raw by week 26", "-35% ", "-40% ", "-30% ", "first report", "410"},
		"In care again":      {"Calf strain", "365", "12% ", "8% ", "17% ", "first report", "118"},
		"Both sides by week": {"Calf strain", "Plantarflexion force, seated", "0", "70", "69", "72", "832", "1,180", "N"},
		"Dose and response":  {"Achilles tendinopathy", "Upper less lower third, raw by week 26", "15% ", "-2% ", "32% ", "first report", "share", "156"},
		"Pain and scores":    {"Achilles tendinopathy", "VISA-A score", "0 to 100, more is better", "Typical value at week 12", "56.0", "50.4", "61.6", "first report", "points", "210"},
		"Progression":        {"The whole practice", "Step up", "11% ", "10% ", "12% ", "first report", "share", "610", "36,600", "visits"},
		"Tolerance":          {"Leg press: with the cuff, under 40\u00a0%", "Ended early, per 1,000 bouts", "up to 17.2", "", "17.20", "first report", "per 1,000 bouts", "310", "6,200", "bouts"},
		"Adverse events":     {"Injury type", "Distal biceps tendon repair", "0", "310", "none seen", "", "11.90", "first report", "192", "none seen", "", "19.21"},
		"Events counted":     {"Not yet reported", "1", "", "", "first report"},
	} {
		rows, err := book.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(rows, func(row []string) bool { return len(row) >= len(want) && slices.Equal(row[:len(want)], want) }) {
			t.Errorf("sheet %s has no row %q", sheet, want)
		}
	}
	charts := 0
	for _, name := range zipNames(t, data) {
		if strings.HasPrefix(name, "xl/charts/chart") {
			charts++
		}
	}
	if charts != 4+1+2 {
		t.Errorf("%d charts, want one for each of the 4 types with a curve of return, and of the 2 with one of the index", charts)
	}
}

// TestTheMonthBeforeStandsInTheWorkbook looks for a share, which was five points
// lower, and for a figure that was not there.
func TestTheMonthBeforeStandsInTheWorkbook(t *testing.T) {
	r := sample.WithBefore(t)
	share, _ := r.Lookup("return.calf_strain.24m/share@w12")
	for _, c := range []struct {
		sheet workbooks.Sheet
		want  workbooks.Cell
	}{
		{summarySheet(r), workbooks.Percent(*share.Value-0.05, 0)},
		{doseSheets(r)[0], workbooks.Note(words.NotStated)},
	} {
		if !slices.ContainsFunc(c.sheet.Rows, func(row []workbooks.Cell) bool { return slices.Contains(row, c.want) }) {
			t.Errorf("sheet %s has no cell %+v", c.sheet.Name, c.want)
		}
	}
}

// TestChartEndsAtAHole has a late point beyond the curve: a spreadsheet's chart
// would set it right behind the point before.
func TestChartEndsAtAHole(t *testing.T) {
	set := sample.Set()
	for _, f := range set.Figures {
		if f.ID == "return.calf_strain.24m/cumulative@w26" {
			late := 52.0
			f.ID, f.X = "return.calf_strain.24m/cumulative@w52", &late
			set.Figures = append(set.Figures, f)
		}
	}
	sheet := returnSheet(sample.Release(t, set, sample.Context()))
	if c := sheet.Charts[0]; c.From != 0 || c.To != 27 {
		t.Errorf("the chart runs over rows %d to %d, want the 27 weeks from 0", c.From, c.To)
	}
	if len(sheet.Rows) != 4*27+1+1 {
		t.Errorf("%d rows: the late point or the hidden type is missing", len(sheet.Rows))
	}
}

func TestComposeWithNothing(t *testing.T) {
	files := compose(t, sample.Empty(t))
	if got := slices.Sorted(maps.Keys(files)); !slices.Equal(got, []string{"figures.csv", "manifest.json", "monthly.html", "monthly.xlsx"}) {
		t.Errorf("files %q", got)
	}
	if !bytes.Contains(files["monthly.html"], []byte("no episode of care")) {
		t.Error("the page does not say that there is nothing")
	}
	if _, err := Compose(&disclosure.Released{}); err == nil {
		t.Error("figures that did not come through the gate make a report")
	}
}

func zipNames(t *testing.T, data []byte) []string {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range r.File {
		names = append(names, f.Name)
	}
	return names
}
