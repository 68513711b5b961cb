package words

import (
	"fmt"
	"math"
	"strings"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// FirstPage is what a reader with one minute reads.
type FirstPage struct {
	Lead   []Sentence // who began, how many are back
	Scores []Sentence // pain and scores, one for each injury type where they lead
	Types  []Sentence // one for each injury type
	Sides  []Sentence // how alike the two sides are, one for each injury type
	Doses  []Sentence // how the return differs between thirds of dose, one for each injury type compared
	Safety []Sentence // adverse events of the whole practice
	Gaps   []Sentence // what to keep in mind: missing data, hidden figures

	Back     bool // how to read the sentences on types stands over them
	Compared bool // likewise those on doses
}

// First makes the first page by rule.
func First(r *disclosure.Released) FirstPage {
	var page FirstPage
	groups := Groups(r, "return")
	page.Lead = lead(r, groups)
	if len(groups) > 0 && !r.HasBefore() {
		page.Lead = append(page.Lead, Sentence{Text: firstReport})
	}
	page.Scores = scoreLines(r)
	var types, sides []line
	for _, g := range groups {
		if g.IsType() {
			types = append(types, returnLine(r, g))
		}
	}
	for _, injury := range r.Context().InjuryTypes {
		if lead := LeadingMeasures(r, injury.Code); len(lead) > 0 {
			sides = append(sides, sidesLine(r, lead[0]))
		}
	}
	page.Types, page.Back = together(types), anySaid(types)
	if s, ok := noReturns(types); ok {
		page.Lead = append(page.Lead, s)
	}
	page.Sides = together(sides)
	if len(sides) == 0 {
		page.Sides = noSides(r)
	}
	page.Doses, page.Compared = doseVerdicts(r)
	page.Safety = SafetySentences(r)
	page.Gaps = gaps(r)
	return page
}

// returnLine is the sentence on an injury type with its verdict and the month
// before.
func returnLine(r *disclosure.Released, g Group) line {
	s := ReturnSentence(r, g)
	f, ok := Headline(r, g)
	if !ok {
		return line{s, g.Label, nil}
	}
	if u := returnUnsaid(r, g, f); u != nil {
		return line{s, g.Label, u}
	}
	outOf := 0
	if frequency, ok := NaturalFrequency(f.Value, f.Low, f.High); ok {
		outOf = frequency.OutOf
	}
	return line{s.withVerdict(halfBack, f, 0.5).withBefore(r, f, outOf), g.Label, nil}
}

// noReturns says that no return is on record in any injury type, where that is so.
func noReturns(types []line) (Sentence, bool) {
	for _, l := range types {
		if l.bare == nil || !strings.HasPrefix(l.bare.head, noReturn) {
			return Sentence{}, false
		}
	}
	return Sentence{Text: "No return is on record of anybody so far. Whether nobody is back or returns are not recorded, these records do not tell."}, len(types) > 0
}

// sidesLine is that on the two sides.
func sidesLine(r *disclosure.Released, g Group) line {
	s := SymmetrySentence(r, g)
	f, ok := typical(r, g)
	if !ok {
		return line{s, g.Label, nil}
	}
	if u := notTold(f); u != nil {
		return line{s, g.Label, u}
	}
	equal := 100.0
	if !g.IsIndex() {
		equal = 0
	}
	return line{s.withVerdict(equalSides, f, equal).withBefore(r, f, 0), g.Label, nil}
}

// noSides says why nothing is told of the two sides; nothing where nobody began.
func noSides(r *disclosure.Released) []Sentence {
	for _, g := range Groups(r, "symmetry") {
		began, ok1 := g.Figure(r, "began", "")
		both, ok2 := g.Figure(r, "bilateral", "")
		pairs, ok3 := g.Figure(r, "pairs", "")
		switch {
		case !g.Whole() || !ok1 || !ok2 || !ok3:
		case began.Value != nil && both.Value != nil && *began.Value == *both.Value:
			return []Sentence{say("Both sides are involved in everybody who began care. Neither side can serve as the measure of the other, so that nothing is told of how alike they are.", both)}
		case pairs.Value != nil && *pairs.Value == 0:
			return []Sentence{say("Both sides of nobody were measured within the days set, so that nothing is told of how alike they are.", pairs)}
		}
	}
	return nil
}

// lead tells of the whole practice.
func lead(r *disclosure.Released, groups []Group) []Sentence {
	if len(groups) == 0 || !groups[0].Whole() {
		return []Sentence{nothingBegan(r.Context())}
	}
	g := groups[0]
	began, ok := g.Figure(r, "began", "")
	switch {
	case !ok || (began.Value != nil && *began.Value == 0):
		return []Sentence{nothingBegan(r.Context())}
	case began.Value == nil:
		return []Sentence{say(fmt.Sprintf("In the %s to %s episodes of care began; how many is not shown (too few people).", months(g), Date(g.To)), began)}
	}
	sites := 0
	for _, s := range r.Context().Sites {
		if !s.DataThrough.IsZero() {
			sites++
		}
	}
	out := []Sentence{say(fmt.Sprintf("In the %s to %s, %s of care began at %s %s.",
		months(g), Date(g.To), episodes(began), Small(sites), Plural(sites, "site", "sites")), began)}
	atRisk, ok1 := g.Figure(r, "at_risk", "")
	returned, ok2 := g.Figure(r, "returned", "")
	switch {
	case !ok1 || !ok2:
	case atRisk.Value != nil && *atRisk.Value == 0:
		out = append(out, say("In none of them could a return be watched for: everybody was at their target when care began, or could not be followed.", atRisk))
	case atRisk.Value != nil && returned.Value != nil && *returned.Value == 0:
		out = append(out, say(fmt.Sprintf("In %s of them the person was below their target when care began and could be followed.", Value(atRisk)), atRisk))
	case atRisk.Status != result.Hidden && returned.Status != result.Hidden:
		out = append(out, say(fmt.Sprintf("In %s of them the person was below their target when care began and could be followed; in %s of these the return is on record so far.",
			Value(atRisk), Value(returned)), atRisk, returned))
	}
	return out
}

func episodes(f disclosure.Shown) string {
	if f.Value != nil && *f.Value == 1 {
		return "1 episode"
	}
	return Value(f) + " episodes"
}

// months is the length of a group's period: "24 months".
func months(g Group) string {
	n := int(math.Round(g.To.Sub(g.From).Hours() / 24 / 30.4375))
	return fmt.Sprintf("%d %s", n, Plural(n, "month", "months"))
}

func nothingBegan(c result.Context) Sentence {
	return Sentence{Text: fmt.Sprintf("The data received by batch %d hold no episode of care that began in the time this report looks at, so there is nothing to say about return to activity in %s.",
		c.AsOfBatch, Month(c.Month))}
}

// gaps names what is missing from the picture.
func gaps(r *disclosure.Released) []Sentence {
	c := r.Context()
	var out []Sentence
	var never []string
	var until []time.Time
	silent := map[time.Time][]string{}
	for _, s := range c.Sites {
		switch {
		case s.DataThrough.IsZero():
			never = append(never, s.Label)
		case s.Silent:
			if silent[s.DataThrough] == nil {
				until = append(until, s.DataThrough)
			}
			silent[s.DataThrough] = append(silent[s.DataThrough], s.Label)
		}
	}
	if len(never) > 0 {
		out = append(out, Sentence{Text: fmt.Sprintf("Nothing has been received from %s.", Join(never))})
	}
	for _, last := range until {
		out = append(out, Sentence{Text: fmt.Sprintf("The data of %s reach only to %s; what happened there since is not in this report.", Join(silent[last]), Date(last))})
	}
	quarantined, waiting := 0, 0
	var months []string
	for _, f := range c.Files {
		if f.MonthOnly > 0 {
			months = append(months, f.Sender)
		}
		quarantined += f.Quarantined
		waiting += f.Waiting
	}
	if len(months) > 0 {
		out = append(out, Sentence{Text: fmt.Sprintf("Starts of care came as months, not days, from %s. Days and weeks of care are counted from the first of the month: what was sent as days from the start is exact, and the day of the calendar may be up to a month too early.", Join(months))})
	}
	if quarantined > 0 {
		out = append(out, Sentence{Text: fmt.Sprintf("%s %s could not be read as sent and %s set aside, with the reason beside each.",
			Count(quarantined), Plural(quarantined, "row", "rows"), Plural(quarantined, "was", "were"))})
	}
	if waiting > 0 {
		out = append(out, Sentence{Text: fmt.Sprintf("%s %s left out until it comes.",
			Count(waiting), Plural(waiting, "row waits for the record it belongs to and is", "rows wait for the record they belong to and are"))})
	}
	if s, ok := hiddenSentence(r); ok {
		out = append(out, s)
	}
	return out
}

func hiddenSentence(r *disclosure.Released) (Sentence, bool) {
	shown, hidden, withheld := r.Counts()
	total := shown + hidden + withheld
	if hidden == 0 && withheld == 0 {
		return Sentence{}, false
	}
	text := fmt.Sprintf("Of %s figures, %s %s shown", Count(total), Count(shown), Plural(shown, "is", "are"))
	if hidden > 0 {
		text += fmt.Sprintf("; %s %s hidden so that nobody can be picked out", Count(hidden), Plural(hidden, "is", "are"))
	}
	if withheld > 0 {
		text += fmt.Sprintf("; for %s the method had too little to go on", Count(withheld))
	}
	return Sentence{Text: text + "."}, true
}
