package symmetry

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
)

// The conditions below say in SQL what the group says in Go, so that whoever
// follows a figure finds its rows. They are made of codes that the settings or
// the code tables hold, of whole numbers and of dates.

// episodesWhere picks out the rows of episodes of the injury type that began in the period.
func (m *maker) episodesWhere(g group) string {
	began := "start_date between " + date(m.period.From) + " and " + date(m.period.To)
	if g.injury == "" {
		return began
	}
	return "injury_type = " + literal(g.injury) + " and " + began
}

// pairsWhere picks out the pairs of the group.
func (m *maker) pairsWhere(g group) string {
	measured := "measure = " + literal(g.measure.code)
	if g.kind != "" {
		measured = "measure in " + literals(measuresOf(g.kind))
	}
	return m.episodesWhere(g) + " and " + measured + " and day >= 0 and greatest(day, uninvolved_day) <= " + date(m.period.To) + " - start_date"
}

// changesWhere picks out the changes of the group.
func (m *maker) changesWhere(g group) string {
	return m.episodesWhere(g) + " and measure = " + literal(g.measure.code) + " and day <= " + date(m.period.To) + " - start_date"
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

// inputsHash is the SHA-256 over the rows in their order.
func inputsHash(g group) string {
	h := sha256.New()
	for _, e := range g.episodes {
		fmt.Fprintf(h, "%d %d %q %s %t %q %s\n", e.EpisodeKey, e.PersonKey, e.Site, e.StartDate.Format(time.DateOnly), e.Bilateral, e.Severity, whole(e.ReturnDay))
	}
	for _, p := range g.pairs {
		fmt.Fprintf(h, "%d %d %g %g %d %s\n", p.EpisodeKey, p.Day, p.Involved, p.Uninvolved, p.UninvolvedDay, decimals(p.UninvolvedBaseline))
	}
	for _, c := range g.changes {
		fmt.Fprintf(h, "%d %d %d %d %g %g %t\n", c.EpisodeKey, c.PersonKey, c.Day, c.BaselineDay, c.Value, c.Baseline, c.SameRater)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func whole(n *int) string {
	if n == nil {
		return "-"
	}
	return fmt.Sprint(*n)
}

func decimals(x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprint(*x)
}
