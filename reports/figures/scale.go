package figures

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// scale is the level axis of a drawing of rows.
type scale struct {
	area  draw.Canvas
	marks []mark
}

func newScale(area draw.Canvas, marks []mark) scale { return scale{area: area, marks: marks} }

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
