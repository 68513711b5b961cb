package returning

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"evenlimb/pipeline/warehouse"
)

// The conditions below say in SQL what judge says in Go, so that whoever
// follows a figure finds its rows; the trace test holds the two together. They
// are made of codes that the settings or the code tables hold, and of dates.

// where picks out the rows of a group.
func where(types []string, site string, p period) string {
	var parts []string
	switch len(types) {
	case 0:
	case 1:
		parts = append(parts, "injury_type = "+literal(types[0]))
	default:
		parts = append(parts, "injury_type in "+literals(types))
	}
	if site != "" {
		parts = append(parts, "site = "+literal(site))
	}
	return strings.Join(append(parts, "start_date between "+date(p.From)+" and "+date(p.To)), " and ")
}

const atRiskRows = "unusable is null and not at_target"

// stateRows picks out the rows of a state among those of a group.
func stateRows(s state, p period) string {
	cut := "(" + date(p.To) + " - start_date)"
	reasons := "('" + strings.Join(lostReasons, "', '") + "')"
	open := atRiskRows + " and (return_day is null or return_day > " + cut + ") and (end_day is null or end_day > " + cut + ")"
	switch s {
	case unusable:
		return "unusable is not null"
	case atTarget:
		return "unusable is null and at_target"
	case returned:
		return atRiskRows + " and return_day <= " + cut + " and (end_day is null or return_day <= end_day)"
	case ended:
		return atRiskRows + " and end_day <= " + cut + " and (return_day is null or return_day > end_day)"
	case inCare:
		return open + " and (out_reason = 'in_care' or out_day > " + cut + ")"
	case lost:
		return open + " and out_reason in " + reasons + " and out_day <= " + cut
	default:
		return open + " and out_reason <> 'in_care' and out_reason not in " + reasons + " and out_day <= " + cut
	}
}

// stageRows picks out the first stays on a stage that were entered in one way,
// but for those on which a competing end came at once.
func stageRows(stage, entered string) string {
	return "stage = " + literal(stage) + " and entered = " + literal(entered) + " and visit = 1 and (end_day is null or from_day < end_day)"
}

// stayedRows picks out the stays that had begun by the cut.
func stayedRows(p period) string {
	return "from_day <= least(follow_days, " + date(p.To) + " - start_date)"
}

// returnedRows picks out the returns by the cut.
func returnedRows(p period) string {
	return "return_day <= least(follow_days, " + date(p.To) + " - start_date)"
}

// gapRows picks out the contacts up to the cut.
func gapRows(p period) string { return "day <= " + date(p.To) + " - start_date" }

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
func inputsHash(rows []warehouse.ReturnEpisode) string {
	h := sha256.New()
	for _, e := range rows {
		fmt.Fprintf(h, "%d %d %q %q %s %s %s %q %q %q %t %s %s %s %t %s %q %d %q %s %d %d\n",
			e.EpisodeKey, e.PersonKey, e.Site, e.InjuryType, e.StartDate.Format(time.DateOnly), dateText(e.DataThrough), text(e.FollowDays), e.Unusable,
			e.TargetStage, e.StageAtStart, e.AtTarget, text(e.ReturnDay), text(e.ReturnDayShort), text(e.ReturnDayLong), e.Provisional,
			text(e.EndDay), e.EndCause, e.OutDay, e.OutReason, text(e.GoalMetDay), e.LastContactDay, e.Contacts)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// joined is the SHA-256 over hashes.
func joined(hashes ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(hashes, " ")))
	return hex.EncodeToString(sum[:])
}

// staysHash is the SHA-256 over the stays in their order.
func staysHash(stays []warehouse.StageStay) string {
	h := sha256.New()
	for _, s := range stays {
		fmt.Fprintf(h, "%d %d %q %q %s %q %t %d %q %d %s %q %d %s %d %q\n",
			s.EpisodeKey, s.PersonKey, s.Site, s.InjuryType, s.StartDate.Format(time.DateOnly), s.Stage, s.BelowTarget,
			s.Visit, s.Entered, s.FromDay, text(s.ToDay), s.LeftBy, s.FollowDays, text(s.EndDay), s.OutDay, s.OutReason)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// detailsHash is the SHA-256 over the details in their order.
func detailsHash(details []warehouse.ReturnDetail) string {
	h := sha256.New()
	for _, d := range details {
		fmt.Fprintf(h, "%d %s %s %s\n", d.EpisodeKey, d.ClockFrom, text(d.ClockDay), text(d.NotYetDay))
	}
	return hex.EncodeToString(h.Sum(nil))
}

func text(n *int) string {
	if n == nil {
		return "-"
	}
	return fmt.Sprint(*n)
}

func dateText(t *time.Time) string {
	if t == nil {
		return "-"
	}
	return t.Format(time.DateOnly)
}
