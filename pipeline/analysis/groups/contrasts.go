package groups

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/resample"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/stats/survival/cox"
)

const standardisedMethod = "least squares on pseudo-values, additive in injury type, severity, sex, age and site; bootstrap over persons"

// comparison is one group against another, or a site against all others.
type comparison struct {
	factor  string
	level   string
	against map[string]float64 // rows by level of those that it is compared with
	one     []row
	other   []row
	week    int
}

// contrasts adds, for each group against the first of its factor and for each
// site against the others, the difference in the share returned and in the mean
// weeks not yet returned, raw and standardised, and the hazard ratio.
func (m *maker) contrasts(ctx context.Context) error {
	d := newDesign(m.rows, m.factors)
	list := m.comparisons()
	weeks := map[int][]comparison{}
	for _, c := range list {
		weeks[c.week] = append(weeks[c.week], c)
	}
	for _, week := range m.in.Rules.MeanWeeks {
		if len(weeks[week]) == 0 {
			continue
		}
		if err := m.standardised(ctx, d, week, weeks[week]); err != nil {
			return err
		}
	}
	return m.hazards(d, list)
}

// comparisons lists them, each with the longest horizon at which every group of
// its factor still has enough at risk; without one it is not made.
func (m *maker) comparisons() []comparison {
	var list []comparison
	for _, f := range m.factors[1:] { // types are covariates alone: their returns stand on their own
		rows := map[string][]row{}
		for _, l := range f.levels {
			rows[l] = m.pick(func(r row) bool { return r.of[f.name] == l })
		}
		week := m.horizon(rows)
		if week == 0 || len(f.levels) < 2 {
			continue
		}
		for i, l := range f.levels {
			c := comparison{factor: f.name, level: l, one: rows[l], week: week, against: map[string]float64{}}
			switch {
			case f.name == "site":
				c.other = m.pick(func(r row) bool { return r.of["site"] != l })
				for _, o := range f.levels {
					if o != l {
						c.against[o] = float64(len(rows[o]))
					}
				}
			case i == 0:
				continue
			default:
				c.other, c.against[f.levels[0]] = rows[f.levels[0]], 1
			}
			list = append(list, c)
		}
	}
	return list
}

// horizon is the first of the settings' weeks at which each group has enough at
// risk; 0 when there is none.
func (m *maker) horizon(groups map[string][]row) int {
	for _, week := range m.in.Rules.MeanWeeks {
		enough := true
		for _, rows := range groups {
			atRisk := 0
			for _, r := range rows {
				if r.day >= 7*week {
					atRisk++
				}
			}
			enough = enough && atRisk >= m.in.Rules.AtRiskFloor
		}
		if enough {
			return week
		}
	}
	return 0
}

// standardised adds the differences of the comparisons with one horizon. The
// outcome model is least squares on pseudo-values, additive in all factors, so
// that its contrast is the difference averaged over the covariates of all who
// are compared; persons are drawn anew for the interval.
func (m *maker) standardised(ctx context.Context, d design, week int, list []comparison) error {
	all, err := curve(m.rows, false)
	if err != nil {
		return err
	}
	share, mean, err := all.PseudoValues(float64(7 * week))
	if err != nil {
		return err
	}
	draws, err := m.draw(ctx, d, week, list, share, mean)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil { // the groups have too little in common to be told apart
		draws = nil
	}
	for k, c := range list {
		for j, stem := range []string{"share", "mean"} {
			raw, err := c.raw(stem)
			if err != nil {
				return err
			}
			f := m.difference(c, stem+"_difference_raw")
			setDifference(&f, raw, stem, week)
			m.add(f, fmt.Sprintf("w%d", week), c.rows(m))

			f = m.difference(c, stem+"_difference_standardised")
			setStandardised(&f, draws, 2*k+j, stem, week)
			m.add(f, fmt.Sprintf("w%d", week), "")
		}
	}
	return nil
}

// setStandardised fills in one number of the draws, or why there is none.
func setStandardised(f *result.Figure, draws *resample.Draws, k int, stem string, week int) {
	f.X, f.XUnit, f.Unit, f.Method = number(float64(week)), "weeks", unitOf(stem), standardisedMethod
	if draws != nil {
		if e, err := draws.Percentile(k, level); err == nil {
			e.Method = standardisedMethod
			setDifference(f, e, stem, week)
			return
		}
	}
	f.Status, f.Reason = result.Withheld, "The groups have too little in common to be compared like with like."
}

