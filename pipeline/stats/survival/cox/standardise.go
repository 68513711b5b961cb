package cox

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// Standardise averages the predicted shares over persons: the share that would
// have had each end by each time, had all these persons been as the models say
// for their covariates. With one treatment column set to one value, then to
// another, for everybody, the difference is the standardised one.
//
// Input: one cause-specific model for each of the K competing ends, fitted
// with the same columns (strata may differ from model to model only in
// baseline, not in names); x[j][i] column j of person i, in any number of
// persons; strata a value a person, nil for models without strata; weight nil
// or a value above 0 a person; times ascending or not, at least 0.
//
// Output: shares[0][t] free of every end, shares[k][t] with the end of
// models[k-1], summing to 1. No interval: resample persons, fit and
// standardise anew.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite, ErrRange.
//
// Method: at each event time the free share falls by exp of minus the sum of
// the hazards' steps and is dealt to the causes by their steps. With one model
// it agrees with the mean of survival::survfit.coxph over newdata.
//
// Cost: persons x event times up to the last of times x K.
func Standardise(models []*Model, x [][]float64, strata []int, weight, times []float64) (shares [][]float64, err error) {
	if len(models) == 0 || len(x) == 0 || len(x[0]) == 0 || len(times) == 0 {
		return nil, fmt.Errorf("standardised curve: %w", stats.ErrEmpty)
	}
	n := len(x[0])
	if err := checkPersons(models, x, strata, weight, times); err != nil {
		return nil, fmt.Errorf("standardised curve: %w", err)
	}
	shares = make([][]float64, len(models)+1)
	for k := range shares {
		shares[k] = make([]float64, len(times))
	}
	last := 0.0
	for _, t := range times {
		last = math.Max(last, t)
	}
	plans := map[int]*plan{}
	row := make([]float64, len(x))
	risks := make([]float64, len(models))
	total := 0.0
	for i := range n {
		stratum := 0
		if strata != nil {
			stratum = strata[i]
		}
		if plans[stratum] == nil {
			if plans[stratum], err = newPlan(models, stratum, last, times); err != nil {
				return nil, fmt.Errorf("standardised curve: %w", err)
			}
		}
		for j := range row {
			row[j] = x[j][i]
		}
		for k, m := range models {
			_, eta, err := m.scaled(row)
			if err != nil {
				return nil, fmt.Errorf("standardised curve, person %d: %w", i, err)
			}
			risks[k] = math.Exp(eta)
		}
		w := 1.0
		if weight != nil {
			w = weight[i]
		}
		total += w
		plans[stratum].add(shares, risks, w)
	}
	for _, share := range shares {
		for t := range share {
			share[t] /= total
		}
	}
	return shares, nil
}

func checkPersons(models []*Model, x [][]float64, strata []int, weight, times []float64) error {
	n := len(x[0])
	for _, m := range models {
		if err := stats.CheckLength("columns", len(x), m.layout.p); err != nil {
			return err
		}
		if (strata == nil) != (m.in.Strata == nil) {
			return fmt.Errorf("strata must be given as in the fits: %w", stats.ErrRange)
		}
	}
	for j, col := range x {
		if err := stats.CheckLength(fmt.Sprintf("column %d", j), len(col), n); err != nil {
			return err
		}
	}
	if strata != nil {
		if err := stats.CheckLength("strata", len(strata), n); err != nil {
			return err
		}
	}
	if weight != nil {
		if err := stats.CheckLength("weight", len(weight), n); err != nil {
			return err
		}
		for i, w := range weight {
			if !(w > 0) || math.IsInf(w, 0) {
				return fmt.Errorf("weight[%d] is %v, it must be above 0: %w", i, w, stats.ErrRange)
			}
		}
	}
	return stats.CheckFinite("times", times)
}

// plan is the order of steps of all causes in one stratum up to the last time,
// and where in it the asked times lie.
type plan struct {
	steps [][]float64 // steps[k][j]: step of cause k at the j-th event time of any
	upTo  []int       // number of event times up to each asked time
}

func newPlan(models []*Model, stratum int, last float64, times []float64) (*plan, error) {
	hazards := make([]*hazard, len(models))
	at := make([]int, len(models))
	for k, m := range models {
		h, err := m.baselineOf(stratum)
		if err != nil {
			return nil, err
		}
		hazards[k] = h
	}
	pl := &plan{steps: make([][]float64, len(models)), upTo: make([]int, len(times))}
	for {
		next := math.Inf(1)
		for k, h := range hazards {
			if at[k] < len(h.time) {
				next = math.Min(next, h.time[at[k]])
			}
		}
		if next > last {
			return pl, nil
		}
		for k, h := range hazards {
			step := 0.0
			if at[k] < len(h.time) && h.time[at[k]] == next {
				step = h.step[at[k]]
				at[k]++
			}
			pl.steps[k] = append(pl.steps[k], step)
		}
		for i, t := range times {
			if next <= t {
				pl.upTo[i]++
			}
		}
	}
}

// add adds a person's shares at the asked times, times w.
func (pl *plan) add(shares [][]float64, risks []float64, w float64) {
	n := len(pl.steps[0])
	free := make([]float64, n+1)
	ends := make([][]float64, len(risks))
	free[0] = 1
	for k := range ends {
		ends[k] = make([]float64, n+1)
	}
	for j := range n {
		sum := 0.0
		for k, r := range risks {
			sum += r * pl.steps[k][j]
		}
		lost := -free[j] * math.Expm1(-sum)
		free[j+1] = free[j] - lost
		for k, r := range risks {
			ends[k][j+1] = ends[k][j]
			if sum > 0 {
				ends[k][j+1] += lost * r * pl.steps[k][j] / sum
			}
		}
	}
	for i, j := range pl.upTo {
		shares[0][i] += w * free[j]
		for k := range ends {
			shares[k+1][i] += w * ends[k][j]
		}
	}
}
