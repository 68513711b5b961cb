package symmetry

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/stats/mixed"
	"evenlimb/pipeline/warehouse"
)

// mix is whom a course is averaged over: all who began with one side involved,
// measured or not, of the sites and severities that the model knows.
type mix struct {
	mean     []float64 // the covariates, averaged over the episodes
	episodes int
	persons  [][]float64 // of each person, the sum over the episodes of covariates less mean
}

// newMix collects the covariates of the episodes, which come in the order in
// which sums are to be taken.
func newMix(episodes []warehouse.SymmetryEpisode, sites, severities []string) mix {
	var m mix
	var rows [][]float64
	var persons []int
	place := map[int]int{}
	for _, e := range episodes {
		if e.Bilateral || !slices.Contains(sites, e.Site) || !slices.Contains(severities, e.Severity) {
			continue
		}
		if _, known := place[e.PersonKey]; !known {
			place[e.PersonKey] = len(place)
		}
		rows, persons = append(rows, covariates(sites, severities, e.Site, e.Severity)), append(persons, place[e.PersonKey])
	}
	m.episodes = len(rows)
	columns := len(sites) + len(severities) - 1
	m.mean = make([]float64, columns)
	for _, x := range rows {
		for j := range x {
			m.mean[j] += x[j]
		}
	}
	for j := range m.mean {
		m.mean[j] /= float64(m.episodes)
	}
	m.persons = make([][]float64, len(place))
	for p := range m.persons {
		m.persons[p] = make([]float64, columns)
	}
	for i, x := range rows {
		for j := range x {
			m.persons[persons[i]][j] += x[j] - m.mean[j]
		}
	}
	return m
}

// variance is how much the covariates' share of a typical value would vary if
// other persons had begun: with u the sum over a person's episodes of what the
// coefficients make of covariates less mean, and P persons with n episodes,
// P/(P-1) times the sum of u^2, over n^2 (the variance of a mean with whole
// persons drawn; with an episode each, the sample variance over n). It has P-1
// degrees of freedom. There must be two persons.
func (m mix) variance(coef []float64) (variance, df float64) {
	var squares float64
	for _, x := range m.persons {
		var u float64
		for j := range x {
			u += coef[j] * x[j]
		}
		squares += u * u
	}
	p, n := float64(len(m.persons)), float64(m.episodes)
	return p / (p - 1) * squares / (n * n), p - 1
}

// widen adds a variance, known to some degrees of freedom, to that of an
// estimate and takes the limits anew. The two are independent: given the
// covariates, the model's error has mean zero. Degrees of freedom are combined
// after Welch and Satterthwaite (Biometrics Bulletin 2, 1946).
func widen(e mixed.Combination, variance, df float64) mixed.Combination {
	model := e.SE * e.SE
	sum := model + variance
	e.DF = sum * sum / (model*model/e.DF + variance*variance/df)
	e.SE = math.Sqrt(sum)
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: e.DF}.Quantile((1+e.Level)/2) * e.SE
	e.Low, e.High = e.Value-half, e.Value+half
	return e
}
