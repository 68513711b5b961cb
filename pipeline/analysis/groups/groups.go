// Package groups answers two questions beside that of the return to activity:
// by how much the return differs between groups of people within the practice
// (by severity, sex, age and site), as they are and with like compared to like,
// and whether a site's returns are as many as the practice's other sites would
// let one expect. It describes who came and how it went; a difference is not the
// effect of anything.
//
// It works on the rows of published.return_episodes and published.return_details,
// cut at the end of the month asked for.
package groups

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
)

// DetailsTable is, beside returning.EpisodesTable, the table that the predicates
// of the figures are about.
const DetailsTable = "published.return_details"

const (
	// methodVersion changes when a figure of the same rows would change.
	methodVersion = "1"
	// replicates is how often persons are drawn for an interval.
	replicates = 1000
	level      = 0.95
)

// Input is what a month's figures are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Episodes    []warehouse.ReturnEpisode // in order of the key
	Details     []warehouse.ReturnDetail  // in order of the key, of the same episodes
	Month       time.Time                 // any day of the month reported
	Rules       settings.Return
	InjuryTypes []string // codes
	Sites       []string // codes, in the order in which figures are wanted
	Floor       int      // persons who must be in a group for it to be compared
	SiteFloor   int      // the same for a site
	Batch       int
}

// Month reads the published tables and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{Month: first, Rules: practice.Return, Floor: practice.SmallCounts.Circulating, SiteFloor: practice.SmallCounts.Site, Batch: batch}
	in.InjuryTypes = practice.TypeCodes()
	in.Sites = practice.SiteCodes()
	var err error
	if in.Episodes, err = wh.ReturnEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Details, err = wh.ReturnDetails(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(ctx, in)
}

