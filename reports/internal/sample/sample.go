// Package sample makes released figures by hand for the tests of the reports:
// a practice of five injury types and three sites, one type too small to show,
// one slow enough that its median is not reached.
package sample

import (
	"fmt"
	"math"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// Floors are the usual ones.
var Floors = disclosure.Floors{Circulating: 10, Site: 20, Inside: 5, Curve: 20}

// Context is the frame of the sample month, June 2026.
func Context() result.Context {
	return result.Context{
		Practice:   "Sample Lane Physiotherapy",
		Month:      day(2026, 6, 1),
		PeriodFrom: day(2024, 7, 1),
		PeriodTo:   day(2026, 6, 30),
		AsOfBatch:  9, ReceivedOn: day(2026, 7, 21),
		Program: "0.1.0+0f1e2d3c4b5a", SettingsHash: "9b8a7c6d5e4f", MadeUp: true,
		Sites: []result.Site{
			{Code: "NORTH", Label: "North Road", DataThrough: day(2026, 7, 20)},
			{Code: "MILL", Label: "Mill Yard", DataThrough: day(2026, 5, 12), Silent: true},
			{Code: "QUAY", Label: "The Quay", DataThrough: day(2026, 7, 19)},
		},
		InjuryTypes: []result.Label{
			{Code: "calf_strain", Label: "Calf strain"},
			{Code: "hamstring_strain", Label: "Hamstring strain"},
			{Code: "achilles_tendinopathy", Label: "Achilles tendinopathy"},
			{Code: "anterior_cruciate_reconstruction", Label: "Anterior cruciate ligament reconstruction"},
			{Code: "distal_biceps_repair", Label: "Distal biceps tendon repair"},
		},
		KeepsActivity: []string{"achilles_tendinopathy"},
		Files: []result.FileCount{
			{
				Sender: "north", Files: 24, Read: 61234, Accepted: 60988, Duplicates: 120, Corrections: 101, Withdrawals: 22, Quarantined: 3, Waiting: 1, Skipped: 48,
				Forms: []result.FileForm{{Form: "csv, semicolon, windows-1252", Files: 16}, {Form: "csv, semicolon, windows-1252, skip 3", Files: 8}},
			},
			{
				Sender: "mill_and_quay", Files: 31, Read: 48020, Accepted: 47802, Duplicates: 96, Corrections: 110, Withdrawals: 12,
				Forms: []result.FileForm{{Form: "", Files: 1}, {Form: "ndjson, utf-8, zstd", Files: 10}, {Form: "parquet", Files: 10}, {Form: "xlsx", Files: 10}},
			},
		},
		Settings: []result.Setting{{Key: "return.hold_days", Value: "14"}, {Key: "return.window_months", Value: "24"}, {Key: "dose.reference_sets", Value: "15"}, {Key: "progression.after_pain_days", Value: "7"}, {Key: "progression.stall_days", Value: "21"}},
	}
}

func day(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

// kind is how one injury type goes in the sample.
type kind struct {
	injury    string
	sites     [3]int  // episodes that began, by site
	limit     float64 // share that returns in the end
	weeks     float64 // time scale of return
	competing float64 // share that ends otherwise in the end
}

var kinds = []kind{
	{"calf_strain", [3]int{70, 48, 62}, 0.86, 6, 0.02},
	{"hamstring_strain", [3]int{60, 30, 41}, 0.84, 8, 0.03},
	{"achilles_tendinopathy", [3]int{88, 66, 70}, 0.72, 15, 0.05},
	{"anterior_cruciate_reconstruction", [3]int{55, 24, 40}, 0.7, 42, 0.04},
	{"distal_biceps_repair", [3]int{3, 2, 1}, 0.8, 20, 0},
}

// maker collects the figures of the sample.
type maker struct {
	set result.Set
	all []int
}

// parts of the flow, in its order; the first three sum to those who began, the
// next four to those at risk. The last two sum to those not followed and are told
// of the whole practice alone.
var parts = []string{"at_risk", "at_target", "no_usable", "returned", "ended_otherwise", "in_care", "not_followed", "lost", "left_otherwise"}

// Set is the figures of the sample month.
func Set() result.Set {
	m := &maker{all: make([]int, len(parts)+1)}
	for _, k := range kinds {
		m.injury(k)
	}
	m.flow("", "", m.all)
	for i, site := range Context().Sites {
		bySite := make([]int, len(parts)+1)
		for _, k := range kinds {
			for j, n := range k.flow(k.sites[i]) {
				bySite[j] += n
			}
		}
		m.flow("", site.Code, bySite)
	}
	for _, f := range m.set.Figures {
		if f.Statistic == "began" && (f.InjuryType != "" || f.Site != "") {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: "return.24m/began", Part: f.ID})
		}
	}
	m.recurrence()
	m.groups()
	m.symmetry()
	m.dose()
	m.usable()
	m.scores()
	m.work()
	m.safety()
	return m.set
}

