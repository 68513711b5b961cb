package reference

import (
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// wanted lists the columns that readers of each table rely on.
var wanted = map[string]string{
	"injury_types":     "code,label,region,kind,landmark_days,default_target_stage,contact_gap_days,keeps_activity,source",
	"stages":           "code,label,ladder,rank,source",
	"exercises":        "code,label,region,class,ladder,levels,source",
	"measures":         "code,label,unit,kind,better,warn_low,warn_high,reject_low,reject_high,mdc95_same_rater,mdc95_other_rater,mic,source",
	"event_kinds":      "code,label,class,usual_grade,immediate,source",
	"stop_reasons":     "code,label,symptom,source",
	"precautions":      "code,label,weight,source",
	"actions":          "code,label,source",
	"serious_criteria": "code,label,source",
	"age_bands":        "code,label,low,high,source",
	"scores":           "code,most_items_missing,source",
	"protocol_checks":  "code,label,computable,needs,source",
}

func TestEveryTableHasItsColumnsCodesAndSources(t *testing.T) {
	tables := Tables()
	if len(tables) != len(wanted) {
		t.Errorf("%d tables, wanted %d", len(tables), len(wanted))
	}
	for _, table := range tables {
		if got := strings.Join(table.Columns, ","); got != wanted[table.Name] {
			t.Errorf("%s has columns %q, wanted %q", table.Name, got, wanted[table.Name])
		}
		if len(table.Rows) == 0 {
			t.Errorf("%s is empty", table.Name)
		}
		seen := map[string]bool{}
		for _, row := range table.Rows {
			if row[0] == "" || seen[row[0]] {
				t.Errorf("%s: code %q is empty or stands twice", table.Name, row[0])
			}
			seen[row[0]] = true
			if row[1] == "" || row[len(row)-1] == "" {
				t.Errorf("%s: %q has no label or no source", table.Name, row[0])
			}
			for _, cell := range row {
				if cell != strings.TrimSpace(cell) {
					t.Errorf("%s: %q has blanks around a cell", table.Name, row[0])
				}
			}
		}
	}
}

// one checks that each cell of a column is one of the values.
func one(t *testing.T, table, column string, values ...string) {
	t.Helper()
	for _, code := range Codes(table) {
		if got, _ := Cell(table, code, column); !slices.Contains(values, got) {
			t.Errorf("%s: %s of %s is %q, wanted one of %v", table, column, code, got, values)
		}
	}
}

func TestClosedColumns(t *testing.T) {
	one(t, "injury_types", "region", "upper_limb", "lower_limb")
	one(t, "injury_types", "kind", "tendon", "muscle", "ligament", "post_operative")
	one(t, "injury_types", "landmark_days", "14", "28", "42")
	one(t, "injury_types", "keeps_activity", "true", "false")
	one(t, "injury_types", "default_target_stage", Codes("stages")...)
	one(t, "stages", "ladder", "lower_limb", "upper_limb", "work")
	one(t, "exercises", "region", "upper_limb", "lower_limb")
	one(t, "measures", "kind", "girth", "strength", "hop", "endurance", "range", "pain", "score", "body")
	one(t, "measures", "better", "more", "less")
	one(t, "event_kinds", "class", "common", "uncommon", "rare")
	one(t, "event_kinds", "immediate", "true", "false")
	one(t, "event_kinds", "usual_grade", "1", "2", "3", "4", "5")
	one(t, "stop_reasons", "symptom", "true", "false")
	one(t, "precautions", "weight", "excluding", "careful")
	one(t, "protocol_checks", "computable", "yes", "when_sent", "no")
	if n := len(Codes("protocol_checks")); n != 14 {
		t.Errorf("%d protocol checks, wanted 14", n)
	}
}

func number(t *testing.T, table, code, column string) float64 {
	t.Helper()
	text, _ := Cell(table, code, column)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Errorf("%s: %s of %s is %q, wanted a number", table, column, code, text)
	}
	return v
}

func TestRangesOfMeasuresAreNested(t *testing.T) {
	for _, code := range Codes("measures") {
		bounds := []float64{}
		for _, column := range []string{"reject_low", "warn_low", "warn_high", "reject_high"} {
			bounds = append(bounds, number(t, "measures", code, column))
		}
		if !slices.IsSorted(bounds) || bounds[0] == bounds[3] {
			t.Errorf("measures: ranges of %s are not nested: %v", code, bounds)
		}
		for _, column := range []string{"mdc95_same_rater", "mdc95_other_rater", "mic"} {
			if text, _ := Cell("measures", code, column); text != "" && number(t, "measures", code, column) <= 0 {
				t.Errorf("measures: %s of %s is not above 0", column, code)
			}
		}
	}
}

// A ladder without gaps or ties is what makes "the target or a higher stage" a
// question with one answer.
func TestLaddersClimbByOne(t *testing.T) {
	next := map[string]int{}
	for _, code := range Codes("stages") {
		ladder, _ := Cell("stages", code, "ladder")
		if rank := int(number(t, "stages", code, "rank")); rank != next[ladder] {
			t.Errorf("stages: %s has rank %d, wanted %d", code, rank, next[ladder])
		}
		next[ladder]++
	}
	for _, code := range Codes("exercises") {
		steps, _ := Cell("exercises", code, "ladder")
		if want := len(strings.Split(steps, " > ")); int(number(t, "exercises", code, "levels")) != want {
			t.Errorf("exercises: %s names %d steps, its levels say otherwise", code, want)
		}
	}
	for _, code := range Codes("injury_types") {
		region, _ := Cell("injury_types", code, "region")
		target, _ := Cell("injury_types", code, "default_target_stage")
		if ladder, _ := Cell("stages", target, "ladder"); ladder != region {
			t.Errorf("injury_types: the target of %s stands on the ladder %s, wanted %s", code, ladder, region)
		}
	}
}

// Which answer counts with items missing must be known of every score, and of
// nothing else.
func TestEveryScoreHasItsItems(t *testing.T) {
	var scores []string
	for _, code := range Codes("measures") {
		if kind, _ := Cell("measures", code, "kind"); kind == "score" {
			scores = append(scores, code)
		}
	}
	if got := Codes("scores"); !slices.Equal(got, scores) {
		t.Errorf("items of %q, scores are %q", got, scores)
	}
	for _, code := range Codes("scores") {
		if n := number(t, "scores", code, "most_items_missing"); n < 0 || n != float64(int(n)) {
			t.Errorf("scores: %s may lack %v items", code, n)
		}
	}
}

func TestLookups(t *testing.T) {
	if got := Label("injury_types", "calf_strain"); got != "Calf strain" {
		t.Errorf("label of calf_strain is %q", got)
	}
	if got := Label("injury_types", "no_such"); got != "no_such" {
		t.Errorf("label of an unknown code is %q, wanted the code itself", got)
	}
	if _, ok := Find("no_such"); ok {
		t.Error("a table that is not there was found")
	}
	if _, ok := Cell("stages", "jogging", "no_such"); ok {
		t.Error("a column that is not there was found")
	}
	if Codes("no_such") != nil {
		t.Error("codes of a table that is not there")
	}
	if len(Digest()) != 64 {
		t.Errorf("digest %q is not a SHA-256", Digest())
	}
	if _, err := fs.ReadFile(Files(), "stages.csv"); err != nil {
		t.Error(err)
	}
}
