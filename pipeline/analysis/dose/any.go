package dose

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"slices"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/propensity"
	"evenlimb/pipeline/stats/survival"
)

// The groups of the first question.
const (
	noWork = iota
	someWork
	groupCount
)

// any adds the share returned by the horizon of those who did some work with the
// cuff inflated before the landmark and of those who did none, and the difference,
// raw and standardised over what was known when care began.
func (m *maker) any(ctx context.Context, g group) error {
	rows := g.pick(row.analysed)
	c := m.comparison(rows)
	groups := make([]int, len(rows))
	of := make([][]row, groupCount)
	for i, r := range rows {
		if r.some() {
			groups[i] = someWork
		}
		of[groups[i]] = append(of[groups[i]], r)
	}
	curves := make([]*survival.Curve, groupCount)
	for k, some := range of {
		if len(some) == 0 {
			continue
		}
		curve, err := returns(some)
		if err != nil {
			return err
		}
		curves[k] = curve
	}
	c.until(m.horizon(curves))
	contrasts := []result.Figure{m.response(g, "any_contrast_raw", rows, c), m.response(g, "any_contrast_standardised", rows, c)}
	if refusal := m.refuseAny(g, of, curves, c); refusal != "" {
		// The reason is said once: the shares of the groups would repeat it.
		withhold(&contrasts[1], refusal)
		m.add(g, contrasts[1], AnalysedRows(m.period.To))
		return nil
	}
	for k, statistic := range []string{noWork: "returned_none", someWork: "returned_some"} {
		f := m.response(g, statistic, of[k], c)
		m.share(&f, curves[k], c.horizon)
		f.Episodes = count(len(of[k]))
		m.markProvisional(&f, of[k], c)
		m.add(g, f, landmarkRows(m.period.To)+[]string{noWork: " and sets = 0", someWork: " and sets > 0"}[k])
	}
	err := m.bootstrap(ctx, g.picture+"/any_contrast", rows, contrasts[:1], func(weight []int) ([]float64, error) {
		cells := c.incidence(groups, groupCount, weight)
		if cells[noWork].n == 0 || cells[someWork].n == 0 {
			return nil, stats.ErrOneGroup
		}
		return []float64{settled(cells[someWork].returned - cells[noWork].returned)}, nil
	})
	if err != nil {
		return err
	}
	contrasts[0].Events, contrasts[0].Method = count(c.returns()), "some less no work, "+contrasts[0].Method
	m.markProvisional(&contrasts[0], rows, c)
	m.add(g, contrasts[0], AnalysedRows(m.period.To))
	return m.anyStandardised(ctx, g, rows, c, contrasts[1])
}

// anyStandardised adds the difference had both groups been alike at the start.
func (m *maker) anyStandardised(ctx context.Context, g group, rows []row, c *comparison, f result.Figure) error {
	complete, missing := m.withCovariates(rows)
	m.resting(&f, g, complete, missing, c)
	refusal := m.refuseFew(complete, c)
	if refusal == "" {
		out, err := adjust.CompareAny(ctx, m.sample(complete, c.horizon), m.options(g, "any"))
		switch {
		case errors.Is(err, stats.ErrOneGroup), errors.Is(err, stats.ErrCollinear), errors.Is(err, stats.ErrNotConverged):
			refusal = "Among those of whom all is known at the start, what is known tells who did some work and who did none."
		case err != nil:
			return err
		default:
			fill(&f, out.Standardised, "some less no work, least squares of pseudo-values, mean over the people compared, ")
		}
	}
	if refusal != "" {
		withhold(&f, refusal)
	}
	m.add(g, f, AnalysedRows(m.period.To)+completeRows)
	return nil
}

