package practice

import (
	"fmt"
	"math"
	"slices"
)

// TruthOf computes the truth of fewer figures than ComputeTruth, and more
// exactly: for the injury types named, the share returned by every week end, the
// mean weeks not returned, the sides of strength and girth, and the thirds of
// sets on return, from so many episodes of each; and of the practice, its events
// in sessions of the last windowMonths months, from so many people. It uses all
// cores and gives the same values for any number of them.
func TruthOf(s Scenario, types []string, episodes, people, windowMonths int) (*Truth, error) {
	shown := s
	s.Seed = truthSeed
	w, err := newWorld(s)
	if err != nil {
		return nil, err
	}
	w.manyClinicians = true
	t := &Truth{Scenario: shown, Episodes: episodes}
	for _, code := range types {
		kind := slices.IndexFunc(w.injuries, func(in injury) bool { return in.code == code })
		if kind < 0 {
			return nil, fmt.Errorf("truth: the made-up practice treats no %q", code)
		}
		lives := w.lives(kind, episodes)
		t.returnValues(w, kind, lives)
		t.bodyValues(w, kind, lives)
		t.thirdsValues(w, kind, lives)
	}
	end := s.lastMonthEnd()
	all := exposure{}
	var each [batches]exposure
	for b, x := range w.exposures(people, dayOf(s.Start.AddDate(0, s.Months-windowMonths, 0)), end) {
		for kind := range x {
			for _, at := range x[kind] {
				each[b].plus(at)
				all.plus(at)
			}
		}
	}
	rate := func(x exposure) float64 { return 1000 * x.expected / x.sessions }
	var rates []float64
	for _, x := range each {
		rates = append(rates, rate(x))
	}
	_, se := mean(rates)
	t.Values = append(t.Values, Value{Question: "safety", Statistic: "per_1000_attended", Value: rate(all), SE: se})
	for _, v := range t.Values {
		if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || math.IsNaN(v.SE) || math.IsInf(v.SE, 0) {
			return nil, fmt.Errorf("truth of %s cannot be computed from %d episodes and %d people; draw more", v.Name(), episodes, people)
		}
	}
	return t, nil
}

// thirdsValues adds the share returned by week 26 in the upper third of sets
// less that in the lower, standardised over severity, as doseValues does.
func (t *Truth) thirdsValues(w *world, kind int, lives []life) {
	in := &w.injuries[kind]
	var at []life
	for _, l := range lives {
		if !l.atTarget && ways[l.way].cuff && l.dose.sets > 0 && !l.before(in.landmark) {
			at = append(at, l)
		}
	}
	value, se := thirds(at, func(d dose) float64 { return d.sets }, 26, true)
	t.Values = append(t.Values, Value{Question: "dose", InjuryType: in.code, Measure: "sets", Statistic: "thirds_standardised", X: week(26), Value: value, SE: se})
}
