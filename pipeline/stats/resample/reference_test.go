package resample

import (
	"context"
	"testing"

	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat"
)

func TestIntervalsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "resample/intervals")
	ratio := func(x, y []float64) float64 { return sum(y) / sum(x) }
	correlation := func(x, y []float64) float64 { return stat.Correlation(x, y, nil) }
	slope := func(x, y []float64) float64 { return stat.Covariance(x, y, nil) / stat.Variance(x, nil) }
	average := func(_, y []float64) float64 { return stat.Mean(y, nil) }
	spread := func(_, y []float64) float64 { return stat.StdDev(y, nil) }
	for _, c := range []struct {
		set string
		of  func(x, y []float64) float64
	}{
		{"city", ratio},
		{"bigcity", ratio},
		{"aircondit", average},
		{"cd4", correlation},
		{"cats", spread},
		{"nuclear", slope},
		{"orthodont", slope},
	} {
		file := "intervals_" + c.set + ".csv"
		x, y := a.Column(file, "x"), a.Column(file, "y")
		person := make([]float64, len(x))
		for i := range person {
			person[i] = float64(i)
		}
		if c.set == "orthodont" {
			person = a.Column(file, "person")
		}
		statistic, persons := byPerson(person, x, y, c.of)
		left, err := Jackknife(context.Background(), persons, statistic, 0)
		must(t, err)
		point, err := pointOf(persons, statistic)
		must(t, err)
		testkit.AllAlmostEqual(t, c.set+" point", point, a.Floats(c.set+".t0"), 1e-12)
		// R's own draws, so that the limits can be held to all digits.
		d := &Draws{Point: point, Values: [][]float64{a.Floats(c.set + ".t")}, Persons: persons}
		percentile, err := d.Percentile(0, 0.9)
		must(t, err)
		bca, err := d.BCa(0, 0.9, left[0])
		must(t, err)
		testkit.AlmostEqual(t, c.set+" se", percentile.SE, a.Float(c.set+".se"), 1e-12)
		testkit.AllAlmostEqual(t, c.set+" percentile", []float64{percentile.Low, percentile.High}, a.Floats(c.set+".perc"), 1e-9)
		testkit.AllAlmostEqual(t, c.set+" BCa", []float64{bca.Low, bca.High}, a.Floats(c.set+".bca"), 1e-9)
		// Our own draws differ from R's by chance alone: both have 299, the
		// SE of a standard deviation is 4 %.
		own, err := Bootstrap(context.Background(), persons, statistic, Options{Replicates: 299, Seed: 8})
		must(t, err)
		testkit.AlmostEqual(t, c.set+" own se", stat.StdDev(own.Values[0], nil), percentile.SE, 0.25)
	}
}

// byPerson computes of from all rows of the drawn persons, numbered from 0.
func byPerson(person, x, y []float64, of func(x, y []float64) float64) (Statistic, int) {
	rows := map[int][]int{}
	for i, p := range person {
		rows[int(p)] = append(rows[int(p)], i)
	}
	return func(draw []int) ([]float64, error) {
		var dx, dy []float64
		for _, p := range draw {
			for _, i := range rows[p] {
				dx, dy = append(dx, x[i]), append(dy, y[i])
			}
		}
		return []float64{of(dx, dy)}, nil
	}, len(rows)
}

func sum(xs []float64) float64 {
	var s float64
	for _, x := range xs {
		s += x
	}
	return s
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
