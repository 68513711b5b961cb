package calibrate

import (
	"evenlimb/seeds/practice"
)

// Condition is a kind of practice: the base, or a departure from it in one
// property.
type Condition struct {
	Name       string
	About      string // how it departs, one line
	Replicates int    // R: seeds 1 to R
	Scenario   practice.Scenario
	NoEffect   bool   // dose does nothing: a test of no difference is held to its level
	Expect     string // what a reviewer would expect to fail, and why; else empty
}

// Replicates of the base and of every departure.
const (
	baseReplicates      = 2000
	departureReplicates = 400
)

// Conditions are all there are, the base first.
var Conditions = conditions()

func conditions() []Condition {
	list := []Condition{{Name: "base", About: "about 2,500 episodes, everything moderate", Replicates: baseReplicates, Scenario: practice.Default()}}
	depart := func(name, about, expect string, change func(s *practice.Scenario)) {
		s := practice.Default()
		change(&s)
		list = append(list, Condition{Name: name, About: about, Replicates: departureReplicates, Scenario: s, Expect: expect})
	}
	depart("episodes-300", "about 300 episodes", "", func(s *practice.Scenario) { s.Episodes = 265 })
	depart("episodes-10000", "about 10,000 episodes", "", func(s *practice.Scenario) { s.Episodes = 8850 })
	depart("confounding-none", "severity does nothing to dose", "", func(s *practice.Scenario) { s.Confounding = 0 })
	depart("confounding-strong", "severity does twice as much to dose", "", func(s *practice.Scenario) { s.Confounding = 2 })
	depart("lost-5", "about 5 % of those at risk are lost", "", func(s *practice.Scenario) { s.LossFactor = lossOf5 })
	depart("lost-40", "about 40 % of those at risk are lost", "", func(s *practice.Scenario) { s.LossFactor = lossOf40 })
	depart("covariates-10", "10 % of covariates unrecorded", "", func(s *practice.Scenario) { s.CovariateGaps = 0.1 })
	depart("covariates-30", "30 % of covariates unrecorded", "", func(s *practice.Scenario) { s.CovariateGaps = 0.3 })
	depart("bouts-10", "10 % of each ingredient of a bout unrecorded", "", func(s *practice.Scenario) { s.BoutGaps = 0.1 })
	depart("persons", "persons differ much in recovery and in events", "", func(s *practice.Scenario) { s.PersonSpread = 1 })
	depart("clinicians", "clinicians differ in recovery, dose and events", "Intervals are over persons, not over clinicians.", func(s *practice.Scenario) { s.ClinicianSpread = 0.2 })
	depart("loss-between-visits", "some who have returned never come to have it recorded", "Leaving says something about having returned.", func(s *practice.Scenario) { s.LossBetweenVisits = true })
	depart("limb-drives-return", "the limb's own level drives the return, and nobody is tested after it", "Who is still tested is a selection by what is measured.", func(s *practice.Scenario) { s.LimbDrivesReturn = true })
	depart("hidden-severity", "half of the severities on record are not those that steer", "The adjustment uses what is on record.", func(s *practice.Scenario) { s.HiddenSeverity = true })
	depart("other-shape", "limbs recover along a curve that the spline cannot follow", "The curve that is fitted cannot be the true one.", func(s *practice.Scenario) { s.OtherShape = true })
	depart("no-difference", "dose does nothing", "", func(s *practice.Scenario) { s.DoseEffect = 0 })
	list[len(list)-1].NoEffect = true
	return list
}

// Factors on the rates of loss with which 5 % and 40 % of those at risk in two
// years are lost sight of, or leave care, before anything else becomes of them.
const (
	lossOf5  = 0.4
	lossOf40 = 5
)
