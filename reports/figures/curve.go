package figures

import (
	"fmt"
	"image/color"
	"slices"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// curve is a drawing of values over weeks: the leading curve with its band, and
// beside it lighter ones without.
type curve struct {
	xCaption    string // empty: nothing under the axis
	yCaption    string
	weeks       []mark // labelled weeks, first and last are the ends of the axis
	levels      []mark // labelled values, likewise
	joined      bool   // points joined by straight lines, not held until the next
	tall        vg.Length
	lead        series
	others      []series
	quietOthers bool       // the others are grey, solid lines: what is said beside, not data of its own
	spread      *spreadBar // under the axis; nil: none
	called      []mark     // places of the lead curve whose value is written at the curve
	people      []point    // between which values most people lie, and the middle one; behind all else
	means       []point    // plain means, as rings

	atRiskCaption string
	atRisk        []mark // numbers under the axis, by week
	besideCaption string
	beside        []mark // a second row of them
}

// series is one curve with the words that stand at its end.
type series struct {
	label  string   // what it is
	words  []string // its last value, a line each
	points []point
}

const (
	curveHeight vg.Length = 190 // of the axes
	atRiskGap   vg.Length = 6
	labelGap    vg.Length = 7 // between a curve's end and its words
)

// height of the whole drawing: caption, axes, caption, numbers at risk.
func (d curve) height() vg.Length {
	small := regular(textSize, quiet)
	h := small.line() + 4 + d.tall + small.line() + 6
	if d.xCaption != "" {
		h += small.line()
	}
	if rows := d.numbers(); len(rows) > 0 {
		h += atRiskGap + vg.Length(2*len(rows))*small.line()
	}
	if d.spread != nil {
		h += d.spread.room()
	}
	return h
}

// labelWidth is the room that the words at the ends of the curves take.
func (d curve) labelWidth() vg.Length {
	var w vg.Length
	for _, s := range append([]series{d.lead}, d.others...) {
		w = max(w, bold(textSize, ink).width(s.label))
		for _, line := range s.words {
			w = max(w, regular(textSize, ink).width(line))
		}
	}
	return w + labelGap
}

// levelWidth is the room that the labels of the values take.
func (d curve) levelWidth() vg.Length {
	var w vg.Length
	for _, m := range d.levels {
		w = max(w, regular(textSize, quiet).width(m.label))
	}
	return w
}

func (d curve) draw(c draw.Canvas) error { return d.drawWithin(c, d.levelWidth(), d.labelWidth()) }

// drawWithin leaves the room named at the left and at the right of the axes, so
// that drawings under each other can share their weeks.
func (d curve) drawWithin(c draw.Canvas, left, right vg.Length) error {
	small := regular(textSize, quiet)
	p := newAxes(d.weeks, d.levels)

	if len(d.people) > 1 {
		area, err := band(d.people, d.joined)
		if err != nil {
			return err
		}
		area.Color = crowd
		p.Add(area)
	}
	if ps := banded(d.lead.points); len(ps) > 1 {
		area, err := band(ps, d.joined)
		if err != nil {
			return err
		}
		p.Add(area)
	}
	p.Add(grid())
	if len(d.people) > 1 {
		line, err := d.line(d.people, draw.LineStyle{Color: quiet, Width: 0.9, Dashes: []vg.Length{1.5, 2.5}})
		if err != nil {
			return err
		}
		p.Add(line)
	}
	for _, s := range d.others {
		style := draw.LineStyle{Color: blue3, Width: 1.3, Dashes: []vg.Length{4, 2.5}}
		if d.quietOthers {
			style = draw.LineStyle{Color: axis, Width: 1.3}
		}
		line, err := d.line(s.points, style)
		if err != nil {
			return err
		}
		p.Add(line)
	}
	line, err := d.line(d.lead.points, draw.LineStyle{Color: blue5, Width: 1.9})
	if err != nil {
		return err
	}
	p.Add(line)

	small.write(c, vg.Point{X: c.Min.X, Y: c.Max.Y - small.font.Font.Size}, draw.XLeft, d.yCaption)
	top := c.Max.Y - small.line() - 4
	area := c
	area.Max.Y = top
	area.Min.X += left - d.levelWidth()
	area.Max.X -= right
	area.Min.Y = top - d.tall - small.line() - 4 // the labels of the axis hang below it
	p.Draw(area)
	data := p.DataCanvas(area)
	toX, toY := p.Transforms(&data)

	for _, m := range d.means {
		c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: 3.2, Shape: draw.RingGlyph{}}, vg.Point{X: toX(m.x), Y: toY(m.y)})
	}
	d.nameCurves(c, data, toX, toY)
	d.callOut(c, toX, toY)
	return d.writeUnder(c, data, area.Min.Y, toX)
}

