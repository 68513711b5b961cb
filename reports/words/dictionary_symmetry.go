package words

var symmetryEntries = []Entry{
	{
		"symmetry", "began", "Began care", "episodes",
		"Episodes of care that started in the period, measured or not. Counted for the whole practice, once for strength and once for girth.", asCount,
	},
	{
		"symmetry", "pairs", "Both sides measured", "episodes",
		"Episodes with one side involved in which both sides were measured within a week of each other at least once.", asCount,
	},
	{
		"symmetry", "no_pair", "Not measured on both sides", "episodes",
		"Episodes with one side involved in which the two sides cannot be compared.", asCount,
	},
	{
		"symmetry", "bilateral", "Both sides involved", "episodes",
		"Episodes with both sides involved. No side can serve as the measure of the other, so they are in no index; their change from baseline counts.", asCount,
	},
	{
		"symmetry", "worse_side_percent@", "Both sides involved: worse side", "% of its baseline",
		"Where both sides are involved: strength of the worse side near the week in percent of the same side at baseline (geometric mean of those measured, over all measures of strength).", asMeasured,
	},
	{
		"symmetry", "other_side_percent@", "Both sides involved: other side", "% of its baseline",
		"The same of the other side.", asMeasured,
	},
	{
		"symmetry", "worse_side_change@", "Both sides involved: worse side", "cm",
		"Where both sides are involved: girth of the worse side near the week less the same side at baseline (mean of those measured, over all measures of girth).", asMeasured,
	},
	{
		"symmetry", "other_side_change@", "Both sides involved: other side", "cm",
		"The same of the other side.", asMeasured,
	},
	{
		"symmetry", "typical_index@", "Typical index", "%",
		"The involved side in percent of the other: the geometric mean that a model gives for the week, had everybody stayed in measurement, over the practice's own mix of sites and severity. 100 % says that the sides are equal.", asMeasured,
	},
	{
		"symmetry", "index_curve@", "Curve: typical index", "%",
		"The same typical index at every second week in which enough people were measured.", asMeasured,
	},
	{
		"symmetry", "girth_difference@", "Difference of girth", "cm",
		"Girth of the involved side less that of the other: the mean that a model gives for the week, had everybody stayed in measurement. Below zero the involved side is the thinner one.", asMeasured,
	},
	{
		"symmetry", "girth_percent@", "Difference of girth in percent", "% of the other side",
		"The same difference in percent of the other side's girth.", asMeasured,
	},
	{
		"symmetry", "girth_curve@", "Curve: difference of girth", "cm",
		"The same difference at every second week in which enough people were measured.", asMeasured,
	},
	{
		"symmetry", "involved_curve@", "Curve: involved side", "unit of the measure",
		"The typical value of the involved side itself, by the same kind of model.", asMeasured,
	},
	{
		"symmetry", "uninvolved_curve@", "Curve: other side", "unit of the measure",
		"The typical value of the other side itself. Where it falls, the index flatters.", asMeasured,
	},
	{
		"symmetry", "baseline_difference@", "Typical difference", "% of the other side's baseline",
		"Of hops, raises and other counts that can be zero: how far the involved side is behind the other (below zero) or ahead, in percent of what the other side did at baseline. The mean that a model gives for the week, had everybody stayed in measurement. Zeros are in it.", asMeasured,
	},
	{
		"symmetry", "difference_curve@", "Curve: typical difference", "% of the other side's baseline",
		"The same difference at every second week in which enough people were measured.", asMeasured,
	},
	{
		"symmetry", "at_zero@", "Nothing possible on the involved side", "share",
		"Of those measured near the week, the share whose involved side did no hop or no raise at all.", asPercent,
	},
	{
		"symmetry", "spread_low@", "One in ten lies at or below", "index or difference",
		"The 10th percentile of those measured near the week, rounded. It is about whoever was still measured, without a model.", asMeasured,
	},
	{
		"symmetry", "spread_middle@", "Half lie at or below", "index or difference",
		"The 50th percentile (median) of those measured near the week, rounded.", asMeasured,
	},
	{
		"symmetry", "spread_high@", "One in ten lies at or above", "index or difference",
		"The 90th percentile of those measured near the week, rounded.", asMeasured,
	},
	{
		"symmetry", "baseline_index@", "Typical index against the baseline", "%",
		"The involved side now in percent of the other side at baseline. It stays below the plain index where the other side has weakened meanwhile.", asMeasured,
	},
	{
		"symmetry", "plain_mean@", "Plain mean of those measured", "index or difference",
		"The mean of those who were measured near the week, without a model; of an index the geometric mean. It is about whoever was still measured.", asMeasured,
	},
	{
		"symmetry", "measured@", "Measured", "people",
		"People with both sides measured within the weeks around the one named.", asCount,
	},
	{
		"symmetry", "returned_already@", "Back at their target already", "people",
		"Of the injury type, people with one side involved whose return was recorded by the end of the week. Many of them are measured no more.", asCount,
	},
	{
		"symmetry", "reached_N@", "Came to N % and held it", "share",
		"The share whose index had come to N % and held at the next visit. When it came is known only between two visits; a last visit counts, provisionally.", asPercent,
	},
	{
		"symmetry", "change_known", "Change known", "episodes",
		"Episodes measured at baseline and near the week of the comparison, with a known error of measuring.", asCount,
	},
	{
		"symmetry", "improved", "Improved", "episodes",
		"The involved side changed for the better by more than the error of measuring twice (95 %).", asCount,
	},
	{
		"symmetry", "no_real_change", "No change beyond measuring error", "episodes",
		"The change is within what measuring twice gives by itself.", asCount,
	},
	{
		"symmetry", "worse", "Worse", "episodes",
		"The involved side changed for the worse by more than the error of measuring twice (95 %).", asCount,
	},
	{
		"symmetry", "last_visit_weeks", "Half of the last visits were by", "weeks",
		"The median week of the last visit at which the involved side was measured, of those whose change up to it is judged.", asWeeks,
	},
	{
		"symmetry", "change_known_last", "Change known, to the last visit", "episodes",
		"Episodes measured at baseline and later at least once, with a known error of measuring; each by its last visit.", asCount,
	},
	{
		"symmetry", "improved_last", "Improved, to the last visit", "episodes",
		"From baseline to the last visit the involved side changed for the better by more than the error of measuring twice (95 %).", asCount,
	},
	{
		"symmetry", "no_real_change_last", "No change beyond measuring error, to the last visit", "episodes",
		"The change from baseline to the last visit is within what measuring twice gives by itself.", asCount,
	},
	{
		"symmetry", "worse_last", "Worse, to the last visit", "episodes",
		"From baseline to the last visit the involved side changed for the worse by more than the error of measuring twice (95 %).", asCount,
	},
	{
		"symmetry", "change_compared", "Compared with the important change", "episodes",
		"Episodes measured at baseline and near the week of the comparison, of a measure for which a minimal important change is known.", asCount,
	},
	{
		"symmetry", "important_better", "Importantly better", "episodes",
		"The involved side changed for the better by the minimal important change or more. Whether that is beyond the error of measuring is a question of its own.", asCount,
	},
	{
		"symmetry", "not_important", "Changed by less", "episodes",
		"The change is smaller than the minimal important change, in either direction.", asCount,
	},
	{
		"symmetry", "important_worse", "Importantly worse", "episodes",
		"The involved side changed for the worse by the minimal important change or more.", asCount,
	},
	{
		"symmetry", "change_compared_last", "Compared with the important change, to the last visit", "episodes",
		"The same of the change from baseline to the last visit.", asCount,
	},
	{
		"symmetry", "important_better_last", "Importantly better, to the last visit", "episodes",
		"The same of the change from baseline to the last visit.", asCount,
	},
	{
		"symmetry", "not_important_last", "Changed by less, to the last visit", "episodes",
		"The same of the change from baseline to the last visit.", asCount,
	},
	{
		"symmetry", "important_worse_last", "Importantly worse, to the last visit", "episodes",
		"The same of the change from baseline to the last visit.", asCount,
	},
	{
		"symmetry", "judged_N", "Judged at N %", "episodes",
		"Episodes with an index near the week of the comparison and a known error of measuring.", asCount,
	},
	{
		"symmetry", "clear_of_N", "At or above N % beyond error", "episodes",
		"The index lies at N % or above by more than its own error (95 %).", asCount,
	},
	{
		"symmetry", "undecided_N", "Undecided at N %", "episodes",
		"The index lies within its own error of N %: measuring cannot say on which side of it the person is.", asCount,
	},
	{
		"symmetry", "below_N", "Below N % beyond error", "episodes",
		"The index lies below N % by more than its own error (95 %).", asCount,
	},
	{
		"symmetry", "error_at_N", "Usual error of an index at N %", "points",
		"Half the 95 % interval of one index, in its points: the median over the episodes judged. It follows from the error of the measure on either side.", asMeasured,
	},
}
