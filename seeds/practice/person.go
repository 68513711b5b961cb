package practice

import (
	"math"
	"math/rand/v2"
)

// purpose keeps the streams of one episode apart.
type purpose uint64

const (
	forPerson purpose = iota + 1
	forEpisode
	forVisits
	forWork
	forRecovery
	forBody
	forHarm
	forRecord
	forAgain
	forMess
	forEnds
	forEpisodeRow
	forClinician
	forFrailty
	forLimb

	purposes = 16 // more than there are
)

// stream is the source of one purpose of one episode. Both words of its seed
// come from seed, number and purpose together.
func stream(seed uint64, number int, p purpose) *rand.Rand {
	own := scramble(scramble(seed) + unsigned(number)*purposes + uint64(p))
	return rand.New(rand.NewPCG(own, scramble(own)))
}

// unsigned is a number of people, of episodes or of a mess: never below 0.
func unsigned(number int) uint64 {
	return uint64(number) //nolint:gosec // see above
}

// scramble spreads neighbouring numbers over all 64 bits (the finaliser of
// SplitMix64, Steele, Lea and Flood 2014).
func scramble(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

const keyLetters = "abcdefghjkmnpqrstuvwxyz23456789x"

// key makes a pseudonym of ten letters after a prefix.
func key(prefix byte, seed uint64, number int) string {
	bits := scramble(scramble(seed+uint64(prefix)<<32) ^ unsigned(number))
	text := [12]byte{prefix, '-'}
	for i := 2; i < len(text); i++ {
		text[i] = keyLetters[bits&31]
		bits >>= 5
	}
	return string(text[:])
}

// pick returns an index with probability proportional to its weight.
func pick(rng *rand.Rand, weights []float64) int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	u := rng.Float64() * total
	for i, w := range weights {
		if u < w {
			return i
		}
		u -= w
	}
	return len(weights) - 1
}

func chance(rng *rand.Rand, p float64) bool { return rng.Float64() < p }

// person is who may have several episodes.
type person struct {
	number   int
	site     int
	age      int // index of ageBands
	sex      int // index of sexes
	dominant int // side
	activity int // index of activities
	manual   bool
	size     float64 // log factor on strength and girth
	pace     float64 // log factor on the progress needed, shared by episodes
}

var (
	ageBands   = []string{"18-24", "25-34", "35-44", "45-54", "55-64", "65-74"}
	sexes      = []string{"female", "male", "other", "unknown"}
	activities = []string{"inactive", "recreational", "competitive", "professional"}
	sides      = []string{"left", "right", "bilateral"}
	severities = []string{"mild", "moderate", "severe"}
)

const (
	left = iota
	right
	bilateral
)

func drawPerson(s *Scenario, number int) person {
	rng := stream(s.Seed, number, forPerson)
	shares := make([]float64, s.Sites)
	for i, at := range s.sites() {
		shares[i] = at.share
	}
	p := person{number: number}
	p.site = pick(rng, shares)
	p.age = pick(rng, []float64{0.14, 0.24, 0.23, 0.19, 0.13, 0.07})
	p.sex = pick(rng, []float64{0.47, 0.505, 0.01, 0.015})
	p.dominant = pick(rng, []float64{0.11, 0.89})
	p.activity = pick(rng, []float64{0.14, 0.57, 0.25, 0.04})
	p.manual = chance(rng, 0.28)
	p.size = 0.16 * rng.NormFloat64()
	if p.sex == 1 {
		p.size += 0.12
	}
	p.pace = s.pace() * rng.NormFloat64()
	return p
}

// How the target came to be on record.
const (
	targetInTime = iota // agreed by day 28
	targetLate
	targetNever
	targetUndated
)

// episode is one course of care as it was, before anything is recorded of it.
type episode struct {
	number int
	key    string
	person person
	injury *injury
	site   *site
	start  day
	onset  int // days from onset or operation to start
	side   int
	worse  int // side that is worse, where both are involved
	again  *episode

	severity int // steers the course
	shown    int // as exported

	ladder     []stage
	target     int // rank
	atStart    int // rank
	targetFrom int // targetInTime ...
	targetDay  int // days from start

	way       int
	intensity float64 // log factor on the sets of a session
	need      float64 // days of progress at speed 1
	pain      float64 // pain at start
}

