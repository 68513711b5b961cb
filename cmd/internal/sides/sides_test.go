package sides

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

func date(text string) time.Time {
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return day
}

func number(x float64) *float64 { return &x }

// people are four courses of care: one still going with a weak knee; one of the
// same person's other knee, ended; one ended long ago; and one of both calves.
func people() (names []warehouse.EpisodeName, pairs []warehouse.SidePair, changes []warehouse.LimbChange, both []warehouse.BilateralChange) {
	ended, long := date("2026-03-10"), date("2025-02-01")
	names = []warehouse.EpisodeName{
		{EpisodeKey: 1, PersonKey: 1, Sender: "north", EpisodeID: "e-1", PersonID: "p-1", Site: "north", InjuryType: "patellar_tendinopathy", Side: "left", StartDate: date("2026-01-01")},
		{EpisodeKey: 2, PersonKey: 1, Sender: "north", EpisodeID: "e-2", PersonID: "p-1", Site: "north", InjuryType: "hamstring_strain", Side: "right", StartDate: date("2026-02-20"), EndDate: &ended},
		{EpisodeKey: 3, PersonKey: 2, Sender: "north", EpisodeID: "e-3", Site: "north", InjuryType: "patellar_tendinopathy", Side: "left", StartDate: date("2025-01-01"), EndDate: &long},
		{EpisodeKey: 4, PersonKey: 3, Sender: "north", EpisodeID: "=e-4", PersonID: "p-3", Site: "north", InjuryType: "calf_strain", Side: "bilateral", WorseSide: "right", StartDate: date("2026-01-01")},
	}
	pair := func(episode, day int, involved float64) {
		pairs = append(pairs, warehouse.SidePair{
			EpisodeKey: episode, Measure: "strength_knee_extension", Day: day, Involved: involved, Uninvolved: 500, UninvolvedDay: day,
			IndexPercent: number(involved / 5), BaselinePercent: number(involved / 5.2), SameRater: true,
		})
	}
	pair(1, 0, 300)  // index 60
	pair(1, 49, 400) // 19 February: 80
	pair(1, 50, 450) // 20 February, the other knee in care: 90
	pair(1, 68, 440) // 10 March, its last day: 88
	pair(1, 69, 490) // 98
	pair(3, 14, 300) // ended
	pairs[1].UninvolvedDay, pairs[1].SameRater = 46, false
	change := func(measure string, day int, value, baseline float64) warehouse.LimbChange {
		return warehouse.LimbChange{EpisodeKey: 1, Measure: measure, Day: day, Value: value, Baseline: baseline, SameRater: true}
	}
	changes = []warehouse.LimbChange{
		change("strength_knee_extension", 50, 450, 300), change("strength_knee_extension", 69, 490, 300),
		change("girth_thigh_10", 69, 44.5, 44), change("strength_grip", 69, 30, 23),
	}
	for _, limb := range []struct {
		name  string
		value float64
	}{{"other", 36.2}, {"worse", 36.6}} {
		c := change("girth_calf", 42, limb.value, 36)
		c.EpisodeKey = 4
		both = append(both, warehouse.BilateralChange{LimbChange: c, Limb: limb.name})
	}
	return names, pairs, changes, both
}

func arranged(choice Choice) []Course {
	names, pairs, changes, both := people()
	region := map[string]string{"patellar_tendinopathy": "lower_limb", "hamstring_strain": "lower_limb", "calf_strain": "lower_limb"}
	return arrange(names, pairs, changes, both, region, choice)
}

func TestWhoseRowsAreWritten(t *testing.T) {
	keys := func(choice Choice) []int {
		var list []int
		for _, c := range arranged(choice) {
			list = append(list, c.EpisodeKey)
		}
		return list
	}
	for _, c := range []struct {
		name   string
		choice Choice
		want   []int
	}{
		{"in care", Choice{}, []int{1, 4}},
		{"ended too", Choice{Ended: true}, []int{1, 3, 4}}, // nothing was measured of the second
		{"one, ended", Choice{Episode: "e-3"}, []int{3}},
		{"another site", Choice{Site: "south"}, nil},
	} {
		if got := keys(c.choice); !slices.Equal(got, c.want) {
			t.Errorf("%s: courses %v, want %v", c.name, got, c.want)
		}
	}
}

