package safety

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/warehouse"
)

// The conditions below say in SQL what the analysis says in Go, so that whoever
// follows a figure finds its rows; the trace test holds the two together. They
// are made of codes that the settings or the code tables hold, and of dates.

func ofPlace(types []string, site string) string {
	where := ""
	switch len(types) {
	case 0:
	case 1:
		where = "injury_type = " + literal(types[0])
	default:
		where = "injury_type in " + literals(types)
	}
	if site != "" {
		where = and(where, "site = "+literal(site))
	}
	return where
}

func (p period) of(column string) string {
	return column + " between " + date(p.From) + " and " + date(p.To)
}

// sessionsOf picks out the attended sessions of a group.
func sessionsOf(g group, p period) string { return and(g.ofPlace, p.of("session_date")) }

// askedSessionsOf picks out those in which symptoms were asked about.
func askedSessionsOf(g group, p period) string { return and(sessionsOf(g, p), "symptoms_asked") }

// countedOf picks out the events in the rate per attended session.
func countedOf(g group, p period) string {
	return and(and(g.ofPlace, g.ofEvents), "counts and watched and "+p.of("onset_date"))
}

// askedEventsOf picks out those in the rate per session with symptoms asked.
func askedEventsOf(g group, p period) string {
	return and(and(g.ofPlace, g.ofEvents), "counts and session_asked and "+p.of("session_date"))
}

// began picks out events of the whole practice that began in the period.
func (m *maker) began(condition string) string { return and(condition, m.period.of("onset_date")) }

const clocks = "counts and (serious or serious is null)"

// openClocks picks out what was known and not reported at the month's end.
func openClocks(p period) string {
	return clocks + " and coalesce(aware_date, onset_date) <= " + date(p.To) + " and (reported_date is null or reported_date > " + date(p.To) + ")"
}

// closedClocks picks out what was reported by then.
func closedClocks(p period) string { return clocks + " and reported_date <= " + date(p.To) }

func and(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + " and " + b
}

func date(day time.Time) string { return "date '" + day.Format(time.DateOnly) + "'" }

// literal writes a code as text of SQL. Codes hold letters, digits, _ and -
// alone; anything else would be a fault of the program, and matches nothing.
func literal(code string) string { return "'" + strings.ReplaceAll(code, "'", "''") + "'" }

func literals(codes []string) string {
	texts := make([]string, len(codes))
	for i, code := range codes {
		texts[i] = literal(code)
	}
	return "(" + strings.Join(texts, ", ") + ")"
}

// sessionsHash is the SHA-256 over sessions in their order.
type sessionsHash struct {
	hash hash.Hash
	line []byte
}

func newSessionsHash() *sessionsHash { return &sessionsHash{hash: sha256.New()} }

// add takes in "KEY EPISODE PERSON "SITE" "TYPE" DATE ASKED" as a line.
func (h *sessionsHash) add(s *warehouse.SafetySession) {
	b := h.line[:0]
	for _, key := range []int{s.SessionKey, s.EpisodeKey, s.PersonKey} {
		b = append(strconv.AppendInt(b, int64(key), 10), ' ')
	}
	b = append(strconv.AppendQuote(b, s.Site), ' ')
	b = append(strconv.AppendQuote(b, s.InjuryType), ' ')
	b = append(s.SessionDate.AppendFormat(b, time.DateOnly), ' ')
	b = append(strconv.AppendBool(b, s.SymptomsAsked), '\n')
	_, _ = h.hash.Write(b) // a hash takes every write
	h.line = b
}

func (h *sessionsHash) sum() string { return hex.EncodeToString(h.hash.Sum(nil)) }

// inputsHash is the SHA-256 over the sessions and events of a group.
func inputsHash(g group) string {
	h := sha256.New()
	fmt.Fprintln(h, g.exposed)
	for _, e := range g.events {
		fmt.Fprintf(h, "%d %d %d %q %q %s %t %q %t %t %t %q %s %s %s %s %s %s %t %s %s\n",
			e.EventKey, e.EpisodeKey, e.PersonKey, e.Site, e.InjuryType, e.OnsetDate.Format(time.DateOnly), e.Watched, e.Kind,
			e.Potential, e.RuledOut, e.Counts, e.Certainty, text(e.Serious), text(e.SessionKey), day(e.SessionDate), text(e.SessionAsked),
			day(e.AwareDate), day(e.ReportedDate), e.OrderImpossible, text(e.OnsetToAwareDays), text(e.AwareToReportedDays))
	}
	return hex.EncodeToString(h.Sum(nil))
}

func text[T any](x *T) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprint(*x)
}

func day(t *time.Time) string {
	if t == nil {
		return "-"
	}
	return t.Format(time.DateOnly)
}
