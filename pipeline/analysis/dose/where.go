package dose

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"evenlimb/pipeline/analysis/returning"
)

// The conditions below say in SQL what the rows say in Go, so that whoever
// follows a figure finds its rows. They are made of codes that the settings or
// the code tables hold, and of dates.

func (m *maker) where(g group) string {
	began := "start_date between " + date(m.period.From) + " and " + date(m.period.To)
	switch len(g.types) {
	case 0:
		return began
	case 1:
		return "injury_type = " + literal(g.types[0]) + " and " + began
	default:
		return "injury_type in " + literals(g.types) + " and " + began
	}
}

func and(a, b string) string {
	if b == "" {
		return a
	}
	return a + " and " + b
}

// landmarkRows picks out those still at risk at the landmark. It is never null,
// so that its opposite picks out all others.
func landmarkRows(last time.Time) string {
	cut := date(last) + " - start_date"
	return "unusable is null and not at_target and " + cut + " >= landmark_day" +
		" and coalesce(return_day >= landmark_day, true) and coalesce(end_day >= landmark_day, true)" +
		" and (out_day >= landmark_day or coalesce(return_day <= " + cut + ", false) or coalesce(end_day <= " + cut + ", false))"
}

// goneRows picks out those of a state who were gone before the landmark.
func (m *maker) goneRows(state string) string {
	rows := returning.StandingRows(state, m.period.To)
	switch state {
	case "at_target", "no_usable":
		return rows
	case "returned":
		return rows + " and return_day < landmark_day"
	case "ended_otherwise":
		return rows + " and end_day < landmark_day"
	case "in_care":
		return rows + " and least(follow_days, " + date(m.period.To) + " - start_date) < landmark_day"
	default:
		return rows + " and out_day < landmark_day"
	}
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
func inputsHash(rows []row) string {
	h := sha256.New()
	for _, r := range rows {
		fmt.Fprintf(h, "%d %d %q %s %q %d %q %s %s %s %s %s %s %s %s %q %t %s %t %s %d %q\n",
			r.EpisodeKey, r.PersonKey, r.Site, r.StartDate.Format(time.DateOnly), r.Severity, r.LandmarkDay, r.MissingReason,
			text(r.Sessions), text(r.Bouts), text(r.Sets), text(r.Reps), text(r.InflatedMinutes), text(r.PressureMinutes), text(r.PlannedSets),
			text(r.FollowDays), r.Unusable, r.AtTarget, text(r.ReturnDay), r.Provisional, text(r.EndDay), r.OutDay, r.OutReason)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func text[T int | float64](x *T) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprint(*x)
}
