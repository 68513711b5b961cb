package rowcheck

import (
	"fmt"
	"strings"

	"evenlimb/seeds/reference"
)

// What the columns of a row mean together, and no threshold.
const meaning = "the meaning of the columns"

var planRules = []rule{
	fraction("plans", "load_percent_1rm"),
	fraction("plans", "pressure_percent"),
	{
		table: "plans", column: "cuff_inflated", code: "pressure_though_not",
		about:  "the cuff is not to be inflated, but a pressure is planned",
		source: meaning,
		reads:  []string{"cuff_inflated", "pressure_percent"},
		broken: func(r *row) bool { return !r.is(0) && r.number(1) > 0 },
	},
}

var sessionRules = []rule{
	{
		table: "sessions", column: "diastolic_mmhg", code: "not_below_systolic", reject: true,
		about:  "the diastolic pressure is not below the systolic",
		source: "the meaning of the columns; they may be exchanged",
		reads:  []string{"systolic_mmhg", "diastolic_mmhg"},
		broken: func(r *row) bool { return r.number(1) >= r.number(0) },
		words: func(r *row) string {
			return fmt.Sprintf("%s/%s: the diastolic pressure must lie below the systolic", plain(r.number(0)), plain(r.number(1)))
		},
	},
	{
		table: "sessions", column: "diastolic_mmhg", code: "close_to_systolic",
		about:  "the diastolic pressure is less than 15 mmHg below the systolic",
		source: practiceSets,
		reads:  []string{"systolic_mmhg", "diastolic_mmhg"},
		broken: func(r *row) bool { d := r.number(0) - r.number(1); return d > 0 && d < 15*unit },
	},
	{
		table: "sessions", column: "attendance", code: "recorded_though_absent",
		about:  "the person did not attend, but minutes of the session are recorded",
		source: meaning,
		reads:  []string{"attendance", "minutes"},
		broken: func(r *row) bool { return r.text(0) != "attended" && r.number(1) > 0 },
	},
	{
		table: "sessions", column: "cancelled_by", code: "not_cancelled",
		about:  "it is said who cancelled, but the session was not cancelled",
		source: meaning,
		reads:  []string{"cancelled_by", "attendance"},
		broken: func(r *row) bool { return r.text(1) != "cancelled" },
	},
	{
		table: "sessions", column: "stop_reason", code: "not_stopped",
		about:  "a reason for stopping is given, but the session was not stopped early",
		source: meaning,
		reads:  []string{"stop_reason", "stopped_early"},
		broken: func(r *row) bool { return !r.is(1) },
	},
}

var episodeRules = []rule{
	{
		table: "episodes", column: "recurrence_of", code: "its_own", reject: true,
		about:  "the episode is said to repeat itself",
		source: meaning,
		reads:  []string{"recurrence_of", "episode_id"},
		broken: func(r *row) bool { return r.text(0) == r.text(1) },
	},
	order("episodes", "end_date", "start_date", "ends_before_start", "care ends before it starts"),
	order("episodes", "start_date", "onset_date", "starts_before_onset", "care starts before the onset"),
	order("episodes", "start_date", "referred_date", "starts_before_referral", "care starts before the referral"),
	order("episodes", "surgery_date", "onset_date", "before_onset", "the operation lies before the onset"),
	order("episodes", "end_date", "screened_on", "ends_before_screening", "care ends before the screening"),
	{
		table: "episodes", column: "worse_side", code: "not_bilateral",
		about:  "a worse side is named, but the injury is not bilateral",
		source: meaning,
		reads:  []string{"worse_side", "side"},
		broken: func(r *row) bool { return r.text(1) != "bilateral" },
	},
	ladder("target_stage", "the goal is a stage of another part of the body than the injury"),
	ladder("stage_at_start", "the stage at the start is one of another part of the body than the injury"),
}

var courseRules = []rule{
	{
		table: "milestones", column: "not_yet_on", code: "not_before_reached",
		about:  "the last day without the stage is not before the day on which it was reached",
		source: meaning,
		reads:  []string{"not_yet_on", "reached_on"},
		broken: func(r *row) bool { return !r.date(0).Before(r.date(1)) },
	},
	unreached("stage", "a stage"),
	unreached("symptoms_since", "an answer about symptoms"),
}

// order finds a date that must not lie before another and does.
func order(table, later, earlier, code, about string) rule {
	return rule{
		table: table, column: later, code: code, about: about, source: meaning,
		reads:  []string{later, earlier},
		broken: before(0, 1),
		words: func(r *row) string {
			return fmt.Sprintf("%s: %s is %s, %s is %s", about, later, r.date(0).Format("2006-01-02"), earlier, r.date(1).Format("2006-01-02"))
		},
	}
}

// ladder finds a stage on the ladder of another part of the body.
func ladder(column, about string) rule {
	return rule{
		table: "episodes", column: column, code: "another_ladder", about: about, source: meaning,
		reads: []string{column, "injury_type"},
		broken: func(r *row) bool {
			of, _ := reference.Cell("stages", r.text(0), "ladder")
			region, known := reference.Cell("injury_types", r.text(1), "region")
			return known && of != "" && of != "work" && of != region
		},
	}
}

// unreached finds answers of a person who was not reached.
func unreached(column, what string) rule {
	return rule{
		table: "followups", column: "reached", code: strings.ReplaceAll("answered_though_not_"+column, "_since", ""),
		about: "the person was not reached, but " + what + " is recorded", source: meaning,
		reads:  []string{"reached", column},
		broken: func(r *row) bool { return !r.is(0) },
	}
}
