package figures

import (
	"fmt"
	"math"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// sample is the released figures of one injury type of a made-up practice.
type sample struct {
	code      string
	label     string
	people    int
	speed     float64 // weeks in which two thirds of those who will return do
	ceiling   float64 // share that returns in the end
	competing float64 // share that ends otherwise in the end
	weeks     int     // weeks the curve is supported
	half      float64 // half the width of the interval at the end
}

func calf() sample {
	return sample{code: "calf_strain", label: "Calf strain", people: 146, speed: 9, ceiling: 0.75, competing: 0.08, weeks: 26, half: 0.08}
}

var period = struct{ from, to time.Time }{
	time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC),
}

// gate releases the figures of all samples as they would circulate.
func gate(tb testing.TB, samples ...sample) *disclosure.Released {
	tb.Helper()
	var set result.Set
	for _, s := range samples {
		set.Append(s.figures())
	}
	return release(tb, set, samples...)
}

// release lets a set through the gate, with the labels of the samples.
func release(tb testing.TB, set result.Set, samples ...sample) *disclosure.Released {
	tb.Helper()
	c := result.Context{
		Practice: "Tarn Street Physiotherapy", AsOfBatch: 9, MadeUp: true,
		ReceivedOn: time.Date(2026, 7, 3, 0, 0, 0, 0, time.UTC),
	}
	for _, s := range samples {
		c.InjuryTypes = append(c.InjuryTypes, result.Label{Code: s.code, Label: s.label})
	}
	r, err := disclosure.Release(disclosure.Input{
		Figures: set, Context: c, Audience: disclosure.Circulating,
		Floors: disclosure.Floors{Circulating: 10, Site: 20, Curve: 20, Inside: 5},
	})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

func (s sample) figures() result.Set {
	var set result.Set
	picture := result.PictureID("return", s.code, "", "", "", "", "24m")
	add := func(f result.Figure, x string) {
		f.ID = result.ID(picture, f.Statistic, x)
		f.Question, f.InjuryType = "return", s.code
		f.PeriodFrom, f.PeriodTo = period.from, period.to
		f.Status, f.AsOfBatch = result.Final, 9
		set.Figures = append(set.Figures, f)
	}
	watched := s.people * 9 / 10
	share := func(statistic string, week int, value, half float64) result.Figure {
		f := result.Figure{Statistic: statistic, XUnit: "weeks", Unit: "share", Level: 0.95, Persons: &watched}
		x, low, high := float64(week), max(0, value-half), min(1, value+half)
		f.X, f.Value, f.Low, f.High = &x, &value, &low, &high
		return f
	}
	for week := 0; week <= s.weeks; week++ {
		grown := 1 - math.Exp(-float64(week)/s.speed)
		half := s.half * math.Sqrt(grown)
		x := fmt.Sprintf("w%d", week)
		back, ended := s.ceiling*grown, s.competing*grown
		add(share("cumulative", week, back, half), x)
		add(share("competing", week, ended, half/3), x)
		left := share("at_risk", week, math.Round(float64(watched)*(1-back-ended)), 0)
		left.Unit, left.Level, left.Low, left.High = "persons", 0, nil, nil
		add(left, x)
		if week == 6 || week == 12 || week == 26 {
			add(share("share", week, back, half), x)
		}
	}
	back, ended, lost := int(s.ceiling*float64(watched)), int(s.competing*float64(watched)), watched/12
	for _, n := range []struct {
		statistic string
		value     int
	}{
		{"began", s.people},
		{"at_risk", watched},
		{"at_target", s.people - watched},
		{"no_usable", 0},
		{"returned", back},
		{"ended_otherwise", ended},
		{"not_followed", lost},
		{"in_care", watched - back - ended - lost},
	} {
		value, persons := float64(n.value), n.value
		add(result.Figure{Statistic: n.statistic, Value: &value, Persons: &persons, Unit: "episodes"}, "")
	}
	total := func(whole string, parts ...string) {
		for _, p := range parts {
			set.Totals = append(set.Totals, result.Total{Whole: picture + "/" + whole, Part: picture + "/" + p})
		}
	}
	total("began", "at_target", "at_risk", "no_usable")
	total("at_risk", "returned", "ended_otherwise", "in_care", "not_followed")
	return set
}

// nine are as many types as the made-up practice has, one of them too small.
func nine() []sample {
	var out []sample
	for i, label := range []string{
		"Achilles tendinopathy", "Ankle ligament sprain", "Anterior cruciate ligament reconstruction", "Calf strain", "Hamstring strain",
		"Lateral elbow tendinopathy", "Patellar tendinopathy", "Rotator cuff repair", "Distal radius fracture, after fixation",
	} {
		s := calf()
		s.code, s.label = fmt.Sprintf("type_%c", 'a'+i), label
		s.people, s.speed, s.ceiling = 320-35*i, 4+float64(3*i), 0.92-0.05*float64(i)
		if i == 4 {
			s.people = 9
		}
		out = append(out, s)
	}
	return out
}
