package safety

import (
	"slices"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// group is the sessions and events that one picture is about.
type group struct {
	injury   string // as in the figures' ids; empty: all
	site     string // empty: all
	stratum  string // kind of event, otherKinds or serious; empty: all events
	attended exposure
	asked    exposure                // those in which symptoms were asked about
	events   []warehouse.SafetyEvent // of any date, those that do not count among them

	ofPlace  string // the condition that picks out type and site
	ofEvents string // the condition that picks out the events of the stratum
	exposed  string // hash of the sessions
	hash     string
}

// exposure is some sessions of a group, counted: rows are many, and each is
// looked at once.
type exposure struct {
	sessions int
	byPerson map[int]int // sessions
	episodes map[int]bool
}

func newExposure() exposure { return exposure{byPerson: map[int]int{}, episodes: map[int]bool{}} }

func (x *exposure) add(s *warehouse.SafetySession) {
	x.sessions++
	x.byPerson[s.PersonKey]++
	x.episodes[s.EpisodeKey] = true
}

// group holds the sessions and events of some injury types (none: all) and of a
// site (empty: all).
func (m *maker) group(injury string, types []string, site string) group {
	g := group{injury: injury, site: site, ofPlace: ofPlace(types, site), attended: newExposure(), asked: newExposure()}
	of := func(i, s string) bool {
		return (len(types) == 0 || slices.Contains(types, i)) && (site == "" || s == site)
	}
	hash := newSessionsHash()
	for i := range m.in.Sessions {
		s := &m.in.Sessions[i]
		if !of(s.InjuryType, s.Site) || !m.period.Holds(s.SessionDate) {
			continue
		}
		g.attended.add(s)
		if s.SymptomsAsked {
			g.asked.add(s)
		}
		hash.add(s)
	}
	for _, e := range m.in.Events {
		if of(e.InjuryType, e.Site) {
			g.events = append(g.events, e)
		}
	}
	g.exposed = hash.sum()
	g.hash = inputsHash(g)
	return g
}

// only is the group with the events of a stratum and all of its sessions.
func (g group) only(stratum, condition string, keep func(warehouse.SafetyEvent) bool) group {
	g.stratum, g.ofEvents = stratum, condition
	g.events = slices.DeleteFunc(slices.Clone(g.events), func(e warehouse.SafetyEvent) bool { return !keep(e) })
	g.hash = inputsHash(g)
	return g
}

// inRate says that an event stands in the rate per attended session: it counts,
// it began in the period, and the site's data reach that day.
func (p period) inRate(e warehouse.SafetyEvent) bool {
	return e.Counts && e.Watched && p.Holds(e.OnsetDate)
}

// inAskedRate says that an event stands in the rate per session in which
// symptoms were asked about: it counts and is linked to one of the period.
func (p period) inAskedRate(e warehouse.SafetyEvent) bool {
	return e.Counts && e.SessionDate != nil && p.Holds(*e.SessionDate) && e.SessionAsked != nil && *e.SessionAsked
}

// runsClock says that the time until an event is reported matters: it counts and
// was serious, or nobody recorded whether it was.
func runsClock(e warehouse.SafetyEvent) bool { return e.Counts && (e.Serious == nil || *e.Serious) }

// knownBy says that an event was known by a day. Without a date on which it was
// known it counts from its onset, so that no open clock is overlooked.
func knownBy(e warehouse.SafetyEvent, day time.Time) bool {
	known := e.OnsetDate
	if e.AwareDate != nil {
		known = *e.AwareDate
	}
	return !known.After(day)
}

func reportedBy(e warehouse.SafetyEvent, day time.Time) bool {
	return e.ReportedDate != nil && !e.ReportedDate.After(day)
}

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set
}

// figure begins a figure of a group.
func (m *maker) figure(g group, statistic string) result.Figure {
	return result.Figure{
		ID:       result.ID(result.PictureID("safety", g.injury, g.site, "", g.stratum, "", m.period.Label), statistic, ""),
		Question: "safety", Measure: "adverse events", InjuryType: g.injury, Site: g.site, Stratum: g.stratum,
		PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// source is a table and the condition that picks rows of it out.
type source struct{ table, where string }

func (m *maker) add(f result.Figure, sources ...source) {
	m.set.Figures = append(m.set.Figures, f)
	for _, s := range sources {
		m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: s.table, Predicate: s.where})
	}
}

// restsOn sets the persons and episodes of some sessions.
func restsOn(f *result.Figure, x exposure) {
	f.Persons, f.Episodes = count(len(x.byPerson)), count(len(x.episodes))
}

func attended(g group) exposure { return g.attended }
func asked(g group) exposure    { return g.asked }

func withhold(f *result.Figure, reason string) { f.Status, f.Reason = result.Withheld, reason }

func distinct(keys []int) int {
	slices.Sort(keys)
	return len(slices.Compact(keys))
}

func count(n int) *int { return &n }

func number(x float64) *float64 { return &x }
