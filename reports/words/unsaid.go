package words

import (
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// line is a sentence on one of several groups. One that has nothing of its own to
// say holds why, so that groups with the same answer are told in one sentence.
type line struct {
	Sentence
	label string
	bare  *unsaid
}

// unsaid is an answer that several groups may share: what is said, and a sentence
// that explains it.
type unsaid struct{ head, because string }

// of says it of one group.
func (u unsaid) of(label string) string { return label + ": " + u.head + "." + u.tail() }

func (u unsaid) tail() string {
	if u.because == "" {
		return ""
	}
	return " " + u.because
}

// notTold is the answer of a figure without a value; nil where it has one.
func notTold(f disclosure.Shown) *unsaid {
	switch {
	case f.Status == result.Hidden:
		return &unsaid{head: "not shown (too few people)"}
	case f.Value == nil:
		return &unsaid{"cannot tell yet", f.Reason}
	default:
		return nil
	}
}

// together puts the groups that share an answer into one sentence, behind those
// that have their own.
func together(lines []line) []Sentence {
	var out []Sentence
	shared := map[unsaid][]line{}
	var order []unsaid
	for _, l := range lines {
		if l.bare != nil {
			if shared[*l.bare] == nil {
				order = append(order, *l.bare)
			}
			shared[*l.bare] = append(shared[*l.bare], l)
		}
	}
	for _, l := range lines {
		if l.bare == nil || len(shared[*l.bare]) == 1 {
			out = append(out, l.Sentence)
		}
	}
	for _, u := range order {
		all := shared[u]
		if len(all) == 1 {
			continue
		}
		s := Sentence{}
		var labels []string
		for _, l := range all {
			labels = append(labels, InSentence(l.label))
			s.Figures = append(s.Figures, l.Figures...)
		}
		s.Text = strings.ToUpper(u.head[:1]) + u.head[1:] + ": " + Join(labels) + "." + u.tail()
		out = append(out, s)
	}
	return out
}

// anySaid says that some line has something of its own to say.
func anySaid(lines []line) bool {
	return slices.ContainsFunc(lines, func(l line) bool { return l.bare == nil })
}
