package words

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// The strata of adverse events that are no kind of event.
const (
	otherKinds    = "other_kinds"
	seriousEvents = "serious"
)

// EventKindLabel is the label of a kind of event.
func EventKindLabel(code string) string {
	switch code {
	case otherKinds:
		return "Other kinds"
	case seriousEvents:
		return "Serious events"
	default:
		return reference.Label("event_kinds", code)
	}
}

// SafetyKinds are the groups by kind of event, in the order of the code table,
// what is merged last. Serious events are not among them.
func SafetyKinds(r *disclosure.Released) []Group {
	var groups []Group
	for _, f := range r.Figures() {
		if f.Question != "safety" || f.Stratum == "" || f.Stratum == seriousEvents || f.Statistic != "rate_all" {
			continue
		}
		groups = append(groups, Group{Picture: f.Picture(), Measure: f.Measure, Label: EventKindLabel(f.Stratum), From: f.PeriodFrom, To: f.PeriodTo})
	}
	codes := reference.Codes("event_kinds")
	place := func(g Group) int {
		for i, code := range codes {
			if EventKindLabel(code) == g.Label {
				return i
			}
		}
		return len(codes)
	}
	slices.SortStableFunc(groups, func(a, b Group) int { return place(a) - place(b) })
	return groups
}

// SafetyGroup is the whole practice's adverse events; false without figures.
func SafetyGroup(r *disclosure.Released) (Group, bool) {
	groups := Groups(r, "safety")
	if len(groups) == 0 || !groups[0].Whole() {
		return Group{}, false
	}
	return groups[0], true
}

// SafetySentences tell of the adverse events of the whole practice: both rates,
// then what is counted whatever its number.
func SafetySentences(r *disclosure.Released) []Sentence {
	g, ok := SafetyGroup(r)
	if !ok {
		return nil
	}
	var out []Sentence
	for _, s := range []func(*disclosure.Released, Group) (Sentence, bool){allSentence, askedSentence, seriousSentence, clockSentence} {
		if text, ok := s(r, g); ok {
			out = append(out, text)
		}
	}
	return out
}

func allSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	rate, ok1 := g.Figure(r, "rate_all", "")
	events, ok2 := g.Figure(r, "events", "")
	sessions, ok3 := g.Figure(r, "sessions_attended", "")
	if !ok1 || !ok2 || !ok3 {
		return Sentence{}, false
	}
	in := fmt.Sprintf("In the %s to %s", months(g), Date(g.To))
	switch {
	case rate.Status == result.Hidden || events.Value == nil || sessions.Value == nil:
		return say(in+", the rate of adverse events is not shown (too few people).", rate), true
	case NoneSeen(rate):
		return say(fmt.Sprintf("%s no adverse event is on record in %s: none seen means up to %s per 1,000 sessions (95\u00a0%%).", in, attended(sessions), Rate(*rate.High)), rate, sessions).withBefore(r, rate, 0), true
	case rate.Value == nil:
		return say(in+", adverse events cannot be set against sessions. "+rate.Reason, rate), true
	}
	return say(fmt.Sprintf("%s %s on record in %s: %s per 1,000 sessions (the data fit %s).",
		in, countedEvents(events, "adverse event is", "adverse events are"), attended(sessions), Value(rate), Interval(rate)), rate, events, sessions).withBefore(r, rate, 0), true
}

func attended(f disclosure.Shown) string {
	if *f.Value == 1 {
		return "1 attended session"
	}
	return Value(f) + " attended sessions"
}

func countedEvents(f disclosure.Shown, one, many string) string {
	return Value(f) + " " + Plural(int(*f.Value), one, many)
}

func askedSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	share, ok1 := g.Figure(r, "asked_share", "")
	rate, ok2 := g.Figure(r, "rate_asked", "")
	if !ok1 || !ok2 || share.Value == nil {
		return Sentence{}, false
	}
	asked := fmt.Sprintf("Symptoms were asked about in %s of the sessions", Value(share))
	switch {
	case NoneSeen(rate):
		return say(fmt.Sprintf("%s; none was seen in these, which means up to %s per 1,000.", asked, Rate(*rate.High)), share, rate), true
	case rate.Value == nil:
		return say(asked+".", share), true
	}
	return say(fmt.Sprintf("%s; the events linked to these are %s per 1,000 of them (the data fit %s). The two rates count different events and different sessions and do not mix.",
		asked, Value(rate), Interval(rate)), share, rate), true
}

func seriousSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	serious, ok := g.Figure(r, "serious_events", "")
	if !ok || serious.Value == nil {
		return Sentence{}, false
	}
	text, figures := "No serious event is on record.", []disclosure.Shown{serious}
	if *serious.Value > 0 {
		text = fmt.Sprintf("%s on record.", countedEvents(serious, "serious event is", "serious events are"))
	}
	if f, ok := g.Figure(r, "seriousness_not_recorded", ""); ok && f.Value != nil && *f.Value > 0 {
		text += fmt.Sprintf(" Of %s it is not recorded whether they were serious.", countedEvents(f, "event", "events"))
		figures = append(figures, f)
	}
	return say(text, figures...), true
}

// clockSentence counts what waits to be reported; where nothing does it says
// how far each site's data reach, as what came later is not known.
func clockSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	open, ok := g.Figure(r, "open_clocks", "")
	if !ok || open.Value == nil {
		return Sentence{}, false
	}
	figures := []disclosure.Shown{open}
	var text string
	if *open.Value > 0 {
		text = fmt.Sprintf("%s known and not reported by %s (serious, or nobody recorded whether it was).", countedEvents(open, "event was", "events were"), Date(g.To))
	} else {
		var reach []string
		for _, s := range r.Context().Sites {
			if s.DataThrough.IsZero() {
				reach = append(reach, s.Label+" not at all")
				continue
			}
			reach = append(reach, s.Label+" "+Date(s.DataThrough))
		}
		text = fmt.Sprintf("No event that was serious, or may have been, was known and not reported by %s, as far as the data reach: %s.", Date(g.To), Join(reach))
	}
	if f, ok := g.Figure(r, "clocks_not_computable", ""); ok && f.Value != nil && *f.Value > 0 {
		text += fmt.Sprintf(" For %s the time until it was reported cannot be computed.", countedEvents(f, "event", "events"))
		figures = append(figures, f)
	}
	return say(text, figures...), true
}

// NoneSeen says that a figure is a rate of which no event was seen: it has no
// value, and its upper limit says up to how much.
func NoneSeen(f disclosure.Shown) bool {
	e, _ := entryOf(f)
	return e.form == asRate && f.Value == nil && f.High != nil
}