// Effects of severity, by mild, moderate and severe.
var (
	severityShares = []float64{0.36, 0.40, 0.24}
	severityPace   = [3]float64{-0.45, 0, 0.50} // on the log of the progress needed
	severityDose   = [3]float64{0.36, 0, -0.38} // on the log of dose
	severityEnds   = [3]float64{0.7, 1, 1.6}    // factor on the competing ends
	severityPain   = [3]float64{3.4, 4.6, 6.0}
)

const (
	personPace = 0.12 // sd of the log of progress needed, shared by a person's episodes
	frailty    = 0.16 // sd of the log of progress needed, episode's own
	doseSpread = 0.46 // sd of the log of dose given severity
	agePace    = 0.03 // log of progress needed per age band
)

func (w *world) drawEpisode(number int, p person, kind int) episode {
	s := &w.scenario
	rng := stream(s.Seed, number, forEpisode)
	if kind < 0 {
		kind = pick(rng, w.shares)
	}
	e := episode{number: number, key: key('e', s.Seed, number), person: p, injury: &w.injuries[kind], site: &siteTable[p.site]}
	span := float64(w.lastDay - s.firstDay())
	e.start = (s.firstDay() + day(rng.Float64()*span)).workday()
	e.side = pick(rng, []float64{0.5, 0.5})
	e.worse = e.side
	if chance(rng, e.injury.both) {
		e.side = bilateral
	}
	e.onset = int(3 + rng.ExpFloat64()*onsetDays[e.injury.kind])

	e.severity = pick(rng, severityShares)
	e.shown = e.severity
	if noise := rng.Float64(); s.HiddenSeverity && noise < 0.5 {
		e.shown = pick(rng, severityShares)
	}
	e.drawTarget(w, rng)

	e.way = pick(rng, wayShares[e.severity][:])
	e.intensity = s.Confounding*severityDose[e.severity] + doseSpread*rng.NormFloat64()
	if s.SitesDifferInDose {
		e.intensity += e.site.dose
	}
	clinician := w.clinicianMark(&p)
	e.intensity += clinician.dose
	e.pain = math.Max(0, math.Min(10, severityPain[e.severity]+1.3*rng.NormFloat64()))

	recovery := stream(s.Seed, number, forRecovery)
	weibull := math.Pow(recovery.ExpFloat64()/math.Ln2, 1/e.injury.shape)
	e.need = usualNeed(e.injury) * weibull * math.Exp(severityPace[e.severity]+p.pace+e.site.pace+clinician.pace+
		agePace*float64(p.age-2)+frailty*recovery.NormFloat64()) / s.HazardFactor
	if s.LimbDrivesReturn {
		e.need *= math.Exp(limbPace * w.limbLevel(number))
	}
	return e
}

var onsetDays = map[string]float64{"muscle": 9, "ligament": 10, "tendon": 80, "post_operative": 12}

// usualNeed turns the median days to the target, at a usual dose, into days of
// progress at speed 1.
func usualNeed(in *injury) float64 {
	l := float64(in.landmark)
	return l + (in.median-l)*math.Exp(doseEffect(usualSets))
}

// drawTarget sets the ladder, the target and the stage at start. What is never
// recorded is the type's default, as the analysis is told to assume.
func (e *episode) drawTarget(w *world, rng *rand.Rand) {
	e.targetFrom = pick(rng, []float64{0.85, 0.06, 0.05, 0.04})
	e.targetDay = int(rng.Float64() * 15)
	if e.targetFrom == targetLate {
		e.targetDay = 31 + int(rng.Float64()*30)
	}
	e.ladder = w.ladders[e.injury.region]
	e.target = rankOf(e.ladder, e.injury.target)
	switch u := rng.Float64(); {
	case e.targetFrom == targetNever:
	case e.person.manual && u < 0.35:
		e.ladder = w.ladders["work"]
		e.target = len(e.ladder) - 1
	case e.person.activity == 0:
		e.target = 2 // all daily activity
	case e.person.activity >= 2 && u > 0.55:
		e.target = len(e.ladder) - 1
	}
	e.atStart = min(int(rng.Float64()*3), e.target-1)
	if chance(rng, e.injury.atTarget) {
		e.atStart = e.target
	}
}

func (e *episode) atTarget() bool { return e.atStart >= e.target }

func rankOf(ladder []stage, code string) int {
	for _, s := range ladder {
		if s.code == code {
			return s.rank
		}
	}
	return len(ladder) - 1
}
