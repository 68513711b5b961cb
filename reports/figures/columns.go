package figures

import (
	"image/color"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// columns is a drawing of shares that sum to all, one column a week: the layers
// from the ground up, each named at the right where its last column ends.
type columns struct {
	xCaption, yCaption string
	weeks              []float64 // of the columns, evenly apart
	labelled           []mark    // weeks that are written under the axis
	levels             []mark
	layers             []layer

	underCaption string
	under        []mark // numbers under the axis, by week
}

// layer is one kind of people: its shares by column.
type layer struct {
	label  string
	last   string // the share of the last column in words
	ink    color.Color
	shares []float64
}

const (
	stackHeight  vg.Length = 215
	columnFilled           = 0.84 // of the width between columns
	leaderLength vg.Length = 14
	patch        vg.Length = 8 // of a layer's ink before its name
	wordGap      vg.Length = 6 // between a name and its share
)

// ladderInks are the nine-class "Blues" of ColorBrewer without the lightest,
// which is hardly seen on paper.
var ladderInks = []color.RGBA{
	{R: 0xde, G: 0xeb, B: 0xf7, A: 0xff},
	{R: 0xc6, G: 0xdb, B: 0xef, A: 0xff},
	{R: 0x9e, G: 0xca, B: 0xe1, A: 0xff},
	{R: 0x6b, G: 0xae, B: 0xd6, A: 0xff},
	{R: 0x42, G: 0x92, B: 0xc6, A: 0xff},
	{R: 0x21, G: 0x71, B: 0xb5, A: 0xff},
	{R: 0x08, G: 0x51, B: 0x9c, A: 0xff},
	{R: 0x08, G: 0x30, B: 0x6b, A: 0xff},
}

// shade is the ink of the i-th of n steps from light to dark.
func shade(i, n int) color.RGBA {
	if n < 2 {
		return ladderInks[len(ladderInks)-1]
	}
	at := float64(i) / float64(n-1) * float64(len(ladderInks)-1)
	low := min(int(at), len(ladderInks)-2)
	mix := func(a, b uint8) uint8 { return uint8(float64(a) + (at-float64(low))*(float64(b)-float64(a)) + 0.5) }
	a, b := ladderInks[low], ladderInks[low+1]
	return color.RGBA{R: mix(a.R, b.R), G: mix(a.G, b.G), B: mix(a.B, b.B), A: 0xff}
}

func (d columns) height() vg.Length {
	small := regular(textSize, quiet)
	return small.line() + 4 + stackHeight + small.line() + 10 + small.line() + atRiskGap + 2*small.line()
}

func (d columns) draw(c draw.Canvas) error {
	small, name := regular(textSize, quiet), regular(textSize, ink)
	var left, right vg.Length
	for _, m := range d.levels {
		left = max(left, small.width(m.label))
	}
	for _, l := range d.layers {
		right = max(right, name.width(l.label)+wordGap+small.width(l.last))
	}
	area := vg.Rectangle{
		Min: vg.Point{X: c.Min.X + left + 6, Y: c.Max.Y - small.line() - 4 - stackHeight},
		Max: vg.Point{X: c.Max.X - right - leaderLength - patch - 4, Y: c.Max.Y - small.line() - 4},
	}
	small.write(c, vg.Point{X: c.Min.X, Y: c.Max.Y - small.font.Font.Size}, draw.XLeft, d.yCaption)
	pitch := area.Size().X / vg.Length(len(d.weeks))
	y := func(share float64) vg.Length { return area.Min.Y + stackHeight*vg.Length(min(1, share)) }
	x := func(week float64) vg.Length {
		step := (d.weeks[len(d.weeks)-1] - d.weeks[0]) / float64(len(d.weeks)-1)
		return area.Min.X + pitch*vg.Length((week-d.weeks[0])/step+0.5)
	}
	for _, m := range d.levels {
		c.StrokeLine2(draw.LineStyle{Color: rule, Width: 0.6}, area.Min.X, y(m.at), area.Max.X, y(m.at))
		small.write(c, vg.Point{X: area.Min.X - 6, Y: y(m.at) - 0.36*textSize}, draw.XRight, m.label)
	}

	half := pitch * columnFilled / 2
	ends := make([]vg.Length, len(d.layers)) // the middle of each layer in the last column
	for i, week := range d.weeks {
		ground := 0.0
		for k, l := range d.layers {
			low, high := y(ground), y(ground+l.shares[i])
			if high > low {
				c.FillPolygon(l.ink, []vg.Point{{X: x(week) - half, Y: low}, {X: x(week) + half, Y: low}, {X: x(week) + half, Y: high}, {X: x(week) - half, Y: high}})
				c.StrokeLine2(draw.LineStyle{Color: paper, Width: 0.5}, x(week)-half, high, x(week)+half, high)
			}
			ground += l.shares[i]
			ends[k] = (low + high) / 2
		}
	}
	c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.8}, area.Min.X, area.Min.Y, area.Max.X, area.Min.Y)

	d.nameLayers(c, x(d.weeks[len(d.weeks)-1])+half+1, area, ends)

	under := area.Min.Y - small.line() - 3
	for _, m := range d.labelled {
		c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.8}, x(m.at), area.Min.Y, x(m.at), area.Min.Y-3)
		small.write(c, vg.Point{X: x(m.at), Y: under}, draw.XCenter, m.label)
	}
	under -= small.line()
	small.write(c, vg.Point{X: area.Min.X, Y: under}, draw.XLeft, d.xCaption)
	if len(d.under) == 0 {
		return nil
	}
	under -= atRiskGap + small.line()
	small.write(c, vg.Point{X: area.Min.X, Y: under}, draw.XLeft, d.underCaption)
	under -= small.line()
	for _, m := range d.under {
		name.write(c, vg.Point{X: x(m.at), Y: under}, draw.XCenter, m.label)
	}
	return nil
}

// nameLayers writes beside the last column, which ends at x, what each layer is,
// with a patch of its ink and its last share; ends are the heights of the layers
// there.
func (d columns) nameLayers(c draw.Canvas, x vg.Length, area vg.Rectangle, ends []vg.Length) {
	name, number := regular(textSize, ink), regular(textSize, quiet)
	start := area.Max.X + leaderLength
	topDown := slices.Clone(ends)
	slices.Reverse(topDown) // of two at one height the upper layer is named above
	heights := spread(topDown, name.line(), area.Min.Y+2, area.Max.Y-2)
	slices.Reverse(heights)
	for k, at := range heights {
		l := d.layers[k]
		if l.shares[len(l.shares)-1] > 0 {
			c.StrokeLine2(draw.LineStyle{Color: axis, Width: 0.5}, x, ends[k], start-2, at)
		}
		low, high := vg.Point{X: start, Y: at - patch/2}, vg.Point{X: start + patch, Y: at + patch/2}
		c.FillPolygon(l.ink, []vg.Point{low, {X: high.X, Y: low.Y}, high, {X: low.X, Y: high.Y}})
		place := vg.Point{X: high.X + 4, Y: at - 0.36*textSize}
		name.write(c, place, draw.XLeft, l.label)
		place.X += name.width(l.label) + wordGap
		number.write(c, place, draw.XLeft, l.last)
	}
}
