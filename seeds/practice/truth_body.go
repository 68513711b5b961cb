package practice

import "math"

// indexAt is a person's expected index of strength at week 12, in percent, at a
// dose of the window.
func (w *world) indexAt(in *injury, l life, sets float64) float64 {
	own := (ratioSpread*ratioSpread + ratioSlope*ratioSlope*12*12) / 2
	return 100 * math.Exp(l.shift[0]+own-in.deficit*(1-w.gain(sets)*w.scenario.recovered(12)))
}

// bodyValues: the typical index of strength (a geometric mean), the same
// against the uninvolved side at start, and the girth by which the involved
// side is thinner, at weeks 6 and 12, had everybody been measured. Closed form
// given severity, site and dose; these are averaged over the draws.
func (t *Truth) bodyValues(w *world, kind int, lives []life) {
	in := &w.injuries[kind]
	flat := body{strength: 1}
	for _, by := range []int{6, 12} {
		at := float64(by)
		var logs, thinner []float64
		for _, l := range lives {
			if l.both {
				continue
			}
			left := 1 - w.gain(l.sets)*w.scenario.recovered(at)
			logs = append(logs, l.shift[0]-in.deficit*left)
			thinner = append(thinner, l.shift[1]+in.thinner*left)
		}
		add := func(measure, statistic string, value, se float64) {
			t.Values = append(t.Values, Value{Question: "symmetry", InjuryType: in.code, Measure: measure, Statistic: statistic, X: week(by), Value: value, SE: se})
		}
		value, se := mean(logs)
		add(in.strength, "typical_index", 100*math.Exp(value), 100*math.Exp(value)*se)
		referenced := 100 * math.Exp(value+flat.logUninvolved(at)-flat.logUninvolved(0))
		add(in.strength, "baseline_referenced_index", referenced, referenced*se)
		value, se = mean(thinner)
		add(in.girth, "girth_difference", value, se)
	}
}

// tooRare is the share of episodes below which a type has too few sessions for
// an event rate of its own.
const tooRare = 0.01

// exposures draws people in batches as the practice has them, and counts their
// sessions from one day to another and the events expected in them.
func (w *world) exposures(people int, from, to day) [batches]exposures {
	var all [batches]exposures
	w.inParallel(batches, func(b int) {
		r := recorder{w: w, dry: true, exposed: newExposures(w), exposedFrom: from, exposedTo: to}
		for i := b * people / batches; i < (b+1)*people/batches; i++ {
			for _, st := range w.life(i) {
				r.record(st)
			}
		}
		all[b] = r.exposed
	})
	return all
}

// eventValues: events on record per 1,000 attended sessions, and events linked
// to a session in which symptoms were asked about per 1,000 such sessions. The
// sessions are drawn as the practice has them, losses and all; the events are
// their expectation.
func (t *Truth) eventValues(w *world, people int) {
	exposures := w.exposures(people, 0, forever)
	rates := []struct {
		statistic string
		of        func(exposure) float64
	}{
		{"per_1000_attended", func(x exposure) float64 { return 1000 * x.expected / x.sessions }},
		{"per_1000_asked", func(x exposure) float64 { return 1000 * x.askedEvents / x.asked }},
		{"serious_per_1000_attended", func(x exposure) float64 { return 1000 * x.serious / x.sessions }},
	}
	add := func(injury, site string, include func(kind, site int) bool) {
		var all exposure
		var each [batches]exposure
		for b := range exposures {
			for kind := range exposures[b] {
				for at, x := range exposures[b][kind] {
					if include(kind, at) {
						each[b].plus(x)
						all.plus(x)
					}
				}
			}
		}
		for _, rate := range rates {
			var values []float64
			for _, x := range each {
				if x.asked > 0 {
					values = append(values, rate.of(x))
				}
			}
			_, se := mean(values)
			t.Values = append(t.Values, Value{Question: "safety", InjuryType: injury, Site: site, Statistic: rate.statistic, Value: rate.of(all), SE: se})
		}
	}
	add("", "", func(int, int) bool { return true })
	for i, at := range w.scenario.sites() {
		add("", at.code, func(_, site int) bool { return site == i })
	}
	for i := range w.injuries {
		if w.injuries[i].share > tooRare {
			add(w.injuries[i].code, "", func(kind, _ int) bool { return kind == i })
		}
	}
}
