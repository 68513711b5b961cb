package words

import (
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
)

// form is how a statistic's numbers are printed.
type form int

const (
	asCount form = iota
	asPercent
	asWeeks
	asDays
	asRate
	asMeasured // in the figure's own unit
	asPoints   // a difference of shares, in percentage points
	asRatio    // of two numbers, 1 where they are equal
)

// Entry is one statistic in the dictionary of a report.
type Entry struct {
	Question  string
	Statistic string // as in the gate's table: see disclosure.Statistic
	Label     string
	Unit      string
	Meaning   string
	form      form
}

// Dictionary returns every statistic that a report can hold, in the order in
// which a reader meets them.
func Dictionary() []Entry { return slices.Clone(dictionary) }

var dictionary = slices.Concat(returnEntries, besideEntries, stageEntries, recurrenceEntries, groupEntries, symmetryEntries, doseEntries, adjustedDoseEntries, scoreEntries, progressionEntries, planEntries, toleranceEntries, safetyEntries, dataEntries)

var returnEntries = []Entry{
	{
		"return", "began", "Began care", "episodes",
		"Episodes of care that started in the period.", asCount,
	},
	{
		"return", "no_usable", "Nothing usable on record", "episodes",
		"Episodes that could not be followed: no contact after the start within the data, or dates that contradict each other.", asCount,
	},
	{
		"return", "at_target", "Already at their target", "episodes",
		"Episodes in which the person stood at or above the target stage when care began. They cannot return to it and are not in the curve.", asCount,
	},
	{
		"return", "at_risk", "Followed for a return", "episodes",
		"Episodes in which the person was below the target stage when care began: everybody that the curve rests on.", asCount,
	},
	{
		"return", "returned", "Back at their target", "episodes",
		"The target stage, or a higher one, was reached and not lost again within the holding time.", asCount,
	},
	{
		"return", "returned_provisional", "of these, provisional", "episodes",
		"Returns younger than the holding time. They count, and may still be taken back. Counted for the whole practice; what rests on one is marked provisional.", asCount,
	},
	{
		"return", "ended_otherwise", "Ended otherwise", "episodes",
		"An end after which the return cannot come: surgery, a new injury to the same structure, a decision against returning or continuing, death.", asCount,
	},
	{"return", "ended.surgery", "Ended: surgery", "episodes", "Surgery after care began.", asCount},
	{"return", "ended.new_injury", "Ended: new injury", "episodes", "A new injury to the same structure.", asCount},
	{"return", "ended.not_returning", "Ended: decided against returning", "episodes", "The person decided not to return.", asCount},
	{"return", "ended.may_not_continue", "Ended: may not continue", "episodes", "It was decided that the person may not continue.", asCount},
	{"return", "ended.died", "Ended: died", "episodes", "The person died.", asCount},
	{"return", "ended.*", "Ended otherwise, by cause", "episodes", "Ends after which the return cannot come, by cause.", asCount},
	{
		"return", "in_care", "Still in care", "episodes",
		"Not back yet and still in care on the last day that the site's data reach to.", asCount,
	},
	{
		"return", "not_followed", "No longer followed", "episodes",
		"Not back when last seen: lost from view, or care ended otherwise. Followed to the last contact.", asCount,
	},
	{
		"return", "lost", "of these, lost from view", "episodes",
		"Contact was lost, no contact for longer than the injury type's limit, or discharged themselves: nobody knows what became of them. Counted for the whole practice.", asCount,
	},
	{
		"return", "left_otherwise", "of these, left otherwise", "episodes",
		"Transferred, referred on, closed as goal met without the stage on record, or ended for another reason. Counted for the whole practice.", asCount,
	},

	{
		"return", "share@", "Share back", "share",
		"Of all who were below their target when care began, the share with a recorded return by the end of the week; ends after which no return can come count as not back.", asPercent,
	},
	{
		"return", "cumulative@", "Curve: share back", "share",
		"The same share at every week: the cumulative incidence of return (Aalen-Johansen).", asPercent,
	},
	{
		"return", "competing@", "Curve: ended otherwise", "share",
		"The share whose care ended in a way after which the return cannot come, by the end of the week.", asPercent,
	},
	{
		"return", "at_risk@", "Number still followed", "episodes",
		"Episodes not yet back, not ended and still watched at the week, rounded to the nearest 5.", asCount,
	},
	{
		"return", "median_weeks", "Half are back by", "weeks",
		"The week by which half of all have returned. \"Not reached\" where fewer than half return within the time watched.", asWeeks,
	},
	{
		"return", "lower_quartile_weeks", "A quarter are back by", "weeks",
		"The week by which a quarter of all have returned.", asWeeks,
	},
	{
		"return", "upper_quartile_weeks", "Three quarters are back by", "weeks",
		"The week by which three quarters of all have returned.", asWeeks,
	},
	{
		"return", "mean_weeks@", "Mean weeks not yet back", "weeks",
		"The average number of weeks, out of the weeks named, that people had not yet returned: the area above the curve.", asWeeks,
	},

	{
		"return", "share_if_lost_never@", "If nobody lost from view returned", "share",
		"The share back if none of those lost from view ever returned.", asPercent,
	},
	{
		"return", "share_if_lost_return@", "If all lost from view returned", "share",
		"The share back if all of those lost from view returned on the day of their last contact.", asPercent,
	},
	{
		"return", "share_hold_N@", "If only returns that hold for N days count", "share",
		"The share back when a return counts only if it is held for N days; 0 counts a return even if it is lost again the next day.", asPercent,
	},
	{
		"return", "share_goal_met_returned@", "If \"goal met\" counts as back", "share",
		"The share back when episodes closed as \"goal met\" without the stage on record are taken as returned.", asPercent,
	},
	{
		"return", "visit_spacing_days", "Usual days between contacts", "days",
		"The median number of days between contacts. A return is recorded at a contact, so it happened up to this long before.", asDays,
	},
}

