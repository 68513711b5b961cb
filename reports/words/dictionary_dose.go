package words

var doseEntries = []Entry{
	{
		"dose", "began", "Began care", "episodes",
		"Episodes of care that started in the period.", asCount,
	},
	{
		"dose", "left_out", "Left out of the comparison", "episodes",
		"Episodes that had returned, ended or were watched no more before the landmark, could not begin, or whose dose is not known. Why, is counted for the whole practice.", asCount,
	},
	{"dose", "left_out.returned", "Left out: back already", "episodes", "Back at the target before the landmark.", asCount},
	{"dose", "left_out.at_target", "Left out: at their target from the start", "episodes", "At the target stage or above when care began.", asCount},
	{"dose", "left_out.ended_otherwise", "Left out: ended otherwise", "episodes", "Ended before the landmark in a way after which no return can come.", asCount},
	{"dose", "left_out.lost", "Left out: lost from view", "episodes", "Contact was lost before the landmark.", asCount},
	{"dose", "left_out.left_otherwise", "Left out: left otherwise", "episodes", "Transferred, referred on or ended for another reason before the landmark.", asCount},
	{"dose", "left_out.in_care", "Left out: landmark not come yet", "episodes", "Still in care; the data do not reach the landmark.", asCount},
	{"dose", "left_out.no_usable", "Left out: nothing usable on record", "episodes", "Episodes that could not be followed.", asCount},
	{"dose", "left_out.dose_unknown", "Left out: dose not known", "episodes", "Followed at the landmark, but too much of the work before it is not on record.", asCount},
	{"dose", "left_out.*", "Left out, by reason", "episodes", "Episodes left out of the comparison, by reason.", asCount},
	{
		"dose", "analysed", "Followed from the landmark", "episodes",
		"Episodes still without a return and still watched at the landmark, with the work before it on record.", asCount,
	},
	{"dose", "no_cuff_work", "No work with the cuff", "episodes", "No set with the cuff inflated before the landmark.", asCount},
	{"dose", "some_cuff_work", "Some work with the cuff", "episodes", "One set or more with the cuff inflated before the landmark.", asCount},
	{"dose", "sets_per_week_lower_quartile", "Sets a week, lower quartile", "sets a week", "A quarter of those with some work did no more sets with the cuff inflated than this.", asMeasured},
	{"dose", "sets_per_week_median", "Sets a week, median", "sets a week", "Half of those with some work did no more sets with the cuff inflated than this.", asMeasured},
	{"dose", "sets_per_week_upper_quartile", "Sets a week, upper quartile", "sets a week", "Three quarters of those with some work did no more sets with the cuff inflated than this.", asMeasured},
	{"dose", "pressure_minutes_lower_quartile", "Pressure-minutes a week, lower quartile", "pressure-minutes a week", "A quarter did no more than this. Pressure-minutes: minutes inflated times the share of the full occlusion pressure.", asMeasured},
	{"dose", "pressure_minutes_median", "Pressure-minutes a week, median", "pressure-minutes a week", "Half did no more than this. Pressure-minutes: minutes inflated times the share of the full occlusion pressure.", asMeasured},
	{"dose", "pressure_minutes_upper_quartile", "Pressure-minutes a week, upper quartile", "pressure-minutes a week", "Three quarters did no more than this. Pressure-minutes: minutes inflated times the share of the full occlusion pressure.", asMeasured},
	{"dose", "sessions_per_week_lower_quartile", "Sessions a week, lower quartile", "sessions a week", "A quarter of those with some work attended no more sessions than this.", asMeasured},
	{"dose", "sessions_per_week_median", "Sessions a week, median", "sessions a week", "Half of those with some work attended no more sessions than this.", asMeasured},
	{"dose", "sessions_per_week_upper_quartile", "Sessions a week, upper quartile", "sessions a week", "Three quarters of those with some work attended no more sessions than this.", asMeasured},
	{
		"dose", "plan_sets_share", "Done of what was intended", "share",
		"Sets done with the cuff inflated over those that the plans on record intended for the window.", asPercent,
	},
	{
		"dose", "returned_low_third@", "Back, lower third of dose", "share",
		"Of those with some work whose sets a week lie in the lower third: the share back by the end of the week, counted from the landmark.", asPercent,
	},
	{"dose", "returned_middle_third@", "Back, middle third of dose", "share", "The same in the middle third.", asPercent},
	{"dose", "returned_high_third@", "Back, upper third of dose", "share", "The same in the upper third.", asPercent},
	{
		"dose", "thirds_contrast_raw@", "Upper less lower third, raw", "percentage points",
		"The share back in the upper third less that in the lower. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "thirds_contrast_standardised@", "Upper less lower third, standardised over severity", "percentage points",
		"The same contrast within mild, moderate and severe injuries, averaged over all compared. " + LandmarkSentence, asPoints,
	},
}
