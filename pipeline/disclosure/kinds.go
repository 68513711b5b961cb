package disclosure

import (
	"cmp"
	"maps"
	"slices"
	"strings"
)

// Kind says what sort of output a figure is, and so which rule it falls under.
type Kind int

// The kinds of output. The zero Kind is a statistic that the gate does not
// know: it is hidden.
const (
	Unknown Kind = iota
	// Rate is a share, rate, mean, quantile or model result.
	Rate
	// PersonsByOutcome counts persons (or their episodes) who share a
	// characteristic or an outcome.
	PersonsByOutcome
	// PersonsInTotal counts everybody in the group. Where the group is itself
	// picked out by injury type, site, cohort or stratum, that is a
	// characteristic, and the rule of PersonsByOutcome holds.
	PersonsInTotal
	// EventCount counts adverse events or sessions, not persons.
	EventCount
	// CurvePoint is one week of a curve.
	CurvePoint
	// NumberAtRisk is the number still followed at one week of a curve.
	NumberAtRisk
	// RoundedCount counts persons of whom something might have been known: it is
	// told to the nearest 5, because beside who was used and who was not it would
	// tell of how few nothing could have been known.
	RoundedCount
	// AlwaysCounted is what nobody may overlook: shown for the whole practice
	// whatever its size, with nothing beside it.
	AlwaysCounted
	// NotPersons counts rows, files or days of delivery; no person is in it.
	NotPersons
)

// String returns the kind in words.
func (k Kind) String() string {
	switch k {
	case Rate:
		return "rate, mean or model result"
	case PersonsByOutcome:
		return "count of persons by characteristic or outcome"
	case PersonsInTotal:
		return "count of persons in total"
	case EventCount:
		return "count of events or sessions"
	case CurvePoint:
		return "point of a curve"
	case NumberAtRisk:
		return "number at risk"
	case RoundedCount:
		return "rounded count of persons"
	case AlwaysCounted:
		return "always counted"
	case NotPersons:
		return "not about persons"
	default:
		return "unknown"
	}
}

// Statistic names one sort of figure: the question it answers and its
// statistic. A statistic that stands at positions (weeks) ends in "@"; ".*" at
// the end stands for any code behind the point, and N for any number, such as
// days from the settings.
type Statistic struct {
	Question string
	Name     string
}