// draw fits the model to draws of persons; of each comparison come the contrast
// of the share and that of the mean.
func (m *maker) draw(ctx context.Context, d design, week int, list []comparison, share, mean []float64) (*resample.Draws, error) {
	byPerson, place := [][]int{}, map[int]int{}
	for i, r := range m.rows {
		at, seen := place[r.person]
		if !seen {
			at = len(byPerson)
			place[r.person] = at
			byPerson = append(byPerson, nil)
		}
		byPerson[at] = append(byPerson[at], i)
	}
	contrasts := make([][]float64, len(list))
	for k, c := range list {
		contrasts[k] = d.contrast(c.factor, c.level, c.against)
	}
	seed := fnv.New64a()
	fmt.Fprintf(seed, "groups.%s/w%d", m.period.Label, week)
	return resample.Bootstrap(ctx, len(byPerson), func(draw []int) ([]float64, error) {
		weight := make([]float64, len(m.rows))
		for _, person := range draw {
			for _, i := range byPerson[person] {
				weight[i]++
			}
		}
		coef, err := d.fit(weight, share, mean)
		if err != nil {
			return nil, err
		}
		out := make([]float64, 0, 2*len(list))
		for _, c := range contrasts {
			out = append(out, dot(c, coef[0]), dot(c, coef[1]))
		}
		return out, nil
	}, resample.Options{Replicates: replicates, Seed: seed.Sum64(), MaxFailed: 0.05})
}

// raw is the difference of the two groups' own curves.
func (c comparison) raw(stem string) (stats.Estimate, error) {
	one, err := curve(c.one, true)
	if err != nil {
		return stats.Estimate{}, err
	}
	other, err := curve(c.other, true)
	if err != nil {
		return stats.Estimate{}, err
	}
	if stem == "share" {
		return survival.ShareDifference(one, other, float64(7*c.week))
	}
	return survival.MeanDifference(one, other, float64(7*c.week))
}

func unitOf(stem string) string {
	if stem == "share" {
		return "share"
	}
	return "weeks"
}

// setDifference fills in a difference of shares, or of days as weeks.
func setDifference(f *result.Figure, e stats.Estimate, stem string, week int) {
	scale, most := 1.0, 1.0
	if stem == "mean" {
		scale, most = 1.0/7, float64(week)
	}
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", unitOf(stem)
	f.Value, f.Low, f.High = number(limited(e.Value*scale, most)), number(limited(e.Low*scale, most)), number(limited(e.High*scale, most))
	f.StdError, f.Level, f.Method = number(e.SE*scale), level, e.Method
	if e.SE == 0 {
		f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
	}
}

// hazards adds the hazard ratios of groups that are no sites: Cox's model with
// all factors, one baseline for each site, clustered on the person.
func (m *maker) hazards(d design, list []comparison) error {
	list = slices.DeleteFunc(slices.Clone(list), func(c comparison) bool { return c.factor == "site" })
	if len(list) == 0 {
		return nil
	}
	columns, place := d.columnsOf("site")
	model, err := cox.Fit(m.coxData(m.rows, columns, func(r row) int { return slices.Index(m.in.Sites, r.of["site"]) }), cox.Options{Variance: cox.Robust, Level: level})
	if err != nil {
		return nil //nolint:nilerr // a description that cannot be made is left out; the differences above lead
	}
	tests, _, err := model.Proportionality(cox.EventShare)
	if err != nil {
		tests = nil
	}
	for _, c := range list {
		at := place[d.at[c.factor][c.level]]
		f := m.difference(c, "hazard_ratio")
		e := model.HazardRatio(at)
		f.Value, f.Low, f.High, f.StdError = number(e.Value), number(e.Low), number(e.High), number(e.SE)
		f.Unit, f.Level, f.Method = "ratio", e.Level, e.Method
		if slices.Contains(model.Separated, at) {
			f.Value, f.Low, f.High, f.StdError, f.Level = nil, nil, nil, nil, 0
			f.Status, f.Reason = result.Withheld, "All returns are on one side."
		} else if tests != nil && tests[at].P < 1-level {
			f.Warnings = append(f.Warnings, "The ratio is not the same at all times; the differences say more.")
		}
		m.add(f, "", "") // all have a part in the model
	}
	return nil
}

// coxData is the follow-up of rows with their columns; stratum may be nil.
func (m *maker) coxData(rows []row, columns [][]float64, stratum func(r row) int) cox.Data {
	data := cox.Data{X: columns}
	for _, r := range rows {
		data.Time, data.Person = append(data.Time, float64(r.day)), append(data.Person, r.person)
		event := 0
		if r.event == 1 {
			event = 1
		}
		data.Event = append(data.Event, event)
		if stratum != nil {
			data.Strata = append(data.Strata, stratum(r))
		}
	}
	return data
}

// difference begins a figure of a comparison.
func (m *maker) difference(c comparison, statistic string) result.Figure {
	both := append(slices.Clone(c.one), c.other...)
	f := result.Figure{
		Question: "groups", Measure: "recorded return", Statistic: statistic, PeriodFrom: m.period.From, PeriodTo: m.period.To,
		Persons: count(distinct(both)), Episodes: count(len(both)), Missing: count(m.missing),
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: m.hash,
	}
	if c.factor == "site" {
		f.Site = c.level
	} else {
		f.Stratum = c.factor + "_" + c.level
	}
	return f
}

// rows picks out, in SQL, the two groups; a site is compared with all others.
func (c comparison) rows(m *maker) string {
	if c.factor == "site" {
		return ""
	}
	levels := []string{c.level}
	for l := range c.against {
		levels = append(levels, l)
	}
	slices.Sort(levels)
	for _, f := range m.factors {
		if f.name == c.factor {
			return f.where(levels)
		}
	}
	return ""
}
