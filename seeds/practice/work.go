package practice

import (
	"math"
	"math/rand/v2"
)

// The effect of dose on the speed of the recovery clock.
const (
	usualSets   = 18.0 // sets with the cuff inflated per week
	doseCeiling = 3.0
	doseHalfway = 22.0
)

// doseEffect is the log of the speed after the landmark, by the sets per week
// of the window; it flattens with dose.
func doseEffect(sets float64) float64 { return doseCeiling * sets / (sets + doseHalfway) }

// effort is one exercise with the cuff inflated, of the involved side.
type effort struct {
	sets, reps int
	minutes    float64 // inflated, one decimal
}

// work is all of that in one session.
type work struct {
	n       int
	efforts [4]effort
	percent int // pressure as a share of full occlusion pressure
}

// dose adds up work as the analysis is to count it.
type dose struct {
	sets, reps, minutes, pressureMinutes float64
	sessions                             float64 // attended
}

func (d *dose) add(w work) {
	d.sessions++
	for _, e := range w.efforts[:w.n] {
		d.sets += float64(e.sets)
		d.reps += float64(e.reps)
		d.minutes += e.minutes
		d.pressureMinutes += e.minutes * float64(w.percent) / 100
	}
}

// setsASession is what is usual in a session with the cuff.
const setsASession = 9.0

// session draws the work with the cuff inflated of one session: sets about the
// person's own amount, fewer in the first session.
func (e *episode) session(rng *rand.Rand, first bool, shift float64) work {
	u, v, n := rng.Float64(), rng.Float64(), rng.NormFloat64()
	if !ways[e.way].cuff {
		return work{}
	}
	amount := setsASession * math.Exp(e.intensity+shift+0.15*n)
	if first {
		amount *= 0.6
	}
	total := min(20, max(1, int(amount+u)))
	w := work{n: min(4, (total+4)/5)}
	w.percent = e.percent() + int(6*v) - 3
	for i := range w.n {
		sets := total / w.n
		if i < total%w.n {
			sets++
		}
		w.efforts[i] = e.effort(sets)
	}
	return w
}

// percent is the pressure of the plan, as a share of full occlusion pressure.
func (e *episode) percent() int {
	base := [3]int{70, 62, 54}[e.severity]
	if e.injury.region == "upper_limb" {
		base -= 12
	}
	return base
}

// repsInSets is the scheme of one long set and shorter ones.
func repsInSets(sets int) int { return 30 + 15*(sets-1) }

const (
	secondsPerRep = 3
	restSeconds   = 30
)

func (e *episode) effort(sets int) effort {
	reps := repsInSets(sets)
	seconds := float64(reps * secondsPerRep)
	if ways[e.way].mode == "continuous" {
		seconds += float64((sets - 1) * restSeconds)
	}
	return effort{sets: sets, reps: reps, minutes: math.Round(seconds/6) / 10}
}
