package symmetry

import (
	"math"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/mixed"
)

// Four episodes of three persons: the first, once mild and once severe, lies at
// the mean of 1/2; the second, severe, a half above, the third, mild, a half
// below. With 0.3 for severe the sum of squares is 2 x 0.15^2 = 0.045.
func TestVarianceOfTheMixByHand(t *testing.T) {
	in := input()
	for range 6 {
		in.begin(100)
	}
	for i, severity := range []string{"mild", "severe", "severe", "mild", "severe", "unheard"} {
		in.Episodes[i].Severity = severity
	}
	in.Episodes[1].PersonKey = in.Episodes[0].PersonKey
	in.Episodes[4].Bilateral = true // is in no mix, as is a severity that the model does not know
	m := newMix(in.Episodes, []string{"north"}, []string{"mild", "severe"})
	closeTo(t, "share severe", &m.mean[1], 0.5)
	variance, df := m.variance([]float64{7, 0.3, 2, 2}) // the constant and the spline give all the same
	closeTo(t, "variance", &variance, 3./2*0.045/16)
	closeTo(t, "degrees of freedom", &df, 2)
}

// A variance of 2 x 0.09 with 8 degrees of freedom and one of 0.09 with 4 make
// 3 x 0.09 with 9 / (4/8 + 1/4) = 12.
func TestWidenByHand(t *testing.T) {
	e := widen(mixed.Combination{Estimate: stats.Estimate{Value: 1, SE: 0.3 * math.Sqrt2, Level: 0.95}, DF: 8}, 0.09, 4)
	se := 0.3 * math.Sqrt(3)
	closeTo(t, "standard error", &e.SE, se)
	closeTo(t, "degrees of freedom", &e.DF, 12)
	closeTo(t, "low", &e.Low, 1-2.178812829667228*se)
	closeTo(t, "high", &e.High, 1+2.178812829667228*se)
	same := widen(mixed.Combination{Estimate: stats.Estimate{Value: 1, SE: 0.3, Level: 0.95}, DF: 12}, 0, 4)
	closeTo(t, "low with a mix of one kind", &same.Low, 1-2.178812829667228*0.3)
}

// Half of those who began are severe, and lie 0.15 lower in logarithms: each
// lies 0.075 from the mean. With 12 who began the mix gives a variance of
// 0.075^2/11, with 24 more who were not measured, half of them severe, 0.075^2/35;
// the model's own part stays.
func TestMoreWhoBeganMakeTheMixSurer(t *testing.T) {
	in := halfSevere()
	logError := func() float64 {
		f := figures(t, in)[plant+"typical_index@w2"]
		return *f.StdError / *f.Value
	}
	few := logError()
	for i := range 24 {
		key := in.begin(300)
		if i%2 == 1 {
			in.Episodes[key-1].Severity = "severe"
		}
	}
	many := logError()
	less := few*few - many*many
	closeTo(t, "variance that more persons take away", &less, 0.075*0.075*(1./11-1./35))
}