// kinds is the table that every decision starts from.
var kinds = map[Statistic]Kind{
	{"return", "began"}:                PersonsInTotal,
	{"return", "at_target"}:            PersonsByOutcome,
	{"return", "at_risk"}:              PersonsByOutcome,
	{"return", "no_usable"}:            PersonsByOutcome,
	{"return", "returned"}:             PersonsByOutcome,
	{"return", "returned_provisional"}: PersonsByOutcome,
	{"return", "ended_otherwise"}:      PersonsByOutcome,
	{"return", "ended.*"}:              PersonsByOutcome,
	{"return", "in_care"}:              PersonsByOutcome,
	{"return", "not_followed"}:         PersonsByOutcome,
	{"return", "lost"}:                 PersonsByOutcome,
	{"return", "left_otherwise"}:       PersonsByOutcome,

	{"return", "cumulative@"}: CurvePoint,
	{"return", "competing@"}:  CurvePoint,
	{"return", "at_risk@"}:    NumberAtRisk,

	{"return", "stage.*@"}: CurvePoint,

	{"return", "since_injury@"}:             CurvePoint,
	{"return", "since_injury_at_risk@"}:     NumberAtRisk,
	{"return", "since_injury_median_weeks"}: Rate,

	{"return", "moved_on.*@"}:             Rate,
	{"return", "moved_on_from_start.*@"}:  Rate,
	{"return", "next_weeks.*"}:            Rate,
	{"return", "next_weeks_from_start.*"}: Rate,
	{"return", "fell_back.*@"}:            Rate,

	{"return", "share@"}:                   Rate,
	{"return", "median_weeks"}:             Rate,
	{"return", "lower_quartile_weeks"}:     Rate,
	{"return", "upper_quartile_weeks"}:     Rate,
	{"return", "mean_weeks@"}:              Rate,
	{"return", "share_if_lost_never@"}:     Rate,
	{"return", "share_if_lost_return@"}:    Rate,
	{"return", "share_hold_N@"}:            Rate,
	{"return", "share_between_contacts@"}:  Rate,
	{"return", "share_weibull@"}:           Rate,
	{"return", "share_goal_met_returned@"}: Rate,
	{"return", "visit_spacing_days"}:       Rate,

	{"recurrence", "share@"}:       Rate,
	{"recurrence", "person_known"}: Rate,

	{"groups", "share_difference_raw@"}:          Rate,
	{"groups", "share_difference_standardised@"}: Rate,
	{"groups", "mean_difference_raw@"}:           Rate,
	{"groups", "mean_difference_standardised@"}:  Rate,
	{"groups", "hazard_ratio"}:                   Rate,
	{"groups", "observed_over_expected"}:         Rate,
	{"groups", "funnel_limits"}:                  Rate,

	{"symmetry", "began"}:             PersonsInTotal,
	{"symmetry", "pairs"}:             PersonsByOutcome,
	{"symmetry", "bilateral"}:         PersonsByOutcome,
	{"symmetry", "no_pair"}:           PersonsByOutcome,
	{"symmetry", "measured@"}:         PersonsByOutcome,
	{"symmetry", "returned_already@"}: PersonsByOutcome,
	{"symmetry", "change_known"}:      PersonsByOutcome,
	{"symmetry", "improved"}:          PersonsByOutcome,
	{"symmetry", "no_real_change"}:    PersonsByOutcome,
	{"symmetry", "worse"}:             PersonsByOutcome,

	{"symmetry", "change_known_last"}:     PersonsByOutcome,
	{"symmetry", "improved_last"}:         PersonsByOutcome,
	{"symmetry", "no_real_change_last"}:   PersonsByOutcome,
	{"symmetry", "worse_last"}:            PersonsByOutcome,
	{"symmetry", "change_compared"}:       PersonsByOutcome,
	{"symmetry", "important_better"}:      PersonsByOutcome,
	{"symmetry", "not_important"}:         PersonsByOutcome,
	{"symmetry", "important_worse"}:       PersonsByOutcome,
	{"symmetry", "change_compared_last"}:  PersonsByOutcome,
	{"symmetry", "important_better_last"}: PersonsByOutcome,
	{"symmetry", "not_important_last"}:    PersonsByOutcome,
	{"symmetry", "important_worse_last"}:  PersonsByOutcome,
	{"symmetry", "judged_N"}:              PersonsByOutcome,
	{"symmetry", "clear_of_N"}:            PersonsByOutcome,
	{"symmetry", "undecided_N"}:           PersonsByOutcome,
	{"symmetry", "below_N"}:               PersonsByOutcome,

	{"symmetry", "error_at_N"}:           Rate,
	{"symmetry", "baseline_difference@"}: Rate,
	{"symmetry", "at_zero@"}:             Rate,
	{"symmetry", "worse_side_percent@"}:  Rate,
	{"symmetry", "worse_side_change@"}:   Rate,
	{"symmetry", "other_side_percent@"}:  Rate,
	{"symmetry", "other_side_change@"}:   Rate,
	{"symmetry", "last_visit_weeks"}:     Rate,

	{"symmetry", "typical_index@"}:    Rate,
	{"symmetry", "girth_percent@"}:    Rate,
	{"symmetry", "girth_difference@"}: Rate,
	{"symmetry", "baseline_index@"}:   Rate,
	{"symmetry", "plain_mean@"}:       Rate,
	{"symmetry", "reached_N@"}:        Rate,

	{"symmetry", "index_curve@"}:      CurvePoint,
	{"symmetry", "girth_curve@"}:      CurvePoint,
	{"symmetry", "involved_curve@"}:   CurvePoint,
	{"symmetry", "uninvolved_curve@"}: CurvePoint,
	{"symmetry", "difference_curve@"}: CurvePoint,
	{"symmetry", "spread_low@"}:       CurvePoint,
	{"symmetry", "spread_middle@"}:    CurvePoint,
	{"symmetry", "spread_high@"}:      CurvePoint,

	{"dose", "began"}:          PersonsInTotal,
	{"dose", "left_out"}:       PersonsByOutcome,
	{"dose", "left_out.*"}:     PersonsByOutcome,
	{"dose", "analysed"}:       PersonsByOutcome,
	{"dose", "no_cuff_work"}:   PersonsByOutcome,
	{"dose", "some_cuff_work"}: PersonsByOutcome,

	{"dose", "sets_per_week_lower_quartile"}:     Rate,
	{"dose", "sets_per_week_median"}:             Rate,
	{"dose", "sets_per_week_upper_quartile"}:     Rate,
	{"dose", "reps_per_week_lower_quartile"}:     Rate,
	{"dose", "reps_per_week_median"}:             Rate,
	{"dose", "reps_per_week_upper_quartile"}:     Rate,
	{"dose", "inflated_minutes_lower_quartile"}:  Rate,
	{"dose", "inflated_minutes_median"}:          Rate,
	{"dose", "inflated_minutes_upper_quartile"}:  Rate,
	{"dose", "pressure_minutes_lower_quartile"}:  Rate,
	{"dose", "pressure_minutes_median"}:          Rate,
	{"dose", "pressure_minutes_upper_quartile"}:  Rate,
	{"dose", "sessions_per_week_lower_quartile"}: Rate,
	{"dose", "sessions_per_week_median"}:         Rate,
	{"dose", "sessions_per_week_upper_quartile"}: Rate,
	{"dose", "plan_sets_share"}:                  Rate,
	{"dose", "returned_low_third@"}:              Rate,
	{"dose", "returned_middle_third@"}:           Rate,
	{"dose", "returned_high_third@"}:             Rate,
	{"dose", "thirds_contrast_raw@"}:             Rate,
	{"dose", "thirds_contrast_standardised@"}:    Rate,

	{"dose", "returned_none@"}:                        Rate,
	{"dose", "returned_some@"}:                        Rate,
	{"dose", "any_contrast_raw@"}:                     Rate,
	{"dose", "any_contrast_standardised@"}:            Rate,
	{"dose", "quartiles_contrast_raw@"}:               Rate,
	{"dose", "quartiles_contrast_standardised@"}:      Rate,
	{"dose", "quartiles_contrast_beside@"}:            Rate,
	{"dose", "quartiles_contrast_weighted@"}:          Rate,
	{"dose", "quartiles_standardised_less_weighted@"}: Rate,
	{"dose", "weights_effective_share"}:               Rate,
	{"dose", "weights_imbalance_before"}:              Rate,
	{"dose", "weights_imbalance_after"}:               Rate,
	{"dose", "quartiles_contrast_shrunken@"}:          Rate,
	{"dose", "quartiles_contrast_pooled"}:             Rate,
	{"dose", "e_value@"}:                              Rate,
	{"dose", "e_value_limit@"}:                        Rate,
	{"dose", "e_value_known@"}:                        Rate,
	{"dose", "relation_p"}:                            Rate,
	{"dose", "curvature_p"}:                           Rate,
	{"dose", "dose_curve@"}:                           CurvePoint,
	{"dose", "dose_curve_raw@"}:                       CurvePoint,
	{"dose", "quartiles_index@"}:                      Rate,
	{"dose", "quartiles_girth@"}:                      Rate,
	{"dose", "quartiles_pain@"}:                       Rate,
	{"dose", "quartiles_index_emax@"}:                 Rate,
	{"dose", "aic_index_spline@"}:                     Rate,
	{"dose", "aic_index_emax@"}:                       Rate,
	{"dose", "sets_filled_in_share"}:                  Rate,
	{"dose", "first_quartile_dose"}:                   Rate,
	{"dose", "third_quartile_dose"}:                   Rate,
	{"dose", "pressure_estimated_share"}:              Rate,
	{"dose", "body_weight_share"}:                     Rate,

	{"scores", "typical@"}:   Rate,
	{"scores", "change@"}:    Rate,
	{"scores", "at_best@"}:   Rate,
	{"scores", "improved@"}:  Rate,
	{"scores", "worse@"}:     Rate,
	{"scores", "important@"}: Rate,

	{"progression", "step_up"}:                 Rate,
	{"progression", "step_back"}:               Rate,
	{"progression", "level_up"}:                Rate,
	{"progression", "level_down"}:              Rate,
	{"progression", "range_up"}:                Rate,
	{"progression", "range_down"}:              Rate,
	{"progression", "load_up"}:                 Rate,
	{"progression", "load_down"}:               Rate,
	{"progression", "reps_up"}:                 Rate,
	{"progression", "reps_down"}:               Rate,
	{"progression", "pressure_up"}:             Rate,
	{"progression", "pressure_down"}:           Rate,
	{"progression", "back_after_pain"}:         Rate,
	{"progression", "back_otherwise"}:          Rate,
	{"progression", "stalled"}:                 Rate,
	{"progression", "first_step_median_weeks"}: Rate,
	{"progression", "first_step@"}:             Rate,

	{"plan", "sessions_share"}: Rate,
	{"plan", "sets_share"}:     Rate,
	{"plan", "pressure_share"}: Rate,
	{"plan", "minutes_share"}:  Rate,

	{"tolerance", "ended_early"}: Rate,
	{"tolerance", "settled"}:     Rate,

	{"data", "began"}:    PersonsInTotal,
	{"data", "used"}:     PersonsByOutcome,
	{"data", "not_used"}: PersonsByOutcome,

	{"data", "one_more.*"}: RoundedCount,

	{"safety", "rate_all"}:        Rate,
	{"safety", "rate_all_midp"}:   Rate,
	{"safety", "rate_asked"}:      Rate,
	{"safety", "rate_asked_midp"}: Rate,
	{"safety", "asked_share"}:     Rate,

	{"safety", "events"}:                        EventCount,
	{"safety", "events_suspected"}:              EventCount,
	{"safety", "events_confirmed"}:              EventCount,
	{"safety", "events_certainty_not_recorded"}: EventCount,
	{"safety", "sessions_attended"}:             EventCount,
	{"safety", "sessions_asked"}:                EventCount,
	{"safety", "seriousness_not_recorded"}:      EventCount,
	{"safety", "not_linked"}:                    EventCount,
	{"safety", "potential_events"}:              EventCount,
	{"safety", "ruled_out_events"}:              EventCount,

	{"safety", "serious_events"}:        AlwaysCounted,
	{"safety", "open_clocks"}:           AlwaysCounted,
	{"safety", "clocks_not_computable"}: AlwaysCounted,

	{"safety", "onset_to_aware_median_days"}:    Rate,
	{"safety", "aware_to_reported_median_days"}: Rate,
}

// KindOf returns the kind of a statistic, Unknown where the table has none.
// With positioned, the figure is one of several along weeks.
func KindOf(question, statistic string, positioned bool) Kind {
	for _, name := range TableNames(statistic, positioned) {
		if k, ok := kinds[Statistic{question, name}]; ok {
			return k
		}
	}
	return Unknown
}

// TableNames are the names under which a table of statistics can hold a
// figure's statistic, the most exact first.
func TableNames(statistic string, positioned bool) []string {
	names := []string{statistic}
	if stem, _, found := strings.Cut(statistic, "."); found {
		names = append(names, stem+".*")
	}
	if stem := strings.TrimRight(statistic, "0123456789"); stem != statistic {
		names = append(names, stem+"N")
	}
	if positioned {
		for i := range names {
			names[i] += "@"
		}
	}
	return names
}

// Statistics returns every statistic that the gate knows, by question and name.
func Statistics() []Statistic {
	return slices.SortedFunc(maps.Keys(kinds), func(a, b Statistic) int {
		return cmp.Or(cmp.Compare(a.Question, b.Question), cmp.Compare(a.Name, b.Name))
	})
}
