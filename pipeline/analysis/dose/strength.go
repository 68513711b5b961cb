package dose

import (
	"fmt"
	"math"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/stats/evalue"
)

// leastShare is the standardised share at the lower dose below which the ratio of
// shares, on which strength rests, says more about the straight lines of the model
// than about people.
const leastShare = 0.05

// strength adds how strongly something unknown at the start would have to go with
// both dose and return, as a ratio of shares, to explain the contrast away, and
// its nearer limit; beside them what the strongest of the known things could do.
func (l lines) strength(s adjust.Sample, a *adjust.Amount) {
	r := a.Ratio
	if a.Low < leastShare || !r.HasInterval || r.Low <= 0 || r.Low > r.Value || r.High < r.Value {
		return
	}
	e, err := evalue.RiskRatio(r.Value, r.Low, r.High)
	if err != nil {
		return // a ratio that is none says nothing, and the contrast stands
	}
	one := func(statistic string, value float64, how string) {
		f := l.begin(statistic)
		f.Unit, f.Value, f.Method = "times", number(value), how
		l.add(f)
	}
	from := fmt.Sprintf("e-value of the ratio of standardised shares, %.3g (%.3g to %.3g)", r.Value, r.Low, r.High)
	one("e_value", e.Point, from)
	one("e_value_limit", e.Limit, from+", of its limit nearer to 1")
	known, err := evalue.Yardstick(adjust.Associations(s))
	if err != nil {
		return
	}
	one("e_value_known", math.Max(1, known.Strength), "strongest of what is known at the start: "+known.Name)
}
