package returning

import (
	"time"

	"evenlimb/pipeline/warehouse"
)

// state is what became of an episode by the cut.
type state int

const (
	unusable state = iota // cannot be used: why stands in its row
	atTarget              // began at or above the target
	returned              // recorded at the target, and it held
	ended                 // surgery, a new injury, a decision, death: first
	inCare                // still watched at the cut
	lost                  // lost sight of: outcome unknown
	left                  // care ended otherwise
)

// lostReasons are the ends after which nobody knows what became of the person.
// Whoever discharges themselves may well be back: the sensitivities ask both.
var lostReasons = []string{"gap", "lost_contact", "self_discharged"}

// outcome is the state with the day on which it came, or up to which the
// person was watched.
type outcome struct {
	state state
	day   int
}

func (o outcome) atRisk() bool { return o.state >= returned }

// variant says how an outcome is judged: as recorded, or in a sensitivity.
type variant int

const (
	asRecorded  variant = iota
	shortHold           // the settings' shorter hold
	longHold            // their longer one
	lostNever           // whoever was lost never returned
	lostReturn          // whoever was lost returned that day
	goalMetBack         // an end as goal met counts as a return
)

// judge returns the outcome of every episode.
func (m *maker) judge(rows []warehouse.ReturnEpisode, v variant) []outcome {
	out := make([]outcome, len(rows))
	for i, e := range rows {
		out[i] = judge(e, m.period.To, v)
	}
	return out
}

// judge cuts one episode at the last day watched. A return and a competing end
// on one day count as a return (decisions: cut of the month, how watching ends).
func judge(e warehouse.ReturnEpisode, last time.Time, v variant) outcome {
	if e.Unusable != "" || e.FollowDays == nil {
		return outcome{state: unusable}
	}
	if e.AtTarget {
		return outcome{state: atTarget}
	}
	cut := min(*e.FollowDays, days(e.StartDate, last))
	back := returnDay(e, v)
	switch {
	case by(back, cut) && (e.EndDay == nil || *back <= *e.EndDay):
		return outcome{returned, *back}
	case by(e.EndDay, cut):
		return outcome{ended, *e.EndDay}
	case e.OutReason == "in_care" || e.OutDay > cut:
		return outcome{inCare, cut}
	case !isLost(e.OutReason):
		return outcome{left, e.OutDay}
	case v == lostNever:
		return outcome{lost, cut}
	case v == lostReturn:
		return outcome{returned, e.OutDay}
	default:
		return outcome{lost, e.OutDay}
	}
}

func returnDay(e warehouse.ReturnEpisode, v variant) *int {
	switch v {
	case shortHold:
		return e.ReturnDayShort
	case longHold:
		return e.ReturnDayLong
	case goalMetBack:
		if e.ReturnDay == nil {
			return e.GoalMetDay
		}
		return e.ReturnDay
	default:
		return e.ReturnDay
	}
}

func by(day *int, cut int) bool { return day != nil && *day <= cut }

func isLost(reason string) bool {
	for _, r := range lostReasons {
		if r == reason {
			return true
		}
	}
	return false
}

// days counts whole days between two dates at midnight UTC.
func days(from, to time.Time) int { return int(to.Sub(from).Hours() / 24) }
