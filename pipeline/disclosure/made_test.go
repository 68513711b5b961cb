package disclosure_test

import (
	"fmt"
	"math/rand/v2"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

var floors = disclosure.Floors{Circulating: 10, Site: 20, Inside: 5, Curve: 20}

func number(v float64) *float64 { return &v }

func whole(n int) *int { return &n }

// practice is a set of figures like a month's, made by hand: the flow of each
// injury type and of each of its sites, and a curve and shares per type.
type practice struct {
	set   result.Set
	cells map[[2]string][]int // type and site: episodes by outcome
}

var outcomes = []string{"returned", "ended_otherwise", "in_care", "lost", "left_otherwise"}

// draw makes a practice in which a type and site together have about mean
// episodes.
func draw(rng *rand.Rand, types, sites int, mean float64) *practice {
	p := &practice{cells: map[[2]string][]int{}}
	weights := []float64{0.6, 0.05, 0.15, 0.15, 0.05}
	for t := range types {
		for s := range sites {
			key := [2]string{fmt.Sprintf("type_%d", t), fmt.Sprintf("S%d", s)}
			counts := make([]int, len(outcomes)+2)
			for n := int(mean * 2 * rng.Float64()); n > 0; n-- {
				counts[pick(rng, weights)]++
			}
			counts[5] = rng.IntN(5)     // at target
			counts[6] = rng.IntN(8) / 7 // no usable
			p.cells[key] = counts
		}
	}
	p.compose(types, sites)
	return p
}

func pick(rng *rand.Rand, weights []float64) int {
	u := rng.Float64()
	for i, w := range weights {
		if u -= w; u < 0 {
			return i
		}
	}
	return 0
}

func (p *practice) compose(types, sites int) {
	all := make([]int, len(outcomes)+2)
	for t := range types {
		ofType := make([]int, len(all))
		for s := range sites {
			for i, n := range p.cells[[2]string{fmt.Sprintf("type_%d", t), fmt.Sprintf("S%d", s)}] {
				ofType[i] += n
				all[i] += n
			}
		}
		p.group(fmt.Sprintf("type_%d", t), "", ofType)
	}
	for s := range sites {
		ofSite := make([]int, len(all))
		for t := range types {
			for i, n := range p.cells[[2]string{fmt.Sprintf("type_%d", t), fmt.Sprintf("S%d", s)}] {
				ofSite[i] += n
			}
		}
		p.flow("", fmt.Sprintf("S%d", s), ofSite)
	}
	p.flow("", "", all)
	for _, f := range p.set.Figures {
		if f.Statistic == "began" && (f.InjuryType != "" || f.Site != "") {
			p.set.Totals = append(p.set.Totals, result.Total{Whole: "return.24m/began", Part: f.ID})
		}
	}
}

// flow adds the counts of one group and what sums to what.
func (p *practice) flow(injury, site string, counts []int) (atRisk int) {
	for _, n := range counts[:5] {
		atRisk += n
	}
	began := atRisk + counts[5] + counts[6]
	p.count(injury, site, "began", began)
	p.count(injury, site, "at_risk", atRisk)
	p.count(injury, site, "at_target", counts[5])
	p.count(injury, site, "no_usable", counts[6])
	picture := result.PictureID("return", injury, site, "", "", "", "24m")
	for _, part := range []string{"at_risk", "at_target", "no_usable"} {
		p.set.Totals = append(p.set.Totals, result.Total{Whole: picture + "/began", Part: picture + "/" + part})
	}
	for i, outcome := range outcomes {
		p.count(injury, site, outcome, counts[i])
		p.set.Totals = append(p.set.Totals, result.Total{Whole: picture + "/at_risk", Part: picture + "/" + outcome})
	}
	return atRisk
}

func (p *practice) count(injury, site, statistic string, n int) {
	p.add(result.Figure{InjuryType: injury, Site: site, Statistic: statistic, Value: number(float64(n)), Persons: whole(n), Episodes: whole(n), Unit: "episodes"}, "")
}

// group adds a type's flow, curve, shares and quantiles.
func (p *practice) group(injury, site string, counts []int) {
	n := p.flow(injury, site, counts)
	share := 0.0
	if n > 0 {
		share = float64(counts[0]) / float64(n)
	}
	rate := func(statistic, x string, week *float64, value float64, events int) {
		p.add(result.Figure{
			InjuryType: injury, Site: site, Statistic: statistic, X: week, XUnit: "weeks",
			Value: number(value), Low: number(value * 0.8), High: number(min(1, value*1.2)), Level: 0.95, StdError: number(0.05),
			Persons: whole(n), Episodes: whole(n), Events: whole(events), Missing: whole(counts[6]), Unit: "share",
			Warnings: []string{"a footnote"},
		}, x)
	}
	for w := range 27 {
		part := float64(w) / 26
		at := fmt.Sprintf("w%d", w)
		rate("cumulative", at, number(float64(w)), share*part, int(part*float64(counts[0])))
		p.add(result.Figure{
			InjuryType: injury, Site: site, Statistic: "at_risk", X: number(float64(w)), XUnit: "weeks",
			Value: number(float64(n) * (1 - part*share)), Persons: whole(n), Unit: "episodes",
		}, at)
	}
	for _, w := range []float64{6, 12, 26} {
		for _, s := range []string{"share", "share_if_lost_never", "share_if_lost_return", "share_hold_0", "share_hold_28", "share_goal_met_returned"} {
			rate(s, fmt.Sprintf("w%g", w), number(w), share*w/26, int(float64(counts[0])*w/26))
		}
	}
	rate("mean_weeks", "w26", number(26), 15, counts[0])
	for _, s := range []string{"median_weeks", "lower_quartile_weeks", "upper_quartile_weeks", "visit_spacing_days"} {
		rate(s, "", nil, 9.5, counts[0])
	}
}

func (p *practice) add(f result.Figure, x string) {
	if f.Question == "" {
		f.Question = "return"
	}
	f.ID = result.ID(result.PictureID("return", f.InjuryType, f.Site, "", "", "", "24m"), f.Statistic, x)
	f.PeriodFrom = time.Date(2023, 7, 1, 0, 0, 0, 0, time.UTC)
	f.PeriodTo = time.Date(2025, 6, 30, 0, 0, 0, 0, time.UTC)
	f.Status = result.Final
	f.InputsHash = "c0ffee"
	p.set.Figures = append(p.set.Figures, f)
	p.set.Sources = append(p.set.Sources, result.Source{FigureID: f.ID, Table: "published.return_episodes", Predicate: "injury_type = '" + f.InjuryType + "'"})
}
