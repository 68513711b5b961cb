package practice

import (
	"fmt"
	"math"
)

// Departures are properties of the base scenario that one condition of a
// calibration breaks, each on its own. None of them moves a draw of the base
// scenario.
type Departures struct {
	LossFactor      float64 // factor on the rates at which people are lost; 1 in the base scenario
	CovariateGaps   float64 // share of the cells of covariates that go unrecorded, where that is more than in the base scenario
	BoutGaps        float64 // the same for sets, repetitions, minutes inflated and pressure of a bout
	PersonSpread    float64 // sd between persons of the log of their event rates; half of it is added to that of the log of progress needed
	ClinicianSpread float64 // sd between clinicians of the logs of progress needed, of dose and of event rates

	LimbDrivesReturn bool // who is strong early returns early, and nobody is tested after a return
	OtherShape       bool // limbs come back along a curve that the fitted spline cannot follow
}

func (d Departures) check() error {
	switch {
	case d.LossFactor <= 0:
		return fmt.Errorf("made-up practice: loss factor %g; choose a number above 0, 1 for none", d.LossFactor)
	case d.CovariateGaps < 0 || d.CovariateGaps > 1 || d.BoutGaps < 0 || d.BoutGaps > 1:
		return fmt.Errorf("made-up practice: shares unrecorded %g and %g; choose 0 to 1", d.CovariateGaps, d.BoutGaps)
	case d.PersonSpread < 0 || d.ClinicianSpread < 0:
		return fmt.Errorf("made-up practice: spreads %g and %g; choose 0 or more", d.PersonSpread, d.ClinicianSpread)
	}
	return nil
}

// pace is the sd between persons of the log of progress needed.
func (d Departures) pace() float64 { return personPace + d.PersonSpread/2 }

// covariate is the rate at which a covariate's cell goes unrecorded, bout that
// of an ingredient of a bout.
func (d Departures) covariate(base float64) float64 { return math.Max(base, d.CovariateGaps) }
func (d Departures) bout(base float64) float64      { return math.Max(base, d.BoutGaps) }

// cliniciansASite is how many share the people of a site.
const cliniciansASite = 4

// ownClinician is the one of the site who sees most of a person's sessions.
func (p *person) ownClinician() int { return p.number % cliniciansASite }

// clinicianMark is what an episode has of its clinician, each standard normal
// times the spread. A truth is about all clinicians there could be: there,
// everybody has one of their own.
type clinicianMark struct{ pace, dose, events float64 }

func (w *world) clinicianMark(p *person) clinicianMark {
	spread := w.scenario.ClinicianSpread
	if spread == 0 {
		return clinicianMark{}
	}
	number := p.site*cliniciansASite + p.ownClinician()
	if w.manyClinicians {
		number = p.number
	}
	rng := stream(w.scenario.Seed, number, forClinician)
	return clinicianMark{spread * rng.NormFloat64(), spread * rng.NormFloat64(), spread * rng.NormFloat64()}
}

// harmFactor is the factor on the event rates of a person, 1 on average over
// persons and clinicians.
func (w *world) harmFactor(p *person) float64 {
	factor := 1.0
	if spread := w.scenario.PersonSpread; spread > 0 {
		factor *= math.Exp(spread*stream(w.scenario.Seed, p.number, forFrailty).NormFloat64() - spread*spread/2)
	}
	if spread := w.scenario.ClinicianSpread; spread > 0 {
		factor *= math.Exp(w.clinicianMark(p).events - spread*spread/2)
	}
	return factor
}

// limbPace is the log of progress needed per standard deviation by which a limb
// lies above what severity and site give it, where the limb drives the return.
const limbPace = -0.35

// limbLevel is that number of standard deviations for an episode.
func (w *world) limbLevel(number int) float64 {
	return stream(w.scenario.Seed, number, forLimb).NormFloat64()
}

// recovered is the share of a limb's deficit made up for after weeks, at a usual
// dose. The other shape does next to nothing for three weeks and most within the
// next four.
func (s *Scenario) recovered(week float64) float64 {
	if s.OtherShape {
		return 0.7/(1+math.Exp(-(week-5.5)/0.8)) + 0.003*week
	}
	return recovered(week)
}
