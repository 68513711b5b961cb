package words

// stageEntries are the figures of the stages on the way back.
var stageEntries = []Entry{
	{
		"return", "stage.*@", "On the stage", "share",
		"Of all who were below their target when care began, the share that stands on the stage at the end of the week, neither back at the target nor ended otherwise. \"No stage of this ladder\": judged by another ladder (such as that of work) than most of the injury type, or no stage on record yet. With the share back and the share ended otherwise the stages sum to all.", asPercent,
	},
	{
		"return", "moved_on.*@", "Moved on from the stage", "share",
		"Of those who reached the stage while their target lay higher, the share on a higher stage by so many weeks after reaching it. Whoever reached it on a known day before care comes under watch late.", asPercent,
	},
	{
		"return", "next_weeks.*", "Half have moved on from the stage after", "weeks",
		"The weeks after reaching the stage by which half of them are on a higher one.", asWeeks,
	},
	{
		"return", "moved_on_from_start.*@", "Moved on from the stage, stood on when care began", "share",
		"The same for those who stood on the stage when care began, counted from then: since when they stood on it is not known.", asPercent,
	},
	{
		"return", "next_weeks_from_start.*", "Half have moved on from the stage, stood on when care began, after", "weeks",
		"The weeks since care began by which half of them are on a higher stage.", asWeeks,
	},
	{
		"return", "fell_back.*@", "Fell back from the stage", "share",
		"Of those who reached the stage, their target among them, the share that lost it again by so many weeks after reaching it, before moving on.", asPercent,
	},
}

// besideEntries are the figures beside the curve of recorded returns.
var besideEntries = []Entry{
	{
		"return", "share_between_contacts@", "If a return lies between two contacts", "share",
		"The share back when all that counts is between which days a return came: after the last day known without it, and by the day of its record (Turnbull). No smooth course is assumed; it has no range.", asPercent,
	},
	{
		"return", "share_weibull@", "If a return lies between two contacts, along a smooth course", "share",
		"The same with a smooth course that all follow in the end (Weibull), and its range. Where it lies far from the share as reported the course is not of that shape.", asPercent,
	},
	{
		"return", "since_injury@", "Share back since the injury", "share",
		"The share back by so many weeks after the operation before care, else after the onset. People come under watch when care begins, so those who were back before then are not among them. Told from the first week at which enough people are under watch.", asPercent,
	},
	{
		"return", "since_injury_at_risk@", "Number under watch since the injury", "episodes",
		"Episodes under watch and not yet back so many weeks after the injury, rounded to the nearest 5.", asCount,
	},
	{
		"return", "since_injury_median_weeks", "Half are back since the injury by", "weeks",
		"The week after the injury, or the operation before care, by which half have returned.", asWeeks,
	},
}

// recurrenceEntries are the figures of what came after a return.
var recurrenceEntries = []Entry{
	{
		"recurrence", "share@", "In care again", "share",
		"Of those who returned, the share that began care again for the same injury on the same side within so many days of the return, watched to the last day that the site's data reach to (Kaplan-Meier). Returns at senders that give persons no id are left out, as nobody can tell whose later care it is.", asPercent,
	},
	{
		"recurrence", "person_known", "Returns of people who are told apart by an id", "share",
		"The share of all returns for which it can be known whether the same person came again.", asPercent,
	},
}
