package words

// groupEntries are the figures of groups and sites within the practice.
var groupEntries = []Entry{
	{
		"groups", "share_difference_raw@", "Difference of the share back, raw", "share",
		"The share back in the group named less that in the one it is compared with (at a site: in all others), as they came.", asPoints,
	},
	{
		"groups", "share_difference_standardised@", "Difference of the share back, standardised", "share",
		"The same as if both had the mix of injury types, severities, sexes, ages and sites of all who are compared.", asPoints,
	},
	{
		"groups", "mean_difference_raw@", "Difference of the mean weeks not yet back, raw", "weeks",
		"Mean weeks not yet back in the group named less those in the one it is compared with.", asWeeks,
	},
	{
		"groups", "mean_difference_standardised@", "Difference of the mean weeks not yet back, standardised", "weeks",
		"The same as if both had the same mix.", asWeeks,
	},
	{
		"groups", "hazard_ratio", "Hazard ratio", "ratio",
		"How many times as often, day by day, those not yet back return in the group named as in the other, at equal injury type, severity, sex, age and site. A description beside the differences.", asRatio,
	},
	{
		"groups", "observed_over_expected", "Returns over those expected", "ratio",
		"Returns on record at the site over those that a model of the other sites lets one expect of its people, with exact limits. 1: as many as expected.", asRatio,
	},
	{
		"groups", "funnel_limits", "Limits of chance and usual spread", "ratio",
		"From 10 sites on: the range (99.8 %) in which a site's ratio lies by chance and the usual spread between sites.", asRatio,
	},
}