// nameCurves writes what each curve is, and its last value, at its end.
func (d curve) nameCurves(c, data draw.Canvas, toX, toY func(float64) vg.Length) {
	all := append([]series{d.lead}, d.others...)
	name, value := bold(textSize, ink), regular(textSize, ink)
	wanted := make([]vg.Length, len(all))
	lines := 0
	for i, s := range all {
		wanted[i] = toY(s.points[len(s.points)-1].y)
		lines = max(lines, 1+len(s.words))
	}
	tall := vg.Length(lines)*name.line() + 3
	x := toX(d.weeks[len(d.weeks)-1].at) + labelGap
	for i, y := range spread(wanted, tall, data.Min.Y+vg.Length(lines-1)*name.line(), data.Max.Y-name.line()/2) {
		shade := []color.Color{blue5, quiet}[min(i, 1)]
		at := vg.Point{X: x, Y: y + 1.5}
		name.in(shade).write(c, at, draw.XLeft, all[i].label)
		for _, line := range all[i].words {
			at.Y -= value.line()
			value.in(shade).write(c, at, draw.XLeft, line)
		}
	}
}

// callOut marks the places of the leading curve that the text speaks of.
func (d curve) callOut(c draw.Canvas, toX, toY func(float64) vg.Length) {
	f := bold(textSize, blue5)
	for _, m := range d.called {
		for _, p := range d.lead.points {
			if p.x != m.at {
				continue
			}
			at := vg.Point{X: toX(p.x), Y: toY(p.y)}
			c.DrawGlyph(draw.GlyphStyle{Color: blue5, Radius: 2.6, Shape: draw.CircleGlyph{}}, at)
			above := p.y
			if p.hasInterval() {
				above = p.high
			}
			y := toY(above) + 4
			if y+f.font.Font.Size > toY(d.levels[len(d.levels)-1].at) {
				y = toY(p.low) - f.line()
			}
			f.write(c, vg.Point{X: at.X - 2, Y: y}, draw.XRight, m.label)
		}
	}
}

// writeUnder writes the axis caption and the numbers at risk under their weeks.
func (d curve) writeUnder(c, data draw.Canvas, y vg.Length, toX func(float64) vg.Length) error {
	small := regular(textSize, quiet)
	if d.xCaption != "" {
		y -= small.font.Font.Size
		small.write(c, vg.Point{X: data.Min.X, Y: y}, draw.XLeft, d.xCaption)
	}
	if d.spread != nil {
		d.spread.draw(c, data, y-spreadGap, toX)
	}
	y -= atRiskGap
	for _, row := range d.numbers() {
		y -= small.line()
		small.write(c, vg.Point{X: data.Min.X, Y: y}, draw.XLeft, row.caption)
		y -= small.line()
		number := regular(textSize, ink)
		for _, n := range row.marks {
			if n.at < d.weeks[0].at || n.at > d.weeks[len(d.weeks)-1].at {
				return fmt.Errorf("number at risk at week %g lies outside the axis", n.at)
			}
			number.write(c, vg.Point{X: toX(n.at), Y: y}, draw.XCenter, n.label)
		}
	}
	return nil
}

// numberRow is a row of numbers under the axis.
type numberRow struct {
	caption string
	marks   []mark
}

// numbers are the rows that hold any.
func (d curve) numbers() []numberRow {
	rows := []numberRow{{d.atRiskCaption, d.atRisk}, {d.besideCaption, d.beside}}
	return slices.DeleteFunc(rows, func(r numberRow) bool { return len(r.marks) == 0 })
}

func (d curve) line(ps []point, style draw.LineStyle) (*plotter.Line, error) {
	line, err := plotter.NewLine(outline(ps, middle, d.joined))
	if err != nil {
		return nil, err
	}
	line.LineStyle = style
	return line, nil
}

// banded returns the first unbroken stretch of points with an interval. Before
// the first return there is none: the limits are taken on a log scale.
func banded(ps []point) []point {
	from := slices.IndexFunc(ps, point.hasInterval)
	if from < 0 {
		return nil
	}
	for to := from; to < len(ps); to++ {
		if !ps[to].hasInterval() {
			return ps[from:to]
		}
	}
	return ps[from:]
}
