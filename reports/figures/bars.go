package figures

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// bars is a drawing of counts that break down into one another: one bar a row,
// all from zero, the ink darker at each step down. A stack would need labels
// beside thin slices and would show a hidden count as the gap it leaves.
type bars struct {
	rows []barRow
}

// barRow is one count. length is nil where the count may not be drawn; words
// then say what may be said.
type barRow struct {
	label  string
	level  int // steps down from the first row, 0 to 3
	length *float64
	words  string
}

const (
	barHeight vg.Length = 13
	barPitch  vg.Length = 19
	indent    vg.Length = 14
)

// levelInks are the inks of the steps, light to dark.
var levelInks = [4]color.Color{blue2, blue3, blue4, blue5}

func (d bars) height() vg.Length { return vg.Length(len(d.rows)) * barPitch }

func (d bars) draw(c draw.Canvas) error {
	label, number := regular(textSize, ink), regular(textSize, ink)
	var left, right vg.Length
	longest := 0.0
	for _, r := range d.rows {
		left = max(left, vg.Length(r.level)*indent+label.width(r.label))
		right = max(right, number.width(r.words))
		if r.length != nil {
			longest = max(longest, *r.length)
		}
	}
	zero := c.Min.X + left + columnGap
	room := c.Max.X - right - columnGap - zero
	c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.8}, zero, c.Min.Y, zero, c.Max.Y)
	for i, r := range d.rows {
		y := c.Max.Y - (vg.Length(i)+0.5)*barPitch
		base := y - 0.36*textSize
		label.write(c, vg.Point{X: c.Min.X + vg.Length(r.level)*indent, Y: base}, draw.XLeft, r.label)
		end := zero
		if r.length != nil && longest > 0 {
			end += room * vg.Length(*r.length/longest)
			if end > zero {
				c.FillPolygon(levelInks[r.level], []vg.Point{
					{X: zero, Y: y - barHeight/2},
					{X: end, Y: y - barHeight/2},
					{X: end, Y: y + barHeight/2},
					{X: zero, Y: y + barHeight/2},
				})
			}
		}
		number.write(c, vg.Point{X: end + 5, Y: base}, draw.XLeft, r.words)
	}
	return nil
}
