package figures

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"evenlimb/reports/words"
)

// point is a place on a drawing with its interval; low and high are NaN where
// there is none.
type point struct {
	x, y, low, high float64
}

func (p point) hasInterval() bool { return !math.IsNaN(p.low) && !math.IsNaN(p.high) }

// mark is a labelled place on an axis.
type mark struct {
	at    float64
	label string
}

// percentMarks are the quarters of a share.
func percentMarks() []mark {
	var ms []mark
	for _, pc := range []int{0, 25, 50, 75, 100} {
		ms = append(ms, mark{at: float64(pc) / 100, label: strconv.Itoa(pc) + "\u00a0%"})
	}
	return ms
}

// newAxes returns a plot whose data touch its axes and whose grid is drawn over
// bands added before it. Captions are set by the caller, level and in full,
// because a sentence on its side is not read.
func newAxes(x, y []mark) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	label := regular(textSize, quiet)
	for _, a := range []struct {
		axis  *plot.Axis
		marks []mark
		style text.Style
	}{
		{&p.X, x, label.style(draw.XCenter, draw.YTop)},
		{&p.Y, y, label.style(draw.XRight, draw.YCenter)},
	} {
		a.axis.Min, a.axis.Max = a.marks[0].at, a.marks[len(a.marks)-1].at
		a.axis.Padding = 0
		a.axis.LineStyle = draw.LineStyle{Color: axis, Width: 0.8}
		a.axis.Tick.LineStyle = draw.LineStyle{Color: axis, Width: 0.8}
		a.axis.Tick.Length = 4
		a.axis.Tick.Label = a.style
		var ticks plot.ConstantTicks
		for _, m := range a.marks {
			ticks = append(ticks, plot.Tick{Value: m.at, Label: m.label})
		}
		a.axis.Tick.Marker = ticks
	}
	return p
}

// grid is the faint net at the labelled places; gonum draws none at a place
// without a label.
func grid() *plotter.Grid {
	line := draw.LineStyle{Color: rule, Width: 0.6}
	return &plotter.Grid{Vertical: line, Horizontal: line}
}

// outline turns estimates at points into the corners of a curve: the points
// themselves where they are joined by straight lines.
func outline(ps []point, value func(point) float64, joined bool) plotter.XYs {
	if !joined {
		return steps(ps, value)
	}
	var xys plotter.XYs
	for _, p := range ps {
		xys = append(xys, plotter.XY{X: p.x, Y: value(p)})
	}
	return xys
}

// levelMarks are round values from below low to above high, about four steps
// of them, labelled without a unit.
func levelMarks(low, high float64) []mark {
	step := math.Pow(10, math.Floor(math.Log10(max(high-low, 1e-6)/4)))
	for _, factor := range []float64{1, 2, 5, 10} {
		if (high-low)/(factor*step) <= 5 {
			step *= factor
			break
		}
	}
	digits := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var ms []mark
	for k := math.Floor(low/step + 1e-9); ; k++ {
		ms = append(ms, mark{at: k * step, label: words.Rounded(k*step, digits)})
		if k*step >= high-1e-9*step && len(ms) > 1 {
			return ms
		}
	}
}

// steps turns estimates at points into the corners of a curve that holds each
// value until the next.
func steps(ps []point, value func(point) float64) plotter.XYs {
	var xys plotter.XYs
	for i, p := range ps {
		if i > 0 {
			xys = append(xys, plotter.XY{X: p.x, Y: value(ps[i-1])})
		}
		xys = append(xys, plotter.XY{X: p.x, Y: value(p)})
	}
	return xys
}

func middle(p point) float64 { return p.y }
func lower(p point) float64  { return p.low }
func upper(p point) float64  { return p.high }

// band is the interval of a curve as an area without an outline.
func band(ps []point, joined bool) (*plotter.Polygon, error) {
	edge := outline(ps, upper, joined)
	under := outline(ps, lower, joined)
	for i := len(under) - 1; i >= 0; i-- {
		edge = append(edge, under[i])
	}
	area, err := plotter.NewPolygon(edge)
	if err != nil {
		return nil, err
	}
	area.Color = blue2
	area.Width = 0
	return area, nil
}

// spread moves labels that want to stand at the heights ys (in any order) apart
// until they are gap from each other, keeping them inside [low, high].
func spread(ys []vg.Length, gap, low, high vg.Length) []vg.Length {
	order := make([]int, len(ys))
	for i := range order {
		order[i] = i
	}
	// The few labels of a picture: insertion, equal ones with the first on top.
	for i := 1; i < len(order); i++ {
		for j := i; j > 0 && ys[order[j]] <= ys[order[j-1]]; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	out := make([]vg.Length, len(ys))
	floor := low
	for _, i := range order {
		out[i] = max(ys[i], floor)
		floor = out[i] + gap
	}
	ceiling := high
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		out[i] = min(out[i], ceiling)
		ceiling = out[i] - gap
	}
	return out
}
