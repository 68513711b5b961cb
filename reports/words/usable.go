package words

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// UsableColumns head what Usable returns.
var UsableColumns = []string{"Began care", "Followed for a return", "Both sides measured on two days or more", "Dose known, followed from the landmark"}

// UsableSites are the sites in the practice's order, the whole practice last;
// none where nobody began care.
func UsableSites(r *disclosure.Released) []Group {
	var groups, whole []Group
	for _, g := range Groups(r, "return") {
		switch {
		case g.IsSite():
			groups = append(groups, g)
		case g.Whole():
			whole = append(whole, g)
		}
	}
	return append(groups, whole...)
}

// UsableTypes are the injury types in the practice's order, the rare ones
// together at the end.
func UsableTypes(r *disclosure.Released) []Group {
	var groups []Group
	for _, g := range Groups(r, "return") {
		if g.IsType() {
			groups = append(groups, g)
		}
	}
	return groups
}

// Usable are, for a site, an injury type or the practice, the counts of the
// episodes that began and could be used for each question; a count that is not
// there is the zero value.
func Usable(r *disclosure.Released, g Group) []disclosure.Shown {
	period := g.period()
	data := func(question string) string {
		return result.ID(result.PictureID("data", g.InjuryType, g.Site, "", "", question, period), "used", "")
	}
	doses := data("dose")
	if g.IsType() { // counted in the flow of the dose
		doses = result.ID(result.PictureID("dose", g.InjuryType, "", "", "", "", period), "analysed", "")
	}
	ids := []string{result.ID(g.Picture, "began", ""), result.ID(g.Picture, "at_risk", ""), data("symmetry"), doses}
	out := make([]disclosure.Shown, len(ids))
	for i, id := range ids {
		out[i], _ = r.Lookup(id)
	}
	return out
}

// oneMore is the statistic of what one more item on record would have added; the
// item's code follows.
const oneMore = "one_more."

// OneMoreMeaning says what OneMore counts.
const OneMoreMeaning = "One more item: of what may be missing, the item that alone would have let one episode more be used of most people there; nobody is counted twice, and the number is to the nearest 5."

// items are what one more recorded item may be, by code.
var items = map[string]string{
	"target_stage":  "a target stage",
	"right_dates":   "dates of start and end that do not contradict each other",
	"second_day":    "a second day on which both sides are measured",
	"other_side":    "the other side beside the one measured",
	"sets":          "the sets of the exercises done",
	"bouts":         "the exercises done at every attended session",
	"home_sessions": "the sessions done at home",
	"delivery":      "what lies in a gap between deliveries",
}

// OneMore is the figure that says of how many people one episode more could have
// been used had one more item been recorded, and the item in words; false where
// no item alone would have helped.
func OneMore(r *disclosure.Released, g Group) (f disclosure.Shown, item string, ok bool) {
	for _, f := range r.Picture(result.PictureID("data", g.InjuryType, g.Site, "", "", "", g.period())) {
		if code, is := strings.CutPrefix(f.Statistic, oneMore); is {
			return f, items[code], items[code] != ""
		}
	}
	return f, "", false
}

// OneMoreCells say the same in two cells of a table: how many, and the item.
func OneMoreCells(r *disclosure.Released, g Group) (people, item string, f disclosure.Shown) {
	f, item, ok := OneMore(r, g)
	if !ok {
		return None, None, f
	}
	return Value(f), item, f
}

// UsableSentences say of every site, and of the practice, what could be used and
// what one more recorded item would have added.
func UsableSentences(r *disclosure.Released) []Sentence {
	var list []Sentence
	groups := UsableSites(r)
	if len(groups) == 2 { // one site is the practice
		groups = groups[:1]
	}
	for _, g := range groups {
		counts := Usable(r, g)
		began := counts[0]
		switch {
		case began.Value != nil && *began.Value == 0:
			list = append(list, say(g.Label+": nobody began care.", began))
			continue
		case notHeard(r, g.Site):
			list = append(list, Sentence{Text: g.Label + ": nothing has been received."})
			continue
		case began.ValueBelow > 0:
			list = append(list, say(g.Label+": too few people began care for more to be told.", began))
			continue
		case began.Value == nil:
			list = append(list, say(g.Label+": how many began care is not shown, so that a smaller count elsewhere cannot be worked out.", began))
			continue
		}
		figures := []disclosure.Shown{began}
		text := fmt.Sprintf("%s: %s began", g.Label, episodes(began))
		var uses, hidden []string
		for i, question := range []string{"the return", "symmetry", "dose"} {
			switch f := counts[i+1]; {
			case f.ID == "":
			case f.Value == nil && f.ValueBelow == 0:
				hidden = append(hidden, question)
			default:
				uses = append(uses, Value(f)+" for "+question)
				figures = append(figures, f)
			}
		}
		if len(uses) > 0 {
			uses[0] = strings.Replace(uses[0], " for ", " could be used for ", 1)
			text += "; " + Join(uses)
		}
		if len(hidden) > 0 {
			text += "; how many for " + Join(hidden) + " is not shown"
		}
		text += "."
		if f, item, ok := OneMore(r, g); ok {
			text += fmt.Sprintf(" One more item on record, %s, would have added %s, one a person.", item, about(f))
			figures = append(figures, f)
		} else {
			text += " No item alone, had it been recorded, would have added any."
		}
		list = append(list, say(text, figures...))
	}
	return list
}

// notHeard says that nothing ever came from a site.
func notHeard(r *disclosure.Released, site string) bool {
	return slices.ContainsFunc(r.Context().Sites, func(s result.Site) bool { return s.Code == site && s.DataThrough.IsZero() })
}

// about prints a rounded count; a hidden one says that it is small.
func about(f disclosure.Shown) string {
	if f.Value == nil {
		return Value(f)
	}
	return "about " + Value(f)
}
