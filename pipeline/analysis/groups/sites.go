package groups

import (
	"cmp"
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/stats/survival/cox"
)

// From funnelFrom sites on their spread can be judged, and one beyond the limits
// of funnelLevel stands out.
const (
	funnelFrom  = 10
	funnelLevel = 0.998
)

// judgement is a site's returns against those expected of its people.
type judgement struct {
	site     string
	rows     []row
	observed int
	expected float64
}

// sites adds, site by site, how many returns were recorded over how many the
// people of the other sites would let one expect of people like these: Cox's
// model of the return with one baseline and no site term, fitted without the site
// judged. Limits are exact. From 10 sites on a site is called out of the ordinary
// only beyond 99.8 % limits that allow for the spread between sites.
func (m *maker) sites() error {
	factors := slices.Clone(m.factors)
	at := slices.IndexFunc(factors, func(f factor) bool { return f.name == "site" })
	names := factors[at].levels
	factors = slices.Delete(factors, at, at+1)
	if len(names) < 2 {
		return nil
	}
	var judged []judgement
	var observed []int
	var expected []float64
	for _, site := range names {
		if j, ok := m.expect(site, factors); ok {
			judged, observed, expected = append(judged, j), append(observed, j.observed), append(expected, j.expected)
		}
	}
	var spread *rates.Spread
	if len(judged) >= funnelFrom {
		s, err := rates.Funnel(observed, expected, rates.FunnelOptions{Winsor: 0.1, MinUnits: funnelFrom})
		if err != nil {
			return err
		}
		spread = &s
	}
	for _, j := range judged {
		if err := m.site(j, spread); err != nil {
			return err
		}
	}
	return nil
}

// expect counts the returns of a site, and those that the other sites let one
// expect; false where their model cannot be fitted, or does not know a level.
func (m *maker) expect(site string, factors []factor) (j judgement, ok bool) {
	own := m.pick(func(r row) bool { return r.of["site"] == site })
	others := m.pick(func(r row) bool { return r.of["site"] != site })
	known := slices.Clone(factors)
	for i, f := range known {
		shared := persons(others, f.name)
		known[i].levels = slices.DeleteFunc(slices.Clone(f.levels), func(l string) bool { return shared[l] < m.in.Floor })
	}
	kept := func(rows []row) []row {
		return slices.DeleteFunc(rows, func(r row) bool {
			return slices.ContainsFunc(known, func(f factor) bool { return !slices.Contains(f.levels, r.of[f.name]) })
		})
	}
	own, others = kept(own), kept(others)
	if distinct(own) < m.in.SiteFloor {
		return j, false
	}
	each, err := m.foretold(newDesign(others, known), newDesign(own, known), others, own)
	if err != nil {
		return j, false
	}
	j.site, j.rows = site, own
	for i, r := range own {
		if r.event == 1 {
			j.observed++
		}
		j.expected += each[i]
	}
	return j, j.expected > 0
}

// foretold are the returns that the others let one expect of each row of own.
func (m *maker) foretold(from, to design, others, own []row) ([]float64, error) {
	columns, _ := from.columnsOf("")
	if len(columns) == 0 {
		return hazardOf(others, own), nil
	}
	model, err := cox.Fit(m.coxData(others, columns, nil), cox.Options{Variance: cox.ModelBased, Level: level})
	if err != nil {
		return nil, err
	}
	columns, _ = to.columnsOf("")
	return model.Expected(m.coxData(own, columns, nil))
}

// hazardOf is the model where all people are alike: the cumulative hazard of the
// others up to the end of each row, ties as in Efron's likelihood.
func hazardOf(others, own []row) []float64 {
	sorted := slices.Clone(others)
	slices.SortFunc(sorted, func(a, b row) int { return cmp.Compare(a.day, b.day) })
	each := make([]float64, len(own))
	for from := 0; from < len(sorted); {
		day, returns := sorted[from].day, 0
		to := from
		for ; to < len(sorted) && sorted[to].day == day; to++ {
			if sorted[to].event == 1 {
				returns++
			}
		}
		step := 0.0
		for k := range returns {
			step += 1 / float64(len(sorted)-from-k)
		}
		for i, r := range own {
			if r.day >= day {
				each[i] += step
			}
		}
		from = to
	}
	return each
}

// site adds the observed over expected returns of a site.
func (m *maker) site(j judgement, spread *rates.Spread) error {
	observed, expected := j.observed, j.expected
	e, err := rates.Garwood(observed, expected, level)
	if err != nil {
		return err
	}
	f := result.Figure{
		Question: "groups", Measure: "recorded return", Site: j.site, Statistic: "observed_over_expected", PeriodFrom: m.period.From, PeriodTo: m.period.To,
		Value: number(e.Value), Low: number(e.Low), High: number(e.High), StdError: number(e.SE), Level: level, Unit: "ratio",
		Persons: count(distinct(j.rows)), Episodes: count(len(j.rows)), Events: count(observed), Exposure: number(expected), ExposureUnit: "expected returns", Missing: count(m.missing),
		Method:        "returns over those expected by a Cox model of the other sites without a site term; exact limits (Garwood)",
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: m.hash,
	}
	m.add(f, "", "") // the others let one expect what is expected, so that all stand behind it
	if spread == nil {
		return nil
	}
	limits, err := spread.Limits(expected, funnelLevel)
	if err != nil {
		return err
	}
	low, high := float64(limits.Low)/expected, float64(limits.High)/expected
	f.Statistic, f.StdError = "funnel_limits", nil
	f.Value, f.Low, f.High, f.Level = number(1), number(low), number(high), funnelLevel
	f.Method = fmt.Sprintf("funnel, additive over-dispersion between sites, standard deviation %.3g", spread.Tau)
	if ratio := float64(observed) / expected; ratio < low || ratio > high {
		f.Warnings = append(f.Warnings, "Beyond the limits that chance and the usual spread between sites leave.")
	}
	m.add(f, "", "")
	return nil
}
