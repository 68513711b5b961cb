package practice

import (
	"math"
	"math/rand/v2"
)

// keylessMeasures is the sender whose system has no number for a measurement:
// its rows are known by episode, day, measure, side, trial and rater.
const keylessMeasures = "millrace"

// measurements writes what was measured on the days of testing.
func (r *recorder) measurements(rng *rand.Rand, tests []test) {
	e := &r.st.episode
	in := e.injury
	b := r.w.drawBody(rng, e, &r.st.course)
	r.measured = 0
	for i, t := range tests {
		week := float64(t.day) / 7
		r.strength(rng, &b, t.day, week)
		r.girth(rng, &b, t.day, week)
		r.measure(t.day, "pain_nrs", "none", r.painOn(t.day), 0, 1, 0.03)
		if i%2 == 0 {
			r.measure(t.day, in.score, "none", r.score(rng, week), 0, 1, 0.08)
		}
		if i == 0 {
			r.measure(t.day, "body_mass", "none", 74*math.Exp(0.6*e.person.size)+6*rng.NormFloat64(), 1, 1, 0.1)
		}
	}
}

// sidesMeasured returns the involved and the uninvolved side; where both are
// involved, the worse and the other.
func (r *recorder) sidesMeasured() (involved, other string) {
	worse := r.st.episode.worse
	return sides[worse], sides[1-worse]
}

func (r *recorder) strength(rng *rand.Rand, b *body, on int, week float64) {
	e := &r.st.episode
	involved, uninvolved := r.sidesMeasured()
	base := b.logUninvolved(week)
	ratio := b.logRatio(e.injury, week)
	if e.side == bilateral {
		base += 0.7 * ratio
		ratio *= 0.3
	}
	dayInvolved, dayOther := dayError*rng.NormFloat64(), dayError*rng.NormFloat64()
	onOther := on
	if chance(rng, 0.1) {
		onOther = on + 2 // the other side was measured on another day
	}
	skip := chance(rng, 0.03)
	for trial := 1; trial <= strengthTrials; trial++ {
		first, second := trialError*rng.NormFloat64(), trialError*rng.NormFloat64()
		r.measure(on, e.injury.strength, involved, math.Exp(base+ratio+dayInvolved+first), 1, trial, 0.01)
		if !skip {
			r.measure(onOther, e.injury.strength, uninvolved, math.Exp(base+dayOther+second), 1, trial, 0.01)
		}
	}
}

func (r *recorder) girth(rng *rand.Rand, b *body, on int, week float64) {
	e := &r.st.episode
	involved, uninvolved := r.sidesMeasured()
	base := b.girthUninvolved(week)
	thinner := b.thinnerBy(e.injury, week)
	if e.side == bilateral {
		base -= 0.7 * thinner
		thinner *= 0.3
	}
	day1, day2 := girthDay*rng.NormFloat64(), girthDay*rng.NormFloat64()
	r.measure(on, e.injury.girth, involved, base-thinner+day1+girthTrial*rng.NormFloat64(), 1, 1, 0.02)
	r.measure(on, e.injury.girth, uninvolved, base+day2+girthTrial*rng.NormFloat64(), 1, 1, 0.02)
}

// score is a patient-reported score, kept within its range.
func (r *recorder) score(rng *rand.Rand, week float64) float64 {
	e := &r.st.episode
	left := math.Exp(-1.2 * week * 7 / e.need)
	worst := 55 + 8*float64(e.severity-1)
	value := 96 - worst*left + 6*rng.NormFloat64()
	switch e.injury.score {
	case "quickdash", "dash":
		value = 100 - value
	case "lefs":
		value *= 0.8
	}
	top := 100.0
	if e.injury.score == "lefs" {
		top = 80
	}
	return math.Round(math.Max(0, math.Min(top, value)))
}

// measure writes one row, unless it went unrecorded.
func (r *recorder) measure(on int, code, side string, value float64, places, trial int, unrecorded float64) {
	e, out := &r.st.episode, &r.out
	if out.missing(unrecorded) {
		return
	}
	from := r.begin()
	if e.site.sender == keylessMeasures {
		out.empty()
	} else {
		out.text(numbered(e.key, 'v', r.measured))
	}
	r.measured++
	out.text(e.key)
	out.date(e.start + day(on))
	out.text(code)
	out.text(side)
	out.decimal(value, places)
	out.textOr(0.02, r.w.units[code])
	out.whole(trial)
	if side == "none" {
		out.empties(2)
	} else {
		out.textOr(0.3, "tape or dynamometer, resting first")
		out.empty()
	}
	rater := "c-" + e.site.code[:3] + string(rune('1'+e.person.number%2))
	if e.site.sender == keylessMeasures {
		out.text(rater)
	} else {
		out.textOr(0.05, rater)
	}
	r.put(measurementsTable, from, "", on)
}
