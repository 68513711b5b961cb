package words

var safetyEntries = []Entry{
	{
		"safety", "rate_all", "Events per 1,000 attended sessions", "per 1,000 sessions",
		"All events that happened and were not ruled out, related to the work or not, against all sessions attended in the period. Exact limits, wider where events come in the same persons. Events that nobody asked about may be missing from it.", asRate,
	},
	{
		"safety", "rate_all_midp", "The same, mid-P limits", "per 1,000 sessions",
		"The same rate with limits that are closer on average and at times a little too narrow.", asRate,
	},
	{
		"safety", "rate_asked", "Events per 1,000 sessions with symptoms asked", "per 1,000 sessions",
		"Events linked to a session in which symptoms were asked about, against such sessions alone. Not to be mixed with the rate of all sessions: both its events and its sessions are others.", asRate,
	},
	{
		"safety", "rate_asked_midp", "The same, mid-P limits", "per 1,000 sessions",
		"The same rate with limits that are closer on average and at times a little too narrow.", asRate,
	},
	{
		"safety", "events", "Events", "events",
		"Events that happened and were not ruled out, with an onset in the period: those in the rate of all sessions.", asCount,
	},
	{"safety", "events_confirmed", "of these, confirmed", "events", "Events on record as confirmed.", asCount},
	{"safety", "events_suspected", "of these, suspected", "events", "Events on record as suspected.", asCount},
	{"safety", "events_certainty_not_recorded", "of these, certainty not recorded", "events", "Events with neither on record. They count.", asCount},
	{
		"safety", "sessions_attended", "Sessions attended", "sessions",
		"Attended sessions of the period, up to the last day that the site's data reach to.", asCount,
	},
	{"safety", "sessions_asked", "of these, symptoms asked", "sessions", "Attended sessions in which it is on record that symptoms were asked about.", asCount},
	{
		"safety", "asked_share", "Share with symptoms asked", "share",
		"The share of attended sessions in which symptoms were asked about. Where it is low, a low rate says little.", asPercent,
	},
	{
		"safety", "serious_events", "Serious events", "events",
		"Events on record as serious, with an onset in the period. Always counted, whatever their number.", asCount,
	},
	{
		"safety", "seriousness_not_recorded", "Seriousness not recorded", "events",
		"Events of which nobody recorded whether they were serious. Their clocks run as if they were.", asCount,
	},
	{
		"safety", "open_clocks", "Not yet reported", "events",
		"Events that were serious, or of which nobody recorded it, known and not reported by the month's end, however old. Always counted.", asCount,
	},
	{
		"safety", "clocks_not_computable", "Time to report cannot be computed", "events",
		"Of such events, those reported whose dates are missing or stand in an order that cannot be. Always counted.", asCount,
	},
	{
		"safety", "not_linked", "Not linked to a session", "events",
		"Events that name no attended session of their episode. They are in the rate of all sessions alone.", asCount,
	},
	{
		"safety", "potential_events", "Could have happened", "events",
		"Events that could have happened and did not. They are in no rate.", asCount,
	},
	{"safety", "ruled_out_events", "Ruled out", "events", "Events that turned out not to be one. They are in no rate.", asCount},
	{
		"safety", "onset_to_aware_median_days", "Usual days from onset to known", "days",
		"The median number of days from onset, where it is known to the day, until the practice knew.", asDays,
	},
	{
		"safety", "aware_to_reported_median_days", "Usual days from known to reported", "days",
		"The median number of days until an event was reported, of those reported by the month's end.", asDays,
	},
}