// flow splits the n episodes of a type: those who began, then parts.
func (k kind) flow(n int) []int {
	share := func(of int, v float64) int { return int(math.Round(float64(of) * v)) }
	atTarget, unusable := share(n, 0.03), share(n, 0.02)
	atRisk := n - atTarget - unusable
	returned := share(atRisk, 0.85*k.at(40))
	ended := share(atRisk, k.competing)
	lost := share(atRisk-returned-ended, 0.4)
	left := share(atRisk-returned-ended, 0.1)
	return []int{n, atRisk, atTarget, unusable, returned, ended, atRisk - returned - ended - lost - left, lost + left, lost, left}
}

// at is the share back by the week.
func (k kind) at(week float64) float64 { return k.limit * (1 - math.Exp(-math.Pow(week/k.weeks, 1.4))) }

func (m *maker) injury(k kind) {
	flow := make([]int, len(parts)+1)
	for _, n := range k.sites {
		for j, c := range k.flow(n) {
			flow[j] += c
			m.all[j] += c
		}
	}
	m.flow(k.injury, "", flow)
	atRisk := flow[1]
	for w := range 27 {
		at := fmt.Sprintf("w%d", w)
		m.share(k.injury, "cumulative", float64(w), k.at(float64(w)), atRisk, false)
		m.share(k.injury, "competing", float64(w), k.competing*float64(w)/26, atRisk, true)
		still := float64(atRisk) * (1 - k.at(float64(w))) * math.Exp(-float64(w)/60)
		m.add(result.Figure{
			InjuryType: k.injury, Statistic: "at_risk", X: ptr(float64(w)), XUnit: "weeks", Unit: "episodes",
			Value: ptr(math.Round(still)), Persons: ptr(atRisk),
		}, at)
	}
	for _, w := range []float64{6, 12, 26} {
		v := k.at(w)
		for statistic, factor := range map[string]float64{
			"share": 1, "share_if_lost_never": 0.9, "share_if_lost_return": 1.08,
			"share_hold_0": 1.02, "share_hold_28": 0.98, "share_goal_met_returned": 1.03,
		} {
			m.share(k.injury, statistic, w, min(1, v*factor), atRisk, false)
		}
	}
	for statistic, share := range map[string]float64{"lower_quartile_weeks": 0.25, "median_weeks": 0.5, "upper_quartile_weeks": 0.75} {
		m.quantile(k, statistic, share, atRisk)
	}
	m.add(result.Figure{
		InjuryType: k.injury, Statistic: "mean_weeks", X: ptr(26.0), XUnit: "weeks", Unit: "weeks", Level: 0.95,
		Value: ptr(26 * (1 - 0.6*k.at(26))), Low: ptr(26 * (1 - 0.65*k.at(26))), High: ptr(26 * (1 - 0.55*k.at(26))), Persons: ptr(atRisk), Episodes: ptr(atRisk),
	}, "w26")
	if k.injury == "calf_strain" {
		m.stages(k, atRisk)
		m.beside(k, atRisk)
	}
	m.add(result.Figure{InjuryType: k.injury, Statistic: "visit_spacing_days", Unit: "days", Value: ptr(6.0), Persons: ptr(atRisk)}, "")
}

func (m *maker) quantile(k kind, statistic string, share float64, persons int) {
	f := result.Figure{InjuryType: k.injury, Statistic: statistic, Unit: "weeks", Level: 0.95, Persons: ptr(persons), Episodes: ptr(persons)}
	for w := 0.0; w <= 26; w += 0.1 {
		if k.at(w) >= share {
			f.Value, f.Low = ptr(w), ptr(w*0.88)
			if w < 20 {
				f.High = ptr(w * 1.14)
			}
			break
		}
	}
	if f.Value == nil {
		f.Status = result.Withheld
		f.Reason = fmt.Sprintf("Not reached: by the end of follow-up %.0f %% were back.", 100*k.at(26))
	}
	m.add(f, "")
}

