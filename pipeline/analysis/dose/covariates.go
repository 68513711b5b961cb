package dose

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/warehouse"
)

// CovariatesTable is where what was known at the start of care is published.
const CovariatesTable = "published.dose_covariates"

// known is a row with what was known when care began, all of it.
type known struct {
	row
	at warehouse.DoseCovariates
}

// withCovariates picks those of rows of whom all is known, and counts the others.
func (m *maker) withCovariates(rows []row) (complete []known, missing int) {
	for _, r := range rows {
		at, ok := m.covariates[r.EpisodeKey]
		if !ok || !at.Complete {
			missing++
			continue
		}
		complete = append(complete, known{r, at})
	}
	return complete, missing
}

// completeRows picks them out of the published table.
const completeRows = " and episode_key in (select episode_key from " + CovariatesTable + " where complete)"

// activities in their order.
var activities = []string{"inactive", "recreational", "competitive", "professional"}

// columnsOf are the covariates of the models (methods: what was known when care
// began). Steps of an order are one column, as a column for each would leave few
// people in many; sex is the share of men, somebody who is neither half way.
var columnsOf = []struct {
	name string
	of   func(m *maker, k known) float64
}{
	{"a mild injury", func(_ *maker, k known) float64 { return yes(k.at.Severity == severities[0]) }},
	{"a severe injury", func(_ *maker, k known) float64 { return yes(k.at.Severity == severities[2]) }},
	{"age", func(_ *maker, k known) float64 { return ageFrom(k.at.AgeBand) / 10 }},
	{"sex", func(_ *maker, k known) float64 { return yes(k.at.Sex == "male") + yes(k.at.Sex == "other")/2 }},
	{"weeks from the onset", func(_ *maker, k known) float64 { return math.Log1p(float64(*k.at.OnsetDays) / 7) }},
	{"activity before the injury", func(_ *maker, k known) float64 { return float64(slices.Index(activities, k.at.ActivityLevel)) }},
	{"the target", func(_ *maker, k known) float64 { return *k.at.TargetShare }},
	{"a target at work", func(_ *maker, k known) float64 { return yes(k.at.TargetLadder == "work") }},
	{"pain at the start", func(_ *maker, k known) float64 { return *k.at.BaselinePain }},
	{"the quarter of the start", func(m *maker, k known) float64 { return float64(m.quarter(k)) }},
}

// severityColumns are how many of them, the first, say how severe the injury was.
const severityColumns = 2

func yes(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// ageFrom is the least age of a band, such as 25 of 25-34 and 90 of 90+.
func ageFrom(band string) float64 {
	from, _, _ := strings.Cut(strings.TrimSuffix(band, "+"), "-")
	age, err := strconv.Atoi(from)
	if err != nil {
		return 0 // a band is checked when it is taken in
	}
	return float64(age)
}

// quarter counts the quarters of a year from the first month of starts.
func (m *maker) quarter(k known) int {
	from := m.period.From
	return (12*(k.StartDate.Year()-from.Year()) + int(k.StartDate.Month()) - int(from.Month())) / 3
}

// sample makes the columns of the comparison.
func (m *maker) sample(rows []known, horizon int) adjust.Sample {
	s := adjust.Sample{Horizon: horizon}
	for _, k := range rows {
		s.Person = append(s.Person, k.PersonKey)
		s.Dose = append(s.Dose, *k.perWeek(k.Sets))
		s.Day = append(s.Day, k.standing.Day)
		s.Event = append(s.Event, eventOf(k.row))
		clinician := -1
		if k.at.Clinician != nil {
			clinician = *k.at.Clinician
		}
		s.Clinician = append(s.Clinician, clinician)
	}
	for _, column := range columnsOf {
		values := make([]float64, len(rows))
		for i, k := range rows {
			values[i] = column.of(m, k)
		}
		s.Covariates = append(s.Covariates, adjust.Covariate{Name: column.name, Values: values})
	}
	for _, c := range s.Covariates[:severityColumns] {
		s.Severity = append(s.Severity, c.Values)
	}
	return s
}

// eventOf is what the watching of a row ended with: 0 nothing, 1 the return, 2 a
// competing end.
func eventOf(r row) int {
	switch r.standing.State {
	case "returned":
		return 1
	case "ended_otherwise":
		return 2
	default:
		return 0
	}
}

// knownHash is the SHA-256 over the rows of a group and what was known of them.
func (m *maker) knownHash(g group) string {
	h := sha256.New()
	fmt.Fprintln(h, g.hash)
	for _, r := range g.rows {
		if at, ok := m.covariates[r.EpisodeKey]; ok {
			fmt.Fprintf(h, "%d %q %q %q %s %q %q %s %s %s\n", at.EpisodeKey, at.AgeBand, at.Sex, at.Severity, text(at.OnsetDays), at.ActivityLevel,
				at.TargetLadder, text(at.TargetShare), text(at.BaselinePain), text(at.Clinician))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
