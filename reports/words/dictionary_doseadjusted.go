package words

// alike is how a comparison over what was known at the start is told.
const alike = "had those compared been alike in age, sex, severity, time since the onset, activity, target, pain and quarter of the start"

var adjustedDoseEntries = []Entry{
	{
		"dose", "returned_none@", "Back, no work with the cuff", "share",
		"Of those without a set with the cuff inflated before the landmark: the share back by the end of the week, counted from the landmark.", asPercent,
	},
	{"dose", "returned_some@", "Back, some work with the cuff", "share", "The same of those with one set or more.", asPercent},
	{
		"dose", "any_contrast_raw@", "Some less no work with the cuff, raw", "percentage points",
		"The share back of those with some work less that of those with none. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "any_contrast_standardised@", "Some less no work with the cuff, standardised", "percentage points",
		"The same difference " + alike + ", averaged over all of them. " + LandmarkSentence, asPoints,
	},
	{"dose", "first_quartile_dose", "First quartile of the doses compared", "sets a week", "A quarter of those compared did no more sets with the cuff inflated than this.", asMeasured},
	{"dose", "third_quartile_dose", "Third quartile of the doses compared", "sets a week", "Three quarters of those compared did no more sets with the cuff inflated than this.", asMeasured},
	{
		"dose", "quartiles_contrast_raw@", "Third less first quartile of dose, raw", "percentage points",
		"Among those with some work: the share back at the sets a week that three quarters did not exceed, less that at the sets a week that one quarter did not exceed, both read off a curve of dose. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_contrast_standardised@", "Third less first quartile of dose, standardised", "percentage points",
		"The same difference " + alike + ", averaged over all of them. Of the interval over people and the one over clinicians the wider is shown. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_contrast_beside@", "The same, with the narrower interval", "percentage points",
		"The standardised difference with the other of its two intervals: over people, or over the clinicians who gave most of the sessions. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_contrast_weighted@", "Third less first quartile of dose, weighted", "percentage points",
		"The same difference among people weighted so that dose no longer goes with what was known at the start; the weights are not cut off. Withheld where they leave too few people in effect, or too much imbalance. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_standardised_less_weighted@", "Standardised less weighted", "percentage points",
		"How far the two ways of comparing lie apart. They disagree where the interval leaves out 0. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_contrast_shrunken@", "Third less first quartile of dose, leaning on the other types", "percentage points",
		"The standardised difference moved towards the mean of all injury types, the more so the less its own people say. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "quartiles_contrast_pooled", "Third less first quartile of dose, mean of the injury types", "percentage points",
		"The mean of the injury types' standardised differences, each at its own quartiles of dose and by its own week, allowing that they truly differ. " + LandmarkSentence, asPoints,
	},
	{
		"dose", "weights_effective_share", "People that the weights leave in effect", "share",
		"Weighting makes some people count much and others little; as many people of equal weight would say as much as this share of those compared.", asPercent,
	},
	{
		"dose", "weights_imbalance_before", "Largest imbalance before weighting", "correlation",
		"The largest correlation of something known at the start with dose, from 0 (none) to 1.", asMeasured,
	},
	{"dose", "weights_imbalance_after", "Largest imbalance after weighting", "correlation", "The same among the weighted people.", asMeasured},
	{
		"dose", "e_value@", "Strength of something unknown that would explain the difference", "times",
		"Something not on record would have to go with both a higher dose and a return by this ratio of shares, beyond all that was standardised over, to make the whole difference between the quartiles of dose by itself (e-value). 1: nothing is needed.", asMeasured,
	},
	{"dose", "e_value_limit@", "The same, for the nearer end of the range", "times", "The strength that would move the nearer limit of the difference to none. 1: the range holds no difference already.", asMeasured},
	{
		"dose", "e_value_known@", "What the strongest of the known things could do", "times",
		"The same measure for the one thing known at the start that could distort most, as a yardstick: something unknown would have to be stronger than that. Its name stands in the method.", asMeasured,
	},
	{"dose", "dose_curve@", "Curve: share back by dose, standardised", "percentage points", "The share back at these sets a week less that at the reference dose, " + alike + ". " + LandmarkSentence, asPoints},
	{"dose", "dose_curve_raw@", "Curve: share back by dose, raw", "percentage points", "The same without regard to how people differed at the start. " + LandmarkSentence, asPoints},
	{"dose", "relation_p", "Test of any relation of dose and return", "p", "How often a curve as far from level would come by chance if dose and return were not related.", asMeasured},
	{"dose", "curvature_p", "Test of a bend in the curve", "p", "How often a curve as far from a straight line would come by chance if it were one.", asMeasured},
	{
		"dose", "quartiles_index@", "Index, third less first quartile of dose", "index points",
		"The index of the sides (involved in % of the other) near the week, at the third quartile of dose less that at the first, " + alike + " and in the index at baseline; of those measured then. " + LandmarkSentence, asMeasured,
	},
	{
		"dose", "quartiles_girth@", "Girth difference, third less first quartile of dose", "cm",
		"The same for the girth of the involved side less that of the other: above 0, the involved side is nearer to the other, or past it. " + LandmarkSentence, asMeasured,
	},
	{
		"dose", "quartiles_pain@", "Pain, third less first quartile of dose", "points of 10",
		"The same for pain from 0 to 10: below 0, there is less of it at the higher dose. " + LandmarkSentence, asMeasured,
	},
	{
		"dose", "quartiles_index_emax@", "The same for the index, on a curve that levels off", "index points",
		"The difference of the index on an Emax curve: one that rises or falls with dose and levels off. " + LandmarkSentence, asMeasured,
	},
	{"dose", "aic_index_spline@", "Fit of the smooth curve of the index (AIC)", "AIC", "The lower of two, the closer the curve for its number of parts. Nothing is chosen by it.", asMeasured},
	{"dose", "aic_index_emax@", "Fit of the curve that levels off (AIC)", "AIC", "The same for the Emax curve.", asMeasured},
	{"dose", "sets_filled_in_share", "Bouts whose sets were filled in", "share", "Of the bouts with the cuff before the landmark, the share without sets on record; the dose was scaled up from the others.", asPercent},
	{"dose", "pressure_estimated_share", "Bouts with an estimated pressure", "share", "Of the bouts with the cuff before the landmark whose way of finding the full occlusion pressure is on record, the share in which it was estimated, not measured.", asPercent},
	{"dose", "body_weight_share", "Bouts against body weight", "share", "Of the bouts with the cuff before the landmark whose kind of load is on record, the share done against body weight, with or without more.", asPercent},
}
