package figures

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// dots is a drawing of one estimate a row, in the order given: a dot, its
// interval, and the numbers in words at the right.
type dots struct {
	caption string // what the scale is
	scale   []mark
	columns [2]string // headings of the words at the right
	rows    []dotRow
}

// dotRow is one row; a row without an estimate says why in its place.
type dotRow struct {
	label    string
	estimate *point    // x is not used, y is the estimate
	beside   *point    // a second one, a ring under the dot; nil: none
	words    [2]string // under the two headings
	absent   string
}

const (
	rowHeight  vg.Length = 21
	columnGap  vg.Length = 12
	labelShare           = 0.36 // the most of the width that row labels may take
)

func (d dots) height() vg.Length {
	small := regular(textSize, quiet)
	return small.line() + 4 + vg.Length(len(d.rows))*rowHeight + small.line() + 8
}

func (d dots) draw(c draw.Canvas) error {
	small, number := regular(textSize, quiet), regular(textSize, ink)
	label := regular(textSize, ink)

	labels := make([][]string, len(d.rows))
	var left vg.Length
	for i, r := range d.rows {
		labels[i] = label.wrap(r.label, c.Size().X*labelShare)
		for _, l := range labels[i] {
			left = max(left, label.width(l))
		}
	}
	var right [2]vg.Length
	for k, heading := range d.columns {
		right[k] = small.width(heading)
		for _, r := range d.rows {
			right[k] = max(right[k], number.width(r.words[k]))
		}
	}

	area := c
	area.Min.X += left + columnGap
	area.Max.X -= right[0] + right[1] + 2*columnGap
	area.Max.Y -= small.line() + 4
	area.Min.Y = area.Max.Y - vg.Length(len(d.rows))*rowHeight
	along := scale{area: area, marks: d.scale}

	head := area.Max.Y + 6
	small.write(c, vg.Point{X: area.Min.X, Y: head}, draw.XLeft, d.caption)
	ends := [2]vg.Length{area.Max.X + columnGap + right[0], c.Max.X}
	for k, heading := range d.columns {
		small.write(c, vg.Point{X: ends[k], Y: head}, draw.XRight, heading)
	}
	along.grid(c)
	along.labels(c)

	for i, r := range d.rows {
		y := area.Max.Y - (vg.Length(i)+0.5)*rowHeight
		middleOf := func(f face) vg.Length { return y - 0.36*f.font.Font.Size } // half the height of a figure
		first := middleOf(label) + vg.Length(len(labels[i])-1)*label.font.Font.Size*1.1/2
		for k, l := range labels[i] {
			label.write(c, vg.Point{X: area.Min.X - columnGap, Y: first - vg.Length(k)*label.font.Font.Size*1.1}, draw.XRight, l)
		}
		if r.estimate == nil {
			small.writeOver(c, vg.Point{X: area.Min.X + 6, Y: middleOf(small)}, r.absent)
			continue
		}
		if r.beside != nil {
			besideDot(c, along, *r.beside, y-5)
			y += 2
		}
		if r.estimate.hasInterval() {
			c.StrokeLine2(draw.LineStyle{Color: blue3, Width: 3}, along.x(r.estimate.low), y, along.x(r.estimate.high), y)
		}
		c.DrawGlyph(draw.GlyphStyle{Color: blue5, Radius: 3.4, Shape: draw.CircleGlyph{}}, vg.Point{X: along.x(r.estimate.y), Y: y})
		for k := range r.words {
			number.write(c, vg.Point{X: ends[k], Y: middleOf(number)}, draw.XRight, r.words[k])
		}
	}
	return nil
}

// scale is the level axis of a drawing of rows.
type scale struct {
	area  draw.Canvas
	marks []mark
}

// x is where a value stands.
func (s scale) x(v float64) vg.Length {
	low, high := s.marks[0].at, s.marks[len(s.marks)-1].at
	return s.area.Min.X + s.area.Size().X*vg.Length((v-low)/(high-low))
}

func (s scale) grid(c draw.Canvas) {
	for _, m := range s.marks {
		c.StrokeLine2(draw.LineStyle{Color: rule, Width: 0.6}, s.x(m.at), s.area.Min.Y, s.x(m.at), s.area.Max.Y)
	}
	c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.8}, s.area.Min.X, s.area.Min.Y, s.area.Max.X, s.area.Min.Y)
}

func (s scale) labels(c draw.Canvas) {
	f := regular(textSize, quiet)
	for _, m := range s.marks {
		f.write(c, vg.Point{X: s.x(m.at), Y: s.area.Min.Y - f.line()}, draw.XCenter, m.label)
	}
}

// besideDot is a second estimate of a row: a ring with a thin interval.
func besideDot(c draw.Canvas, along scale, p point, y vg.Length) {
	if p.hasInterval() {
		c.StrokeLine2(draw.LineStyle{Color: axis, Width: 1.2}, along.x(p.low), y, along.x(p.high), y)
	}
	c.DrawGlyph(draw.GlyphStyle{Color: paper, Radius: 3, Shape: draw.CircleGlyph{}}, vg.Point{X: along.x(p.y), Y: y})
	c.DrawGlyph(draw.GlyphStyle{Color: quiet, Radius: 3, Shape: draw.RingGlyph{}}, vg.Point{X: along.x(p.y), Y: y})
}
