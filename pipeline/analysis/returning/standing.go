package returning

import (
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// Standing is what had become of an episode by the last day watched, for the
// questions that count from the return: the name of a count of the flow
// (at_target, no_usable, returned, ended_otherwise, in_care, lost or
// left_otherwise), and the day on which it came or up to which the person was
// watched. The day is 0 for those who were not at risk.
type Standing struct {
	State string
	Day   int
}

// Stand cuts one episode at the last day watched. Of e it needs the start, the
// days and reasons of the end of watching, Unusable, AtTarget and ReturnDay.
func Stand(e warehouse.ReturnEpisode, last time.Time) Standing {
	o := judge(e, last, asRecorded)
	for name, s := range stateOf {
		if s == o.state {
			return Standing{State: name, Day: o.day}
		}
	}
	return Standing{} // stateOf holds every state, as a test of the flow proves
}

// StandingRows says in SQL which rows Stand gives the state, of a table with
// the columns of published.return_episodes.
func StandingRows(state string, last time.Time) string {
	return stateRows(stateOf[state], period{result.Period{To: last}})
}