// Analyse returns the contrasts between groups and the observed over expected
// returns of sites. Who is compared: those at risk of a return whose injury type,
// severity, sex, age and site are known and shared with at least Floor persons
// (SiteFloor at a site); the others are counted as missing. Shares are between
// 0 and 1, times in weeks.
func Analyse(ctx context.Context, in Input) (result.Set, error) {
	months := in.Rules.WindowMonths
	if in.Month.IsZero() || months < 1 {
		return result.Set{}, fmt.Errorf("groups: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), months)
	}
	m := &maker{in: in, period: result.PeriodOf(in.Month, months)}
	if err := m.read(); err != nil {
		return result.Set{}, err
	}
	if len(m.rows) == 0 {
		return m.set, nil
	}
	if err := m.contrasts(ctx); err != nil {
		return result.Set{}, fmt.Errorf("groups: %w", err)
	}
	if err := m.sites(); err != nil {
		return result.Set{}, fmt.Errorf("sites: %w", err)
	}
	return m.set, nil
}

// maker collects the figures of one month.
type maker struct {
	in      Input
	period  result.Period
	rows    []row
	missing int // at risk, but left out
	factors []factor
	hash    string
	set     result.Set
}

// row is an episode at risk of a return.
type row struct {
	person int
	day    int
	event  int               // 0 none, 1 return, 2 competing end
	of     map[string]string // its level by factor
}

// factor is a way to tell people apart, with the levels in order; the first is
// the one that others are compared with.
type factor struct {
	name   string
	levels []string
	where  func(levels []string) string // in SQL, of DetailsTable
}

// age are the broad bands of age that are compared, with the export's bands.
var age = []struct {
	level string
	bands []string
}{
	{"under_35", []string{"16-17", "18-24", "25-34"}},
	{"35_to_54", []string{"35-44", "45-54"}},
	{"55_and_over", []string{"55-64", "65-74", "75-89", "90+"}},
}

func ageLevel(band string) string {
	for _, a := range age {
		if slices.Contains(a.bands, band) {
			return a.level
		}
	}
	return ""
}

// read takes the rows of the period and drops levels that too few persons share
// until none is left.
func (m *maker) read() error {
	if len(m.in.Details) != len(m.in.Episodes) {
		return fmt.Errorf("groups: %d rows of details for %d episodes", len(m.in.Details), len(m.in.Episodes))
	}
	var known []row
	h := sha256.New()
	for i, e := range m.in.Episodes {
		d := m.in.Details[i]
		if d.EpisodeKey != e.EpisodeKey {
			return fmt.Errorf("groups: details of episode %d stand beside episode %d", d.EpisodeKey, e.EpisodeKey)
		}
		if e.StartDate.Before(m.period.From) || e.StartDate.After(m.period.To) {
			continue
		}
		standing := returning.Stand(e, m.period.To)
		r := row{person: e.PersonKey, day: standing.Day, of: map[string]string{"type": e.InjuryType, "severity": d.Severity, "sex": d.Sex, "age": ageLevel(d.AgeBand), "site": e.Site}}
		switch standing.State {
		case "at_target", "no_usable":
			continue
		case "returned":
			r.event = 1
		case "ended_otherwise":
			r.event = 2
		}
		fmt.Fprintln(h, e.EpisodeKey, e.PersonKey, e.StartDate.Format(time.DateOnly), r.day, r.event, r.of)
		known = append(known, r)
	}
	all := len(known)
	m.hash = hex.EncodeToString(h.Sum(nil))
	m.factors = []factor{
		{"type", slices.Clone(m.in.InjuryTypes), func(levels []string) string { return "injury_type in " + literals(levels) }},
		{"severity", []string{"mild", "moderate", "severe"}, func(levels []string) string { return "severity in " + literals(levels) }},
		{"sex", []string{"female", "male"}, func(levels []string) string { return "sex in " + literals(levels) }},
		{"age", []string{age[0].level, age[1].level, age[2].level}, ageWhere},
		{"site", slices.Clone(m.in.Sites), func(levels []string) string { return "site in " + literals(levels) }},
	}
	for dropped := true; dropped; {
		dropped = false
		for i := range m.factors {
			f := &m.factors[i]
			shared := persons(known, f.name)
			floor := max(m.in.Floor, 1)
			if f.name == "site" {
				floor = max(m.in.SiteFloor, 1)
			}
			f.levels = slices.DeleteFunc(f.levels, func(l string) bool { return shared[l] < floor })
			n := len(known)
			known = slices.DeleteFunc(known, func(r row) bool { return !slices.Contains(f.levels, r.of[f.name]) })
			dropped = dropped || len(known) < n
		}
	}
	m.rows, m.missing = known, all-len(known)
	return nil
}

// persons counts the persons at each level of a factor.
func persons(rows []row, name string) map[string]int {
	seen := map[string]map[int]bool{}
	for _, r := range rows {
		if seen[r.of[name]] == nil {
			seen[r.of[name]] = map[int]bool{}
		}
		seen[r.of[name]][r.person] = true
	}
	counts := map[string]int{}
	for l, people := range seen {
		counts[l] = len(people)
	}
	return counts
}

func ageWhere(levels []string) string {
	var bands []string
	for _, a := range age {
		if slices.Contains(levels, a.level) {
			bands = append(bands, a.bands...)
		}
	}
	return "age_band in " + literals(bands)
}

// where picks out, of DetailsTable, those who are compared.
func (m *maker) where() string {
	parts := []string{m.began()}
	for _, f := range m.factors {
		parts = append(parts, f.where(f.levels))
	}
	return strings.Join(parts, " and ")
}

func (m *maker) began() string {
	return "start_date between date '" + m.period.From.Format(time.DateOnly) + "' and date '" + m.period.To.Format(time.DateOnly) + "'"
}

// literals writes codes as a list of SQL; codes hold letters, digits and -, +, _
// alone.
func literals(codes []string) string {
	texts := make([]string, len(codes))
	for i, code := range codes {
		texts[i] = "'" + strings.ReplaceAll(code, "'", "''") + "'"
	}
	return "(" + strings.Join(texts, ", ") + ")"
}

// pick are the rows that keep holds for.
func (m *maker) pick(keep func(r row) bool) []row {
	var picked []row
	for _, r := range m.rows {
		if keep(r) {
			picked = append(picked, r)
		}
	}
	return picked
}

func distinct(rows []row) int {
	seen := map[int]bool{}
	for _, r := range rows {
		seen[r.person] = true
	}
	return len(seen)
}

// curve is the share returned by day, among rows.
func curve(rows []row, byPerson bool) (*survival.Curve, error) {
	data := survival.Data{}
	causes := 1
	for _, r := range rows {
		data.Time, data.Event = append(data.Time, float64(r.day)), append(data.Event, r.event)
		causes = max(causes, r.event)
		if byPerson {
			data.Person = append(data.Person, r.person)
		}
	}
	all, err := survival.AalenJohansen(data, causes, survival.Options{Level: level})
	if err != nil {
		return nil, err
	}
	return all[1], nil
}

// add keeps a figure with its two sources.
func (m *maker) add(f result.Figure, x, narrower string) {
	picture := result.PictureID(f.Question, f.InjuryType, f.Site, f.Cohort, f.Stratum, "", m.period.Label)
	f.ID = result.ID(picture, f.Statistic, x)
	where := m.where()
	if narrower != "" {
		where += " and " + narrower
	}
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources,
		result.Source{FigureID: f.ID, Table: DetailsTable, Predicate: where},
		result.Source{FigureID: f.ID, Table: returning.EpisodesTable, Predicate: m.began() + " and unusable is null and not at_target"})
}

func count(n int) *int { return &n }

func number(x float64) *float64 { return &x }
