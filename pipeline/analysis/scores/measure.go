package scores

import (
	"fmt"
	"strconv"

	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// measure is a measure of pain or a score as the code tables have it.
type measure struct {
	code             string
	less             bool // less is better
	unit             string
	mostItemsMissing *int     // nil: not known, and then an answer with any item missing is left out
	mdc              *float64 // smallest change, at 95 %, that answering twice would not give by itself; nil: not known
	mic              *float64 // smallest change that counts; nil: not known
}

// shortScale is the top of a scale whose values are told to a tenth.
const shortScale = 10

// measures are those of pain, then the scores, in the order of the code table.
func measures() []measure {
	var list []measure
	for _, code := range reference.Codes("measures") {
		if kind, _ := reference.Cell("measures", code, "kind"); kind != "pain" && kind != "score" {
			continue
		}
		better, _ := reference.Cell("measures", code, "better")
		of := measure{code: code, less: better == "less", unit: "points", mdc: decimal(code, "mdc95_same_rater"), mic: decimal(code, "mic")}
		if top := decimal(code, "reject_high"); top != nil && *top <= shortScale {
			of.unit = "points of 10"
		}
		if most, ok := reference.Cell("scores", code, "most_items_missing"); ok {
			n, err := strconv.Atoi(most)
			if err != nil {
				panic(fmt.Sprintf("scores.csv: items of %s: %v", code, err)) // compiled in and tested
			}
			of.mostItemsMissing = &n
		}
		list = append(list, of)
	}
	return list
}

// decimal is a number of the code table of measures; nil for an empty cell.
func decimal(code, column string) *float64 {
	cell, _ := reference.Cell("measures", code, column)
	if cell == "" {
		return nil
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		panic(fmt.Sprintf("measures.csv: %s of %s: %v", column, code, err)) // compiled in and tested
	}
	return &v
}

// most is how many items may be missing of an answer.
func (o measure) most() int {
	if o.mostItemsMissing == nil {
		return 0
	}
	return *o.mostItemsMissing
}

// complete says that no more items are missing than the score allows. How many
// are is often not on record; such an answer counts.
func (o measure) complete(s warehouse.Score) bool {
	return s.ItemsMissing == nil || *s.ItemsMissing <= o.most()
}

// gain is a change in the direction that is better.
func (o measure) gain(from, to float64) float64 {
	if o.less {
		return from - to
	}
	return to - from
}
