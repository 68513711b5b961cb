package words

import "evenlimb/pipeline/disclosure"

// questionMethods are the paragraphs of the questions that have figures.
func questionMethods(r *disclosure.Released) []Method {
	var out []Method
	for _, q := range []struct {
		question string
		methods  []Method
	}{{"symmetry", symmetryMethods}, {"dose", doseMethods}, {"scores", scoreMethods}, {"progression", progressionMethods}, {"plan", planMethods}, {"tolerance", toleranceMethods}, {"safety", safetyMethods}} {
		if len(Groups(r, q.question)) > 0 {
			out = append(out, q.methods...)
		}
	}
	return out
}

var symmetryMethods = []Method{
	{
		"How the two sides are compared",
		"Each value of the involved side is set beside the other side's value of the same day, else the nearest within the days set. Strength is told as an index, the involved side in percent of the other; girth as a difference in centimetres; what can be zero, such as hops and raises, as a difference in percent of what the other side did at baseline, beside the share that could do nothing at all. Where both sides are involved neither can serve as the measure of the other, and there is no index: each limb stands beside its own baseline, the worse side first.",
	},
	{
		"What a typical value is",
		"A model of everybody's visits over the weeks (linear mixed model with a smooth curve of weeks, severity and site; each episode with its own level and slope) gives the typical value of a week, averaged over the practice's own mix. It says what would be seen had everybody stayed in measurement, given what was measured of them before. Beside it stand how many were measured, how many were back already, and the plain mean of those measured. A week is shown when 10 people were measured near it.",
	},
	{
		"Why the other side is shown too",
		"A limb that is spared weakens on both sides. The plain index then flatters: it rises although the involved side stands still. So both sides have their own curves, and the index against the other side's baseline stands beside the plain one.",
	},
	{
		"What real change is",
		"Measuring twice gives two numbers even when nothing changed. A change since baseline counts as real when it is larger than 95 % of such differences, by the error published for the measure; one rater's where the same person measured both times. Where no error is known, no change is called real. The same is said of the change up to the last visit. A change is called important when it is as large as the smallest one that people themselves call a change, where that is published; it can be important and not real, and the other way round.",
	},
	{
		"Which indices are undecided",
		"Both sides are measured with an error, and so the index has one: half its 95 % interval follows from the error of the measure on either side. An index that lies nearer to its threshold than that is undecided: measuring cannot say on which side of it the person is.",
	},
	{
		"How far people lie apart",
		"The typical value says nothing of how people differ. So the middle eight tenths of those measured near each week are told too, from the value that one in ten does not exceed to the one that one in ten does; rounded, and only where at least 30 people were measured, three times those that a week of the curve needs. Single people are never drawn.",
	},
}

var doseMethods = []Method{
	{
		"What dose means here, and when it is counted",
		"Dose is the work done with the cuff inflated on the involved side, from the first day of care to the day before the landmark, a day fixed for each injury type. The return is counted from the landmark on. Whoever had returned, ended or been lost before the landmark is in the flow only; where that is more than half, nothing is compared.",
	},
	{
		"What the landmark does and does not do",
		LandmarkSentence + " People are not assigned to a dose.",
	},
	{
		"How thirds of dose are compared",
		"Those with some work are split into thirds by their sets a week. The share back by the week named is estimated in each third as for the return (Aalen-Johansen). The contrast is the upper third less the lower: raw, and standardised, that is, compared within mild, moderate and severe injuries and averaged over all of them. Intervals come from drawing people again and again. What is not on record, or was not standardised over, may still make the difference.",
	},
	{
		"How people alike at the start are compared",
		"Only those count of whom age, sex, severity, time since the onset or operation, activity, target, pain and the quarter of the start are all on record; how many are left out stands beside. Everybody followed from the landmark is given a value that averages to the share back by the week (a pseudo-value), and a straight-line model tells how it goes with dose, with all of these, and with dose more or less steeply by severity. So the differences are of shares, averaged over the people compared. " +
			"Two questions are asked apart: some work with the cuff inflated or none; and, among those with some, how much: the sets a week that three quarters did not exceed against those that one quarter did not exceed, on a smooth curve of dose. People are drawn again and again, and pseudo-values, quartiles, model and weights are made anew each time.",
	},
	{
		"What stands beside that comparison",
		"Weighting: the same difference among people weighted so that dose no longer goes with what was known at the start, with weights that are not cut off; withheld where they leave too few people in effect or too much imbalance. The two ways disagree where the interval of their difference leaves out 0. Clinicians: where enough of them gave most of somebody's sessions, an interval that allows for how they differ; the wider of the two is the one shown first. " +
			"Leaning: each injury type's difference is also told moved towards the mean of the types, the more so the less its own people say. Something unknown: how strongly it would have to go with both dose and return to make the difference by itself, beside what the strongest of the known things could do, each known thing cut at its mean.",
	},
	{
		"How measures are set against dose",
		"The index of strength, the girth difference and pain near the week named are told at the third quartile of dose less at the first, by least squares on the smooth curve of dose, what was known at the start, and the measure's own baseline; of those measured near that week, so that whoever was measured no more is not in it. For the index a curve that levels off (Emax) stands beside the smooth one with the measure of fit of both, by which nothing is chosen.",
	},
}

var safetyMethods = []Method{
	{
		"How adverse events are counted",
		"Events that happened and were not ruled out count, related to the work or not; what could have happened and did not is counted apart. Two rates stand side by side and do not mix: all events per 1,000 attended sessions, and the events linked to a session in which symptoms were asked about per 1,000 such sessions. A low first rate beside a small share of sessions with symptoms asked says little.",
	},
	{
		"What the limits of a rate say",
		"They are exact (Garwood), and wider where events come in the same persons. Mid-P limits stand beside. Where no event was seen there is no rate: the limit says up to how much still goes with the data. Kinds of event that few people had are merged into other kinds.",
	},
	{
		"Which reports are open",
		"The clock of an event runs from the day the practice knew of it to the day it was reported, when the event was serious or nobody recorded whether it was. An event without a date on which it was known counts from its onset. \"None open\" holds as far as each site's data reach.",
	},
}