// dataEntries are what could be used of the data, for the questions whose own
// flow does not say so by site.
var dataEntries = []Entry{
	{"data", "began", "Began care", "episodes", "Episodes of care that started in the period, by site and by injury type.", asCount},
	{
		"data", "used", "Could be used", "episodes",
		"For symmetry: one side involved, and both sides measured on two days or more. For dose: followed from the landmark on, with the work before it on record.", asCount,
	},
	{"data", "not_used", "Could not be used", "episodes", "All other episodes that began.", asCount},
	{
		"data", "one_more.*", "One more item would have added", "persons",
		"The people of whom one episode more could have been used for a question, had the item named been recorded: the item that alone would have helped most. Nobody is counted twice; to the nearest 5.", asCount,
	},
}

// InOrder sorts figures by their places in the dictionary; figures of one entry
// keep their order.
func InOrder(figures []disclosure.Shown) []disclosure.Shown {
	place := func(f disclosure.Shown) int {
		for _, name := range disclosure.TableNames(f.Statistic, f.X != nil) {
			if i := slices.IndexFunc(dictionary, func(e Entry) bool { return e.Question == f.Question && e.Statistic == name }); i >= 0 {
				return i
			}
		}
		return len(dictionary)
	}
	sorted := slices.Clone(figures)
	slices.SortStableFunc(sorted, func(a, b disclosure.Shown) int { return place(a) - place(b) })
	return sorted
}

// Lookup returns the dictionary's entry for a statistic. An entry by its own
// name goes before one for several, and a number in the name takes the place of
// N in the label.
func Lookup(question, statistic string, positioned bool) (Entry, bool) {
	for _, name := range disclosure.TableNames(statistic, positioned) {
		for _, e := range dictionary {
			if e.Question != question || e.Statistic != name {
				continue
			}
			if stem := strings.TrimRight(statistic, "0123456789"); stem != statistic {
				e.Label = strings.Replace(e.Label, " N ", " "+statistic[len(stem):]+" ", 1)
			}
			return e, true
		}
	}
	return Entry{}, false
}
