package words

var scoreMethods = []Method{
	{
		"How pain and scores are told",
		"Each measure stands on its own scale, and versions of a score are measures of their own. Of each episode one answer stands for the start of care, and one, the nearest, for each week stated; an answer with more items missing than its score allows is left out. The typical value comes from a model of these answers in which people differ in level (linear mixed model), so that whoever stopped answering counts by what was answered before. It says what would be seen had everybody gone on answering, if that depends on nothing but the answers given.",
	},
	{
		"What a change of pain or a score means",
		"Answering twice gives two numbers even when nothing changed: a change is real when it is larger than 95 % of such differences, and important when it is as large as the smallest change that people say counts. Both come from the code tables, with their sources; where one is not known, nothing is said. A person can pass the important change by chance alone where it is the smaller of the two. Where many stand at the best end of a scale, it can no longer tell people apart.",
	},
}

var progressionMethods = []Method{
	{
		"How steps up and back are counted",
		ladderSentence + " In a session with several bouts of an exercise the hardest counts, and all repetitions together. A step is the move of the level; where that stayed, of the range; else of the load. Repetitions and pressure are told apart: they move up and down from visit to visit. Intervals allow for visits of one person being alike.",
	},
	{
		"What a stall and a step back after pain are",
		"An exercise stalls when it stands at one level and load, below the top of its ladder, on visits as many days apart as the settings say. Steps back soon after a painful session are set beside those at other times; whether pain was the reason is not on record.",
	},
}

var planMethods = []Method{
	{
		"How what was done is set against the plan",
		"Of people followed from the landmark on, the weeks before it: sessions attended against those that the plan in force intended; sets with the cuff in as many sessions; the pressure of each bout against the one intended for its exercise. Plans state no minutes: minutes inflated are set against the time that the planned sets and repetitions take at the tempo and with the rests on record. More or less than planned is neither good nor bad by itself.",
	},
}

var toleranceMethods = []Method{
	{
		"How tolerance is told",
		ToleranceSentence + " A bout ends early when it is recorded as ended for pain or a symptom; bouts whose end, cuff or pressure is not on record are left out. Pain has settled when the next session, within the days of the settings, begins with no more pain than the one before it began with. A band in which fewer people worked than the floor for small counts is not told.",
	},
}