// refuseAny returns why some work and none are not compared.
func (m *maker) refuseAny(g group, of [][]row, curves []*survival.Curve, c *comparison) string {
	if gone := m.mostGone(g); gone != "" {
		return gone
	}
	least := m.in.Rules.LeastPersons
	if persons(of[noWork]) < least || persons(of[someWork]) < least {
		return fmt.Sprintf("Fewer than %d people did some work with the cuff, or fewer than %d none.", least, least)
	}
	if c.returns() < m.in.Rules.LeastReturns {
		return fmt.Sprintf("Fewer than %d returned after the landmark by week %d.", m.in.Rules.LeastReturns, c.week)
	}
	if slices.ContainsFunc(curves, func(curve *survival.Curve) bool { return beyond(curve, c.horizon) }) {
		return fmt.Sprintf("Of those with some work or of those with none nobody has been watched to week %d yet.", c.week)
	}
	return ""
}

// perColumn is how many persons a comparison has for each thing known at the
// start, below which it is not made.
const perColumn = 3

// leastFor is the number of persons that a comparison over what was known at the
// start needs, at least that of the settings.
func leastFor(persons int) int {
	return max(persons, perColumn*(1+doseColumns+len(columnsOf)+severityColumns))
}

// refuseFew returns why a comparison over what was known at the start is not made.
func (m *maker) refuseFew(rows []known, c *comparison) string {
	least := leastFor(m.in.Rules.LeastPersons)
	people := make([]row, len(rows))
	back := 0
	for i, k := range rows {
		if people[i] = k.row; eventOf(k.row) == 1 && k.standing.Day <= c.horizon {
			back++
		}
	}
	if persons(people) < least {
		return fmt.Sprintf("Of fewer than %d people all is known that the comparison needs from the start of care.", least)
	}
	if back < m.in.Rules.LeastReturns {
		return fmt.Sprintf("Fewer than %d of those of whom all is known at the start returned after the landmark by week %d.", m.in.Rules.LeastReturns, c.week)
	}
	return ""
}

// doseColumns are those of the curve of dose.
const doseColumns = 4

// resting says on whom a figure over what was known at the start rests.
func (m *maker) resting(f *result.Figure, g group, rows []known, missing int, c *comparison) {
	people := make([]row, len(rows))
	back := 0
	for i, k := range rows {
		people[i] = k.row
		if eventOf(k.row) == 1 && k.standing.Day <= c.horizon {
			back++
		}
	}
	f.Persons, f.Episodes, f.Events = count(persons(people)), count(len(rows)), count(back)
	*f.Missing += missing
	f.InputsHash = m.knownHash(g)
	m.markProvisional(f, people, c)
}

// options of a comparison; the seed is made of the figure's name.
func (m *maker) options(g group, name string) adjust.Options {
	seed := fnv.New64a()
	_, _ = seed.Write([]byte(g.picture + "/" + name)) // a hash takes every write
	return adjust.Options{
		Replicates: m.in.Replicates, Seed: seed.Sum64(), Level: level, Reference: float64(m.in.Rules.ReferenceSets),
		Limits: propensity.Limits{
			MinShare: float64(m.in.Rules.LeastEffective) / 100, MinPersons: float64(m.in.Rules.LeastPersons),
			MaxImbalance: float64(m.in.Rules.MostImbalance) / 100,
		},
		LeastClinicians: m.in.Rules.LeastClinicians,
	}
}

// fill takes over a difference of shares with its interval, which ends at what two
// shares can differ by.
func fill(f *result.Figure, c adjust.Contrast, how string) {
	f.Value, f.Method = number(c.Value), how+c.Method
	if c.HasInterval {
		f.Low, f.High, f.StdError, f.Level = number(max(c.Low, -1)), number(min(c.High, 1)), number(c.SE), c.Level
	}
	for _, w := range c.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
}

// returns is the share returned of rows, by day.
func returns(rows []row) (*survival.Curve, error) {
	var data survival.Data
	causes := 1
	for _, r := range rows {
		data.Time = append(data.Time, float64(r.standing.Day))
		data.Event = append(data.Event, eventOf(r))
		data.Person = append(data.Person, r.PersonKey)
		causes = max(causes, eventOf(r))
	}
	all, err := survival.AalenJohansen(data, causes, survival.Options{Level: level})
	if err != nil {
		return nil, err
	}
	return all[1], nil
}
