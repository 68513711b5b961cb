package practice

import (
	"math"
	"math/rand/v2"
)

// body holds what one episode's measurements are drawn from. Weeks are counted
// from start; the involved side follows the uninvolved one by a log ratio of
// strength and a difference of girth in centimetres.
type body struct {
	strength float64 // uninvolved side at start, in the measure's unit
	around   float64 // uninvolved girth at start, cm
	ratio    line    // log of involved over uninvolved strength
	thin     line    // uninvolved minus involved girth, cm
	gain     float64 // of the involved side by the dose of the window; 1 at a usual dose

	recovered func(week float64) float64
}

// line is one person's own part of a course over weeks.
type line struct{ intercept, slope float64 }

func (l line) at(week float64) float64 { return l.intercept + l.slope*week }

// Course of the two limbs.
const (
	bodyDose = 0.35 // weight of the effect of dose on the body

	ratioSpread, ratioSlope = 0.085, 0.0025 // sd of intercept and of slope per week
	thinSpread, thinSlope   = 0.35, 0.012
	weakening               = 0.05 // about the log strength that the uninvolved side loses by week 8

	// Errors of one value, log for strength, cm for girth: of the day and of the trial.
	dayError, trialError  = 0.035, 0.03
	girthDay, girthTrial  = 0.22, 0.15
	strengthTrials        = 2
	strengthBySite        = 0.01 // log ratio per unit of a site's pace
	girthSeverity         = 0.25 // cm per step of severity
	ratioSeverityPerLevel = -0.05
)

func (w *world) drawBody(rng *rand.Rand, e *episode, c *course) body {
	in := e.injury
	b := body{recovered: w.scenario.recovered}
	b.strength = in.level * math.Exp(e.person.size+0.1*rng.NormFloat64())
	b.around = in.around * math.Exp(0.35*e.person.size+0.05*rng.NormFloat64())
	b.ratio = line{e.ratioShift() + ratioSpread*rng.NormFloat64(), ratioSlope * rng.NormFloat64()}
	b.thin = line{e.thinShift() + thinSpread*rng.NormFloat64(), thinSlope * rng.NormFloat64()}
	if w.scenario.LimbDrivesReturn {
		level := w.limbLevel(e.number)
		b.ratio.intercept, b.thin.intercept = e.ratioShift()+ratioSpread*level, e.thinShift()-thinSpread*level
	}
	b.gain = w.gain(e.setsPerWeek(c.dose))
	return b
}

// setsPerWeek is the dose of the window. Heavier loads without the cuff are
// worth a usual dose.
func (e *episode) setsPerWeek(d dose) float64 {
	if !ways[e.way].cuff {
		return usualSets
	}
	return d.sets * 7 / float64(e.injury.landmark)
}

// gain is the factor by which dose changes how fast the involved limb comes
// back.
func (w *world) gain(sets float64) float64 {
	return 1 + w.scenario.DoseEffect*bodyDose*(doseEffect(sets)-doseEffect(usualSets))
}

// ratioShift and thinShift are what severity and site add at all weeks.
func (e *episode) ratioShift() float64 {
	return ratioSeverityPerLevel*float64(e.severity-1) - strengthBySite*e.site.pace*10
}

func (e *episode) thinShift() float64 { return girthSeverity * float64(e.severity-1) }

// bend is a natural cubic spline of weeks with knots at 0, 4 and 10: flat at 0,
// straight from week 10 on with a slope of 12. All courses of limbs are sums of
// a straight line and a bend, so that a spline with these knots can follow them
// exactly.
func bend(week float64) float64 {
	cube := func(x float64) float64 { return math.Pow(math.Max(0, x), 3) }
	return (cube(week)-cube(week-10))/10 - (cube(week-4)-cube(week-10))/6
}

// limb is a course with the slope at start given that turns to the later one by week 10.
func limb(week, atStart, later float64) float64 {
	return atStart*week - (atStart-later)/12*bend(week)
}

// recovered is the share of the deficit at start that is made up for after
// weeks, at a usual dose: a half by week 6, three quarters by week 26.
func recovered(week float64) float64 { return limb(week, 0.11, 0.012) }

// logRatio is the log of involved over uninvolved strength without error.
func (b *body) logRatio(in *injury, week float64) float64 {
	return b.ratio.at(week) - in.deficit*(1-b.gain*b.recovered(week))
}

// thinnerBy is the girth of the uninvolved less the involved side.
func (b *body) thinnerBy(in *injury, week float64) float64 {
	return b.thin.at(week) + in.thinner*(1-b.gain*b.recovered(week))
}

// spared is how far the uninvolved side has weakened: it does over the first
// weeks of sparing and slowly comes back.
func spared(week float64) float64 { return limb(week, 0.2, -0.02) }

// logUninvolved is the log of the uninvolved side's strength.
func (b *body) logUninvolved(week float64) float64 {
	return math.Log(b.strength) - weakening*spared(week)
}

// girthUninvolved is the girth of the uninvolved side, cm.
func (b *body) girthUninvolved(week float64) float64 { return b.around - 0.3*spared(week) }

// plannedTests are the weeks in which measuring is planned. The tests up to
// week 12 are made after a return too.
var plannedTests = []int{0, 3, 6, 9, 12, 16, 20, 26, 34, 43, 52}

const testsAfterReturn = 12 // weeks

// test is one day of measuring.
type test struct {
	day   int
	visit bool // at a visit; else a contact for the test alone
}

// planTests lays the tests on the attended visits nearest to plan, and on days
// of their own where a return has ended the visits: people stay away from these
// at the rate at which others are lost. A test after the end of care by a return
// moves that end.
func (w *world) planTests(rng *rand.Rand, e *episode, c *course) []test {
	var tests []test
	done := 0 // visits looked at
	lastVisit := c.lastVisit()
	until := min(int(w.siteEnds[e.person.site]-e.start), lastVisit+int(rng.ExpFloat64()*7/(lostPerWeek*w.scenario.LossFactor)))
	for _, week := range plannedTests {
		planned := 7 * week
		made := chance(rng, 0.9)
		jitter := int(7*rng.Float64()) - 3
		found := false
		for ; done < len(c.visits); done++ {
			v := c.visits[done]
			if v.attended && v.day >= planned-3 {
				found = true
				break
			}
		}
		switch {
		case found && c.visits[done].day > planned+10 && week > 0:
			continue // no visit near enough
		case found:
			if made {
				tests = append(tests, test{c.visits[done].day, true})
			}
			done++
		case !w.scenario.LimbDrivesReturn && c.finish == goalMet && c.returnedBy(e) && !c.left && week <= testsAfterReturn && made:
			on := int((e.start + day(planned+jitter)).workday() - e.start)
			if on > lastVisit && on <= until {
				tests = append(tests, test{on, false})
				c.last = max(c.last, on)
				c.finishOn, c.told = max(c.finishOn, on), max(c.told, on)
			}
		}
	}
	return tests
}

func (c *course) lastVisit() int {
	for i := len(c.visits) - 1; i > 0; i-- {
		if c.visits[i].attended {
			return c.visits[i].day
		}
	}
	return 0
}

func (c *course) returnedBy(e *episode) bool {
	_, ok := c.heldReturn(e.target, 0)
	return ok
}
