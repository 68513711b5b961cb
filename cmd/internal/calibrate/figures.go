package calibrate

import (
	"context"
	"time"

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/analysis/safety"
	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// Figure is a headline figure: one whose interval is judged.
type Figure struct {
	Name     string // short, for -figures and the tables
	About    string // one line
	Analysis string // which analysis makes it

	// Where it stands in the analysis' figures.
	Injury, Measure, Statistic, X string

	Truth  string  // what the generator's truth calls it
	Sign   float64 // -1 where the truth counts the other way round, else 1
	Exact  bool    // limits are exact: they may cover more than 95 %, not less
	Tested bool    // the reader sees whether the interval leaves out 0: a test of no difference
}

// Two injury types of the made-up practice: in the base condition about 120 and
// about 290 episodes of two years are at risk.
const (
	small = "knee_collateral_sprain"
	large = "lateral_elbow_tendinopathy"
)

// Figures is the register. A later analysis adds its headline figures here, and
// itself to Analyses.
var Figures = []Figure{
	{Name: "share-w6", About: "share returned by week 6", Analysis: "return", Injury: small, Statistic: "share", X: "w6", Truth: "return." + small + "/cumulative@w6", Sign: 1},
	{Name: "share-w12", About: "share returned by week 12", Analysis: "return", Injury: small, Statistic: "share", X: "w12", Truth: "return." + small + "/cumulative@w12", Sign: 1},
	{Name: "share-w26", About: "share returned by week 26", Analysis: "return", Injury: small, Statistic: "share", X: "w26", Truth: "return." + small + "/cumulative@w26", Sign: 1},
	{Name: "mean-w26", About: "mean weeks not yet returned, to week 26", Analysis: "return", Injury: large, Statistic: "mean_weeks", X: "w26", Truth: "return." + large + "/mean_weeks@w26", Sign: 1},
	{Name: "index-w6", About: "typical index of strength at week 6, %", Analysis: "symmetry", Injury: small, Measure: "strength_knee_extension", Statistic: "typical_index", X: "w6", Truth: "symmetry." + small + ".strength_knee_extension/typical_index@w6", Sign: 1},
	{Name: "index-w12", About: "typical index of strength at week 12, %", Analysis: "symmetry", Injury: small, Measure: "strength_knee_extension", Statistic: "typical_index", X: "w12", Truth: "symmetry." + small + ".strength_knee_extension/typical_index@w12", Sign: 1},
	{Name: "girth-w6", About: "difference in girth at week 6, cm", Analysis: "symmetry", Injury: small, Measure: "girth_thigh_10", Statistic: "girth_difference", X: "w6", Truth: "symmetry." + small + ".girth_thigh_10/girth_difference@w6", Sign: -1},
	{Name: "girth-w12", About: "difference in girth at week 12, cm", Analysis: "symmetry", Injury: small, Measure: "girth_thigh_10", Statistic: "girth_difference", X: "w12", Truth: "symmetry." + small + ".girth_thigh_10/girth_difference@w12", Sign: -1},
	{Name: "thirds-small", About: "returned by week 26, upper less lower third of dose, standardised", Analysis: "dose", Injury: small, Statistic: "thirds_contrast_standardised", X: "w26", Truth: "dose." + small + ".sets/thirds_standardised@w26", Sign: 1, Tested: true},
	{Name: "thirds-large", About: "the same in the more frequent type", Analysis: "dose", Injury: large, Statistic: "thirds_contrast_standardised", X: "w26", Truth: "dose." + large + ".sets/thirds_standardised@w26", Sign: 1, Tested: true},
	{Name: "events", About: "adverse events per 1,000 attended sessions", Analysis: "safety", Statistic: "rate_all", Truth: "safety/per_1000_attended", Sign: 1, Exact: true},
}

// types are the injury types of the figures.
var types = []string{small, large}

// windowMonths is the months of starts of care that the analyses look at.
const windowMonths = 24

// ID is the id of the figure in the analysis' set.
func (f Figure) ID() string {
	question := f.Analysis
	return result.ID(result.PictureID(question, f.Injury, "", "", "", f.Measure, "24m"), f.Statistic, f.X)
}

// Analysis makes the figures of one question. It runs the very code of the
// reports; only what no registered figure needs is left out of its input, which
// changes none of them.
type Analysis struct {
	Name string
	run  func(ctx context.Context, p *Published, month time.Time) (result.Set, error)
}

// Analyses in the order in which they are run.
var Analyses = []Analysis{
	{"return", func(_ context.Context, p *Published, month time.Time) (result.Set, error) {
		return returning.Analyse(returning.Input{Episodes: ofTypes(p.Return, func(e warehouse.ReturnEpisode) string { return e.InjuryType }), Month: month, Rules: p.Settings.Return, InjuryTypes: types})
	}},
	{"symmetry", func(ctx context.Context, p *Published, month time.Time) (result.Set, error) {
		rules := p.Settings.Symmetry
		rules.ThresholdWeeks = nil // shares that reached a threshold are no headline figures, and slow
		return symmetry.Analyse(ctx, symmetry.Input{
			Episodes: ofTypes(p.Symmetry, func(e warehouse.SymmetryEpisode) string { return e.InjuryType }),
			Pairs:    ofTypes(p.Pairs, func(e warehouse.SidePair) string { return e.InjuryType }),
			Month:    month, WindowMonths: windowMonths, Rules: rules, InjuryTypes: []string{small},
		})
	}},
	{"dose", func(ctx context.Context, p *Published, month time.Time) (result.Set, error) {
		return dose.Analyse(ctx, dose.Input{
			Episodes: ofTypes(p.Dose, func(e warehouse.DoseEpisode) string { return e.InjuryType }),
			Month:    month, WindowMonths: windowMonths, Rules: p.Settings.Dose, InjuryTypes: types,
		})
	}},
	{"safety", func(_ context.Context, p *Published, month time.Time) (result.Set, error) {
		return safety.Analyse(safety.Input{
			Sessions: p.Sessions, Events: p.Events, Month: month, WindowMonths: windowMonths, Rules: p.Settings.Safety,
			KindFloor: len(p.Sessions) + 1, // no kind of event on its own
		})
	}},
}

// ofTypes keeps the rows of the types of the figures.
func ofTypes[R any](rows []R, injury func(R) string) []R {
	var kept []R
	for _, r := range rows {
		if code := injury(r); code == small || code == large {
			kept = append(kept, r)
		}
	}
	return kept
}
