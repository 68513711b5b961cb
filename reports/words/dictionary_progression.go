package words

// ladderSentence says what a step is, beside the figures that count steps.
const ladderSentence = "A visit is one exercise in one session, set against the last earlier visit of the same exercise that records the same."

var progressionEntries = []Entry{
	{"progression", "step_up", "Step up", "share", "Visits with a step up: a higher level of the exercise's ladder; at the same level a larger range; at the same range more load. " + ladderSentence, asPercent},
	{"progression", "step_back", "Step back", "share", "Visits with a lower level; at the same level a smaller range; at the same range less load. " + ladderSentence, asPercent},
	{"progression", "level_up", "Level higher", "share", "Visits at a higher level of the exercise's ladder. " + ladderSentence, asPercent},
	{"progression", "level_down", "Level lower", "share", "Visits at a lower level.", asPercent},
	{"progression", "range_up", "Range larger", "share", "Visits with a larger range of movement: the full range after a part of it, beyond it after the full one.", asPercent},
	{"progression", "range_down", "Range smaller", "share", "Visits with a smaller range of movement.", asPercent},
	{"progression", "load_up", "Load higher", "share", "Visits with more external load, by the percent of the settings or more.", asPercent},
	{"progression", "load_down", "Load lower", "share", "Visits with less external load, by as much.", asPercent},
	{"progression", "reps_up", "More repetitions", "share", "Visits with more repetitions, all sets together, by the percent of the settings or more.", asPercent},
	{"progression", "reps_down", "Fewer repetitions", "share", "Visits with fewer repetitions, by as much.", asPercent},
	{"progression", "pressure_up", "Pressure higher", "share", "Visits with the cuff at a higher share of the full occlusion pressure, by the points of the settings or more.", asPercent},
	{"progression", "pressure_down", "Pressure lower", "share", "Visits at a lower share of it, by as much.", asPercent},
	{"progression", "back_after_pain", "Step back soon after pain", "share", "Of the visits within the days of the settings after a painful session: those with a step back. Painful: pain after the session or on the next day as high as the settings say, or a bout ended for pain.", asPercent},
	{"progression", "back_otherwise", "Step back otherwise", "share", "Of all other visits: those with a step back.", asPercent},
	{"progression", "stalled", "Stalled", "share", "Of the exercises begun below the top of their ladder and kept up for the days of the settings: those that stood at one level and load on visits that many days apart.", asPercent},
	{"progression", "first_step_median_weeks", "Half have taken a first step up by", "weeks", "The week of care by which half of all with an exercise on record had taken a step up in one of them. Whoever took none is watched to the last visit.", asWeeks},
	{"progression", "first_step@", "With a first step up", "share", "The share that had taken a step up by the end of the week.", asPercent},
}

var planEntries = []Entry{
	{"plan", "sessions_share", "Sessions attended of those planned", "share", "Sessions attended before the landmark over those that the plans on record intended for these weeks, of people followed from the landmark on.", asPercent},
	{"plan", "sets_share", "Sets of those planned, session by session", "share", "Sets with the cuff done over those that plans intended for as many sessions as were attended. Above 100 %: more sets than planned.", asPercent},
	{"plan", "pressure_share", "Pressure of that planned", "share", "Pressure applied over the pressure that the plan intended for the exercise, bout by bout, both as shares of the full occlusion pressure.", asPercent},
	{"plan", "minutes_share", "Minutes inflated of those the planned work takes", "share", "Minutes inflated over the time that the planned sets and repetitions take at the tempo and with the rests on record. Plans state no minutes; rests count where the cuff stays inflated.", asPercent},
}

var toleranceEntries = []Entry{
	{"tolerance", "ended_early", "Ended early, per 1,000 bouts", "per 1,000 bouts", "Bouts of the involved side that were ended for pain or a symptom, per 1,000 whose end is on record. Limits allow for bouts of one person being alike; where none was ended so, the rate that still goes with the data is stated.", asRate},
	{"tolerance", "settled", "Pain settled by the next visit", "share", "Of the visits after which pain was higher than before the session: those whose next session began with no more pain than that. A session's pain belongs to all of its exercises.", asPercent},
}
