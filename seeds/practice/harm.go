package practice

import (
	"math"
	"math/rand/v2"
)

// kindOfEvent holds the rates of one kind, per 1,000 attended sessions.
type kindOfEvent struct {
	code     string
	inflated float64 // with the cuff inflated
	without  float64
	grade    int
	serious  bool
}

var eventKinds = []kindOfEvent{
	{"muscle_soreness", 10, 7, 1, false},
	{"cuff_discomfort", 9, 0, 1, false},
	{"numbness", 6, 0.4, 1, false},
	{"bruising", 3.5, 0.3, 1, false},
	{"dizziness", 2, 0.8, 1, false},
	{"skin_injury", 1.4, 0.2, 1, false},
	{"cold_or_colour_change", 0.9, 0, 1, false},
	{"device_fault", 0.6, 0, 1, false},
	{"reinjury_in_session", 0.4, 0.5, 2, false},
	{"blood_pressure_rise", 0.4, 0.1, 2, false},
	{"fainting", 0.15, 0.05, 2, false},
	{"nerve_injury", 0.10, 0.02, 3, true},
	{"vein_thrombosis", 0.10, 0.02, 3, true},
	{"muscle_breakdown", 0.05, 0.01, 3, true},
}

const (
	// recordedUnasked is the share of events that come on record where symptoms
	// were not asked about; serious ones always do.
	recordedUnasked = 0.6
	linked          = 0.96 // share of events linked to their session
)

// rate is the expected number of events of one kind on record per attended
// session, and of those that are linked to it, given the person's own factor.
func (k kindOfEvent) rate(s *Scenario, at *site, person float64, inflated, asked bool) (all, toSession float64) {
	all = k.without
	if inflated {
		all = k.inflated
	}
	all *= at.events * s.EventFactor * person / 1000
	if !asked && !k.serious {
		all *= recordedUnasked
	}
	return all, all * linked
}

// event is one adverse event as recorded, days from start.
type event struct {
	kind     kindOfEvent
	onset    int
	aware    int
	reported int // -1 where it is still open
	linked   bool
	resolved int // -1 where it is not over
	rng      uint64
}

// eventsOf draws the events of one attended session.
func eventsOf(rng *rand.Rand, s *Scenario, at *site, person float64, on int, inflated, asked bool, events []event) []event {
	total := 0.0
	var rates [16]float64
	for i, k := range eventKinds {
		rates[i], _ = k.rate(s, at, person, inflated, asked)
		total += rates[i]
	}
	for n := poisson(rng, total); n > 0; n-- {
		k := eventKinds[pick(rng, rates[:len(eventKinds)])]
		e := event{kind: k, onset: on, linked: chance(rng, linked), reported: -1, resolved: -1, rng: rng.Uint64()}
		if chance(rng, 0.3) {
			e.onset += 1 + int(2*rng.Float64())
		}
		e.aware = e.onset + int(4*rng.Float64())
		delay := int(3 * rng.Float64())
		if k.serious {
			e.aware = e.onset + int(rng.ExpFloat64()*9)
			delay = int(rng.ExpFloat64() * 14) // reported late
		}
		if k.serious || chance(rng, 0.97) {
			e.reported = e.aware + delay
		}
		if chance(rng, 0.9) {
			e.resolved = e.onset + 1 + int(rng.ExpFloat64()*float64(5*k.grade*k.grade))
		}
		events = append(events, e)
	}
	return events
}

func poisson(rng *rand.Rand, mean float64) int {
	limit, n := math.Exp(-mean), 0
	for p := rng.Float64(); p > limit; p *= rng.Float64() {
		n++
	}
	return n
}
