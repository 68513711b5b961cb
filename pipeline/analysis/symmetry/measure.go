package symmetry

import (
	"math"
	"slices"
	"strconv"

	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// measure is a row of the code table of measures.
type measure struct {
	code     string
	unit     string
	ratio    bool // compared as an index
	zero     bool // can be zero: compared as a difference in percent; neither: in its own unit
	less     bool // less is better
	sameMDC  *float64
	otherMDC *float64
	mic      *float64 // minimal important change
}

// kinds of measure whose two sides are compared. The last two can be zero; few
// practices take them, and without any they are not spoken of.
var kinds = []string{"girth", "strength", "hop", "endurance"}

// canBeZero says that a measure of the kind may be zero, on the involved side or
// on both, so that it has no logarithm.
func canBeZero(kind string) bool { return kind == "hop" || kind == "endurance" }

func kindOf(measure string) string {
	kind, _ := reference.Cell("measures", measure, "kind")
	return kind
}

// measuresOf are the codes of the measures of a kind.
func measuresOf(kind string) []string {
	return slices.DeleteFunc(reference.Codes("measures"), func(code string) bool { return kindOf(code) != kind })
}

// measures returns the measures whose two sides are compared, in the order of the
// code table. Force and the like are compared as an index, girth in centimetres,
// what can be zero as a difference in percent of the other side at baseline.
func measures() []measure {
	var list []measure
	for _, code := range reference.Codes("measures") {
		if !slices.Contains(kinds, kindOf(code)) {
			continue
		}
		list = append(list, readMeasure(code))
	}
	return list
}

// measureOf is the row of a code; false where the two sides are not compared.
func measureOf(code string) (measure, bool) {
	if !slices.Contains(kinds, kindOf(code)) {
		return measure{}, false
	}
	return readMeasure(code), true
}

func readMeasure(code string) measure {
	cell := func(column string) string {
		text, _ := reference.Cell("measures", code, column)
		return text
	}
	return measure{
		code: code, unit: cell("unit"), ratio: cell("kind") == "strength", zero: canBeZero(cell("kind")), less: cell("better") == "less",
		sameMDC: decimal(cell("mdc95_same_rater")), otherMDC: decimal(cell("mdc95_other_rater")), mic: decimal(cell("mic")),
	}
}

func decimal(cell string) *float64 {
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return nil // an empty cell; a test of the code tables refuses any other
	}
	return &x
}

// outcome is one number of a pair on the scale on which it is modelled, and how
// it is told: ratios and forces as logarithms, girth as it is.
type outcome struct {
	log  bool
	unit string
	told float64                                    // factor after exp
	of   func(p warehouse.SidePair) (float64, bool) // false: cannot be computed
	rows string                                     // picks out the pairs for which it can; empty: all
}

// compared is the comparison of the two sides.
func (s measure) compared() outcome {
	if s.ratio {
		return outcome{log: true, unit: "%", told: 100, rows: "index_percent > 0", of: func(p warehouse.SidePair) (float64, bool) { return logPercent(p.IndexPercent) }}
	}
	if s.zero {
		return s.ofBaseline()
	}
	return outcome{unit: s.unit, told: 1, of: func(p warehouse.SidePair) (float64, bool) { return p.Involved - p.Uninvolved, true }}
}

// ofBaseline is how far the involved side is behind the other (below 0) or ahead,
// in percent of the other side at baseline.
func (s measure) ofBaseline() outcome {
	return outcome{unit: "% of the other side's baseline", told: 1, rows: "uninvolved_baseline > 0", of: func(p warehouse.SidePair) (float64, bool) {
		if p.UninvolvedBaseline == nil || *p.UninvolvedBaseline <= 0 {
			return 0, false
		}
		ahead := p.Involved - p.Uninvolved
		if s.less {
			ahead = -ahead
		}
		return 100 * ahead / *p.UninvolvedBaseline, true
	}}
}

// againstBaseline is the index against the uninvolved side at baseline.
func (s measure) againstBaseline() outcome {
	return outcome{log: true, unit: "%", told: 100, rows: "baseline_percent > 0", of: func(p warehouse.SidePair) (float64, bool) { return logPercent(p.BaselinePercent) }}
}

// inPercent is the difference of the two sides in percent of the uninvolved one.
func (s measure) inPercent() outcome {
	return outcome{unit: "% of the other side", told: 1, rows: "uninvolved > 0", of: func(p warehouse.SidePair) (float64, bool) {
		return 100 * (p.Involved - p.Uninvolved) / p.Uninvolved, p.Uninvolved > 0
	}}
}

// involved and uninvolved are the values of the two sides.
func (s measure) involved() outcome {
	return s.limb("involved", func(p warehouse.SidePair) float64 { return p.Involved })
}

func (s measure) uninvolved() outcome {
	return s.limb("uninvolved", func(p warehouse.SidePair) float64 { return p.Uninvolved })
}

func (s measure) limb(column string, value func(p warehouse.SidePair) float64) outcome {
	if s.ratio {
		return outcome{log: true, unit: s.unit, told: 1, rows: column + " > 0", of: func(p warehouse.SidePair) (float64, bool) {
			v := value(p)
			return math.Log(v), v > 0
		}}
	}
	return outcome{unit: s.unit, told: 1, of: func(p warehouse.SidePair) (float64, bool) { return value(p), true }}
}

func logPercent(percent *float64) (float64, bool) {
	if percent == nil || *percent <= 0 {
		return 0, false
	}
	return math.Log(*percent / 100), true
}

// back turns a number of the model into the unit told.
func (o outcome) back(x float64) float64 {
	if o.log {
		return o.told * math.Exp(x)
	}
	return x
}