func (m *maker) share(injury, statistic string, week, v float64, persons int, bare bool) {
	half := 1.96 * math.Sqrt(v*(1-v)/float64(persons))
	f := result.Figure{
		InjuryType: injury, Statistic: statistic, X: ptr(week), XUnit: "weeks", Unit: "share",
		Value: ptr(v), Persons: ptr(persons), Episodes: ptr(persons), Events: ptr(int(v * float64(persons))),
	}
	if !bare {
		f.Low, f.High, f.Level = ptr(max(0, v-half)), ptr(min(1, v+half)), 0.95
		f.StdError = ptr(half / 1.96)
	}
	m.add(f, fmt.Sprintf("w%.0f", week))
}

func (m *maker) flow(injury, site string, counts []int) {
	picture := result.PictureID("return", injury, site, "", "", "", "24m")
	for i, statistic := range append([]string{"began"}, parts...) {
		if i > 7 && (injury != "" || site != "") {
			break
		}
		m.add(result.Figure{
			InjuryType: injury, Site: site, Statistic: statistic, Unit: "episodes",
			Value: ptr(float64(counts[i])), Persons: ptr(counts[i]), Episodes: ptr(counts[i]),
		}, "")
		whole := "at_risk"
		switch {
		case i <= 3:
			whole = "began"
		case i > 7:
			whole = "not_followed"
		}
		if i > 0 {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: picture + "/" + whole, Part: picture + "/" + statistic})
		}
	}
}

func (m *maker) add(f result.Figure, x string) {
	f.Question = "return"
	f.Measure = "recorded return"
	f.Method = "Aalen-Johansen"
	f.ID = result.ID(result.PictureID("return", f.InjuryType, f.Site, "", "", "", "24m"), f.Statistic, x)
	m.keep(f)
}

// keep fills in what all figures of the month share.
func (m *maker) keep(f result.Figure) {
	c := Context()
	f.PeriodFrom, f.PeriodTo = c.PeriodFrom, c.PeriodTo
	f.AsOfBatch = c.AsOfBatch
	f.MethodVersion = "1"
	f.InputsHash = "5ca1ab1e"
	if f.Status == "" {
		f.Status = result.Final
	}
	m.set.Figures = append(m.set.Figures, f)
}

func ptr[T any](v T) *T { return &v }

// Release lets the figures through the gate for a circulating report.
func Release(tb testing.TB, set result.Set, c result.Context) *disclosure.Released {
	tb.Helper()
	r, err := disclosure.Release(disclosure.Input{Figures: set, Context: c, Audience: disclosure.Circulating, Floors: Floors})
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// WithBefore is the sample month with the report of the month before, in which
// every share was five points lower, every other value one more; figures on dose
// were not in it yet.
func WithBefore(tb testing.TB) *disclosure.Released {
	tb.Helper()
	in := disclosure.Input{Figures: Set(), Context: Context(), Audience: disclosure.Circulating, Floors: Floors}
	for _, f := range in.Figures.Figures {
		if f.Question == "dose" {
			continue
		}
		p := disclosure.Published{Report: "monthly", Period: "2026-05", Revision: 1, Batch: 8, FigureID: f.ID, Status: f.Status, Text: "not shown"}
		if f.Value != nil {
			v := *f.Value + 1
			if f.Unit == "share" {
				v = *f.Value - 0.05
			}
			p.Value, p.Shown, p.Text = &v, true, fmt.Sprintf("%.2f as printed", v)
		}
		in.History = append(in.History, p)
	}
	r, err := disclosure.Release(in)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// Month is the sample month, released.
func Month(tb testing.TB) *disclosure.Released {
	tb.Helper()
	return Release(tb, Set(), Context())
}

// Empty is a month in which nothing was ever received.
func Empty(tb testing.TB) *disclosure.Released {
	tb.Helper()
	c := Context()
	c.Files = nil
	for i := range c.Sites {
		c.Sites[i].DataThrough = time.Time{}
		c.Sites[i].Silent = true
	}
	return Release(tb, result.Set{}, c)
}
