package figures

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// spreadBar shows under an axis where the people are: a bar over the middle half
// of them and a line where half of them are.
type spreadBar struct{ low, middle, high float64 }

const (
	spreadGap    vg.Length = 6
	spreadHeight vg.Length = 9
)

func (s spreadBar) room() vg.Length { return spreadGap + spreadHeight + 4 }

// draw draws the bar with its upper edge at y.
func (s spreadBar) draw(c, data draw.Canvas, y vg.Length, toX func(float64) vg.Length) {
	middle := y - spreadHeight/2
	c.StrokeLine2(draw.LineStyle{Color: blue2, Width: 1.5}, data.Min.X, middle, data.Max.X, middle)
	c.FillPolygon(blue3, []vg.Point{
		{X: toX(s.low), Y: y - spreadHeight},
		{X: toX(s.high), Y: y - spreadHeight},
		{X: toX(s.high), Y: y},
		{X: toX(s.low), Y: y},
	})
	c.StrokeLine2(draw.LineStyle{Color: blue5, Width: 2}, toX(s.middle), y-spreadHeight, toX(s.middle), y)
}
