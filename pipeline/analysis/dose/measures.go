package dose

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/warehouse"
)

// ResponsesTable is where the measures near the week of change are published.
const ResponsesTable = "published.dose_responses"

// responses are the measures that are set against dose: of each kind the one that
// most people of the type have.
// An Emax curve, whose search takes as long as many draws, stands beside the index
// alone.
var responses = []struct {
	kind, name, unit string
	emax             bool
}{
	{"strength", "index", "index points", true},
	{"girth", "girth", "cm", false},
	{"pain", "pain", "points of 10", false},
}

// measureDraws is how many of the draws of persons a measure takes: a third of
// them all would go into measures otherwise. The ends of an interval then differ
// from those of endless drawing by some 4 % of its half width.
const measureDraws = 2 // one in so many

// measured is a row with a measure near the week of change.
type measured struct {
	known
	response warehouse.DoseResponse
}

// measures adds how the index, the girth difference and pain near the week of
// change go with dose among those with some work: third less first quartile of
// dose on the curve of dose and on an Emax curve, and the AIC of both. A measure
// that too few have is not told; how many have it is told with symmetry.
func (m *maker) measures(ctx context.Context, g group) error {
	if m.mostGone(g) != "" {
		return nil
	}
	complete, _ := m.withCovariates(g.pick(row.some))
	for _, r := range responses {
		measure, rows := m.mostMeasured(complete, r.kind)
		if persons(rowsOf(rows)) < leastFor(m.in.Rules.LeastPersons) {
			continue
		}
		s := m.sample(knownOf(rows), 0)
		value, baseline := make([]float64, len(rows)), make([]float64, len(rows))
		for i, row := range rows {
			value[i], baseline[i] = row.response.Value, row.response.Baseline
		}
		s.Covariates = append(s.Covariates, adjust.Covariate{Name: "its baseline", Values: baseline})
		opt := m.options(g, r.name)
		opt.Replicates /= measureDraws
		out, err := adjust.CompareMeasure(ctx, s, value, r.emax, opt)
		switch {
		case errors.Is(err, stats.ErrTooFew), errors.Is(err, stats.ErrCollinear), errors.Is(err, stats.ErrNotConverged), errors.Is(err, stats.ErrNoVariation):
			continue
		case err != nil:
			return err
		}
		m.measureFigures(g, r.name, r.unit, measure, rows, out)
	}
	return nil
}

func (m *maker) measureFigures(g group, name, unit, measure string, rows []measured, out *adjust.Measure) {
	begin := func(statistic, unit string) result.Figure {
		f := m.figure(g, statistic)
		f.X, f.XUnit, f.Unit = number(float64(m.in.ChangeWeek)), "weeks", unit
		f.Persons, f.Episodes = count(persons(rowsOf(rows))), count(len(rows))
		f.Warnings, f.InputsHash = []string{caution}, m.knownHash(g)
		return f
	}
	add := func(f result.Figure) {
		m.add(g, f, m.someRows()+completeRows+" and episode_key in (select episode_key from "+ResponsesTable+
			" where measure = "+literal(measure)+" and start_date + day <= "+date(m.period.To)+")")
	}
	doses := fmt.Sprintf("%s, %.3g less %.3g sets a week, ", measure, out.To, out.From)
	f := begin("quartiles_"+name, unit)
	fillMeasure(&f, out.Spline, doses+"natural spline of dose, with its baseline, ")
	add(f)
	if !out.Emax.HasInterval {
		return
	}
	f = begin("quartiles_"+name+"_emax", unit)
	fillMeasure(&f, out.Emax, doses)
	add(f)
	for _, aic := range []struct {
		curve string
		value float64
	}{{"spline", out.SplineAIC}, {"emax", out.EmaxAIC}} {
		f := begin("aic_"+name+"_"+aic.curve, "AIC")
		f.Value, f.Method = number(aic.value), "of everybody as they are; nothing is chosen by it"
		add(f)
	}
}

// fillMeasure takes over a difference in the unit of a measure.
func fillMeasure(f *result.Figure, c adjust.Contrast, how string) {
	f.Value, f.Method = number(c.Value), how+c.Method
	if c.HasInterval {
		f.Low, f.High, f.StdError, f.Level = number(c.Low), number(c.High), number(c.SE), c.Level
	}
	for _, w := range c.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
}

// mostMeasured picks the measure of a kind that most of the rows have, measured by
// the end of the month; of equals the first by name.
func (m *maker) mostMeasured(rows []known, kind string) (measure string, of []measured) {
	by := map[string][]measured{}
	for _, k := range rows {
		for _, r := range m.responses[k.EpisodeKey] {
			if r.Kind == kind && !k.StartDate.AddDate(0, 0, r.Day).After(m.period.To) {
				by[r.Measure] = append(by[r.Measure], measured{k, r})
			}
		}
	}
	for name, some := range by {
		if c := cmp.Compare(len(some), len(of)); c > 0 || c == 0 && name < measure {
			measure, of = name, some
		}
	}
	return measure, of
}

func knownOf(rows []measured) []known {
	out := make([]known, len(rows))
	for i, r := range rows {
		out[i] = r.known
	}
	return out
}

func rowsOf(rows []measured) []row {
	out := make([]row, len(rows))
	for i, r := range rows {
		out[i] = r.row
	}
	return slices.Clip(out)
}
