package figures

import (
	"cmp"
	"slices"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"evenlimb/reports/words"
)

// funnel is a drawing of ratios over how much was expected: the limits that
// chance and the usual spread leave as a band, a dot each, and the names of those
// beyond.
type funnel struct {
	spots  []spot // by what was expected
	across []mark
	levels []mark
}

type spot struct {
	label     string // empty: within the limits
	expected  float64
	ratio     float64
	low, high float64 // of the band there
}

func newFunnel(list []words.SiteRatio) funnel {
	var d funnel
	most, top := 0.0, 1.0
	for _, s := range list {
		f, limits := s.Ratio, s.Funnel
		if f.Value == nil || f.Exposure == nil || limits.Low == nil || limits.High == nil {
			continue
		}
		one := spot{expected: *f.Exposure, ratio: *f.Value, low: *limits.Low, high: *limits.High}
		if s.StandsOut() {
			one.label = s.Label
		}
		most, top = max(most, one.expected), max(top, one.high, one.ratio)
		d.spots = append(d.spots, one)
	}
	slices.SortFunc(d.spots, func(a, b spot) int { return cmp.Compare(a.expected, b.expected) })
	d.across, d.levels = levelMarks(0, most), levelMarks(0, top)
	return d
}

func (d funnel) height() vg.Length {
	small := regular(textSize, quiet)
	return small.line() + 4 + curveHeight + 2*small.line() + 6
}

func (d funnel) draw(c draw.Canvas) error {
	small := regular(textSize, quiet)
	p := newAxes(d.across, d.levels)
	var edge plotter.XYs
	for _, s := range d.spots {
		edge = append(edge, plotter.XY{X: s.expected, Y: s.high})
	}
	for _, s := range slices.Backward(d.spots) {
		edge = append(edge, plotter.XY{X: s.expected, Y: s.low})
	}
	if len(d.spots) > 1 {
		area, err := plotter.NewPolygon(edge)
		if err != nil {
			return err
		}
		area.Color, area.Width = blue2, 0
		p.Add(area)
	}
	p.Add(grid())

	small.write(c, vg.Point{X: c.Min.X, Y: c.Max.Y - small.font.Font.Size}, draw.XLeft, "Returns over those expected")
	area := c
	area.Max.Y -= small.line() + 4
	area.Min.Y = area.Max.Y - curveHeight - small.line() - 4
	area.Max.X -= 14 // half of the last label
	p.Draw(area)
	data := p.DataCanvas(area)
	toX, toY := p.Transforms(&data)
	c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.8, Dashes: []vg.Length{4, 2.5}}, data.Min.X, toY(1), data.Max.X, toY(1))
	name := bold(textSize, blue5)
	for _, s := range d.spots {
		at := vg.Point{X: toX(s.expected), Y: toY(s.ratio)}
		c.DrawGlyph(draw.GlyphStyle{Color: blue5, Radius: 3, Shape: draw.CircleGlyph{}}, at)
		if s.label == "" {
			continue
		}
		align, x := draw.XLeft, at.X+6
		if x+name.width(s.label) > c.Max.X {
			align, x = draw.XRight, at.X-6
		}
		name.write(c, vg.Point{X: x, Y: at.Y - 0.36*textSize}, align, s.label)
	}
	small.write(c, vg.Point{X: data.Min.X, Y: area.Min.Y - small.font.Font.Size}, draw.XLeft, "Returns expected of the site's people")
	return nil
}
