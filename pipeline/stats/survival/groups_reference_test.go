package survival

import (
	"math"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

// testTolerance is the agreement that test statistics owe the reference.
const testTolerance = 1e-8

// known keeps the rows in which no column is missing.
func known(columns ...[]float64) [][]float64 {
	out := make([][]float64, len(columns))
	for i := range columns[0] {
		if slices.ContainsFunc(columns, func(c []float64) bool { return math.IsNaN(c[i]) }) {
			continue
		}
		for j, c := range columns {
			out[j] = append(out[j], c[i])
		}
	}
	return out
}

// levels numbers the distinct values in ascending order.
func levels(xs []float64) (codes []int, n int) {
	distinct := slices.Compact(slices.Sorted(slices.Values(xs)))
	codes = make([]int, len(xs))
	for i, x := range xs {
		codes[i], _ = slices.BinarySearch(distinct, x)
	}
	return codes, len(distinct)
}

func TestGroupComparisonsAgreeWithReference(t *testing.T) {
	a := testkit.Reference(t, "survival/groups")
	for _, c := range []struct {
		name, file, time, event string
		offset                  int // of the event code
		group, strata           string
	}{
		{"lung_sex", "groups_lung.csv", "time", "status", 1, "sex", ""},
		{"lung_ecog", "groups_lung.csv", "time", "status", 1, "ph.ecog", ""},
		{"lung_strata", "groups_lung.csv", "time", "status", 1, "sex", "ph.ecog"},
		{"veteran_cell", "groups_veteran.csv", "time", "status", 0, "celltype", ""},
		{"veteran_strata", "groups_veteran.csv", "time", "status", 0, "trt", "celltype"},
		{"ovarian", "groups_ovarian.csv", "futime", "fustat", 0, "rx", ""},
		{"colon", "groups_colon.csv", "time", "status", 0, "rx", ""},
		{"kidney", "groups_kidney.csv", "time", "status", 0, "disease", ""},
	} {
		strata := c.strata
		if strata == "" {
			strata = c.group
		}
		columns := known(a.Column(c.file, c.time), a.Column(c.file, c.event), a.Column(c.file, c.group), a.Column(c.file, strata))
		in := Data{Time: columns[0], Event: ints(columns[1])}
		for i := range in.Event {
			in.Event[i] -= c.offset
		}
		group, n := levels(columns[2])
		var strataCodes []int
		if c.strata != "" {
			strataCodes, _ = levels(columns[3])
		}
		got, err := LogRank(in, group, n, strataCodes)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		testkit.AllAlmostEqual(t, c.name+" observed", got.Observed, a.Floats(c.name+".observed"), testTolerance)
		testkit.AllAlmostEqual(t, c.name+" expected", got.Expected, a.Floats(c.name+".expected"), testTolerance)
		testkit.AlmostEqual(t, c.name+" chi-square", got.Statistic, a.Float(c.name+".chisq"), testTolerance)
		testkit.AlmostEqual(t, c.name+" df", float64(got.DF), a.Float(c.name+".df"), 0)
		testkit.AlmostEqual(t, c.name+" p", got.P, a.Float(c.name+".p"), testTolerance)
	}
	compareGray(t, a)
	compareDifferences(t, a)
}

func compareGray(t *testing.T, a *testkit.Answers) {
	t.Helper()
	for _, c := range []struct {
		name, file, time, event, group, strata string
		which                                  int
	}{
		{"gray_mgus2", "groups_mgus2.csv", "etime", "cause", "sex", "", 1},
		{"gray_mgus2_death", "groups_mgus2.csv", "etime", "cause", "sex", "", 2},
		{"gray_transplant", "groups_transplant.csv", "futime", "cause", "abo", "", 1},
		{"gray_transplant_strata", "groups_transplant.csv", "futime", "cause", "abo", "year2", 2},
		{"gray_pbc", "groups_pbc.csv", "time", "status", "stage", "", 1},
		{"gray_pbc_death", "groups_pbc.csv", "time", "status", "stage", "", 2},
	} {
		strata := c.strata
		if strata == "" {
			strata = c.group
		}
		columns := known(a.Column(c.file, c.time), a.Column(c.file, c.event), a.Column(c.file, c.group), a.Column(c.file, strata))
		in := Data{Time: columns[0], Event: ints(columns[1])}
		for i, k := range in.Event {
			switch {
			case k == c.which:
				in.Event[i] = 1
			case k > 0:
				in.Event[i] = 2
			}
		}
		group, n := levels(columns[2])
		var strataCodes []int
		if c.strata != "" {
			strataCodes, _ = levels(columns[3])
		}
		got, err := GrayTest(in, group, n, strataCodes)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		testkit.AlmostEqual(t, c.name, got.Statistic, a.Float(c.name+".stat"), testTolerance)
		testkit.AlmostEqual(t, c.name+" df", float64(got.DF), a.Float(c.name+".df"), 0)
		testkit.AlmostEqual(t, c.name+" p", got.P, a.Float(c.name+".p"), 1e-7) // the reference rounds its tail
	}
}

func compareDifferences(t *testing.T, a *testkit.Answers) {
	t.Helper()
	check := func(name string, first, second Data) {
		t.Helper()
		one, err := KaplanMeier(first, Options{})
		if err != nil {
			t.Fatal(err)
		}
		two, err := KaplanMeier(second, Options{})
		if err != nil {
			t.Fatal(err)
		}
		at := a.Float(name + ".at")
		mean, err := MeanDifference(one, two, at)
		if err != nil {
			t.Fatal(err)
		}
		share, err := ShareDifference(one, two, at)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			field string
			got   float64
		}{
			{"mean", mean.Value}, {"mean_se", mean.SE}, {"share", share.Value}, {"share_se", share.SE},
		} {
			testkit.AlmostEqual(t, name+" "+c.field, c.got, a.Float(name+"."+c.field), curveTolerance)
		}
		checkInside(t, name, mean)
		checkInside(t, name, share)
	}
	lung := Data{Time: a.Column("groups_lung.csv", "time"), Event: ints(a.Column("groups_lung.csv", "status"))}
	for i := range lung.Event {
		lung.Event[i]--
	}
	sex, n := levels(a.Column("groups_lung.csv", "sex"))
	parts, err := Split(lung, sex, n)
	if err != nil {
		t.Fatal(err)
	}
	check("between_lung", parts[0], parts[1])

	ovarian := Data{Time: a.Column("groups_ovarian.csv", "futime"), Event: ints(a.Column("groups_ovarian.csv", "fustat"))}
	rx, n := levels(a.Column("groups_ovarian.csv", "rx"))
	if parts, err = Split(ovarian, rx, n); err != nil {
		t.Fatal(err)
	}
	check("between_ovarian", parts[0], parts[1])

	bladder := Data{
		Time:   a.Column("groups_bladder.csv", "stop"),
		Event:  ints(a.Column("groups_bladder.csv", "event")),
		Person: ints(a.Column("groups_bladder.csv", "id")),
	}
	enum, n := levels(a.Column("groups_bladder.csv", "enum"))
	if parts, err = Split(bladder, enum, n); err != nil {
		t.Fatal(err)
	}
	check("paired_bladder", parts[0], parts[1])
}

func checkInside(t *testing.T, name string, e stats.Estimate) {
	t.Helper()
	if !(e.Low < e.Value && e.Value < e.High) {
		t.Errorf("%s: %v not inside %v to %v", name, e.Value, e.Low, e.High)
	}
}
