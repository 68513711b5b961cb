package pages

import (
	"slices"

	"evenlimb/reports/words"
)

// chapter is the section of one question.
type chapter struct {
	Anchor, Title string
	About         string
	Lead          []words.Sentence
	Plots         []pictureView
	Tables        []table
	Parts         []part
}

// part is what a chapter says of one injury type.
type part struct {
	Anchor, Label string
	Sayings       []sayings
	Left          []table // beside Right where the page is wide enough
	Right         table
	Tables        []table
}

// sayings are a picture and the sentences that go with it. Lead is nil where the
// picture's own title says it.
type sayings struct {
	Lead    *words.Sentence
	Plot    pictureView
	Details []words.Sentence
}

// filled leaves out tables without a row.
func filled(tables ...table) []table {
	return slices.DeleteFunc(tables, func(t table) bool { return len(t.Rows) == 0 })
}