func TestOtherSideInCare(t *testing.T) {
	want := map[int]bool{0: false, 49: false, 50: true, 68: true, 69: false}
	for _, v := range arranged(Choice{})[0].Visits {
		if v.Pair != nil && v.OtherInCare != want[v.Day] {
			t.Errorf("day %d: %v", v.Day, v.OtherInCare)
		}
	}
}

func TestWorkbook(t *testing.T) {
	practice := &settings.Practice{
		Name: "Practice", InjuryTypes: []settings.InjuryType{{Code: "calf_strain", Label: "Calf strain"}, {Code: "patellar_tendinopathy", Label: "Patellar tendinopathy"}},
		Symmetry: settings.Symmetry{ThresholdPercent: 90},
	}
	data, err := Workbook(arranged(Choice{}), practice, warehouse.Batch{Number: 7, ReceivedOn: date("2026-04-01")})
	if err != nil {
		t.Fatal(err)
	}
	book, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]string{} // all cells of a sheet, a line each
	for _, sheet := range book.GetSheetList() {
		cells, err := book.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range cells {
			rows[sheet] += strings.Join(row, "|") + "\n"
		}
		if !strings.Contains(rows[sheet], Mark) {
			t.Errorf("the sheet %s does not say that it is person-level", sheet)
		}
		footer, err := book.GetHeaderFooter(sheet)
		if err != nil || !strings.Contains(footer.OddFooter, "PERSON-LEVEL") {
			t.Errorf("a printed page of %s does not say it: %+v, %v", sheet, footer, err)
		}
	}
	knee := "p-1|e-1|Patellar tendinopathy|left|Knee extension force, strap-fixed, N|"
	// Half an interval: 100/500 x 29.5/sqrt(2) x sqrt(1 + (involved/500)^2); of two raters 36.7 N.
	for sheet, lines := range map[string][]string{
		"Sides, last visit": {knee + "2026-03-11|9|490|500||98||5.8|at or above|94"},
		"Sides, all visits": {
			knee + "2026-01-01|0|300|500||60||4.9|below|58",
			knee + "2026-02-19|7|400|500|2026-02-16|80||6.6|below|77|two raters, or not recorded",
			knee + "2026-02-20|7|450|500||90||5.6|undecided|87|other side in care on that day",
			"p-1|e-1|Patellar tendinopathy|left|Thigh girth 10 cm above the patella, cm|2026-03-11|9|44.5||||||||other side not measured near",
		},
		"Change, last visit": {
			knee + "2026-03-11|9|490|300|2026-01-01|190|29.50|improved",
			"p-1|e-1|Patellar tendinopathy|left|Thigh girth 10 cm above the patella, cm|2026-03-11|9|44.5|44.0|2026-01-01|0.5|1.00|within error",
			"p-1|e-1|Patellar tendinopathy|left|Grip strength, kg|2026-03-11|9|30.0|23.0|2026-01-01|7.0|not known|cannot be told|6.5\u00a0kg|yes",
		},
		"Both sides involved": {
			"p-3|=e-4|Calf strain|right|Largest calf girth, cm|2026-02-12|6|36.6|36.0|2026-01-01|0.6|0.50|improved|||worse\n" +
				"p-3|=e-4|Calf strain|left|Largest calf girth, cm|2026-02-12|6|36.2|36.0|2026-01-01|0.2|0.50|within error|||other",
		},
	} {
		for _, line := range lines {
			if !strings.Contains(rows[sheet], line) {
				t.Errorf("%s has no line %q:\n%s", sheet, line, rows[sheet])
			}
		}
	}
}
