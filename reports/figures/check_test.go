package figures

import (
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// faulty is a picture with one drawing in a body of 100 points.
func faulty(t *testing.T, d func(draw.Canvas)) []string {
	t.Helper()
	p, err := picture{
		name: "probe", id: "probe", title: "A probe", subtitle: "of the checks", body: 100,
		draw: func(c draw.Canvas) error { d(c); return nil },
	}.render()
	if err != nil {
		t.Fatal(err)
	}
	faults, err := Check(p.SVG)
	if err != nil {
		t.Fatal(err)
	}
	return faults
}

func TestCheckFindsWhatItNames(t *testing.T) {
	label := regular(textSize, ink)
	square := func(c draw.Canvas) {
		at := c.Center()
		c.FillPolygon(blue5, []vg.Point{at, {X: at.X + 9, Y: at.Y}, {X: at.X + 9, Y: at.Y + 9}})
	}
	for _, c := range []struct {
		name string
		want string // part of the only fault, empty for none
		draw func(draw.Canvas)
	}{
		{"nothing wrong", "", square},
		{"text over the right edge", `"far too long" stands outside`, func(c draw.Canvas) {
			square(c)
			label.write(c, vg.Point{X: c.Max.X - 10, Y: c.Center().Y}, draw.XLeft, "far too long")
		}},
		{"text over the left edge", `"far too long" stands outside`, func(c draw.Canvas) {
			square(c)
			label.write(c, vg.Point{X: c.Min.X, Y: c.Center().Y}, draw.XRight, "far too long")
		}},
		{"text over text", `"one" and "other" overlap`, func(c draw.Canvas) {
			square(c)
			label.write(c, c.Center(), draw.XLeft, "one")
			label.write(c, vg.Point{X: c.Center().X + 8, Y: c.Center().Y - 5}, draw.XLeft, "other")
		}},
		{"text side by side", "", func(c draw.Canvas) {
			square(c)
			label.write(c, c.Center(), draw.XRight, "one")
			label.write(c, vg.Point{X: c.Center().X + 1, Y: c.Center().Y}, draw.XLeft, "other")
		}},
		{"turned text over the top", `"tall" stands outside`, func(c draw.Canvas) {
			square(c)
			c.Push()
			c.Translate(vg.Point{X: c.Center().X, Y: c.Max.Y + 55})
			c.Rotate(1.5707963267948966)
			label.write(c, vg.Point{}, draw.XLeft, "tall")
			c.Pop()
		}},
		{"a line of one place", "no extent", func(c draw.Canvas) {
			square(c)
			c.StrokeLines(draw.LineStyle{Color: blue5, Width: 1}, []vg.Point{c.Center()})
		}},
		{"axes without data", "nothing is drawn but axes", func(c draw.Canvas) {
			c.StrokeLine2(draw.LineStyle{Color: axis, Width: 1}, c.Min.X, c.Min.Y, c.Max.X, c.Min.Y)
		}},
	} {
		faults := faulty(t, c.draw)
		if c.want == "" && len(faults) == 0 {
			continue
		}
		if len(faults) != 1 || c.want == "" || !strings.Contains(faults[0], c.want) {
			t.Errorf("%s: found %q, wanted one fault with %q", c.name, faults, c.want)
		}
	}
}

func TestCheckRefusesWhatIsNoPicture(t *testing.T) {
	for _, svg := range []string{
		"", "<svg", "<html></html>",
		`<svg viewBox="0 0 10 10"><g transform="skewX(3)"></g></svg>`,
		`<svg viewBox="0 0 10 10"><text x="1" y="1">no size</text></svg>`,
	} {
		if faults, err := Check([]byte(svg)); err == nil {
			t.Errorf("%q passes with %q", svg, faults)
		}
	}
}

func TestWeekAxisHoldsTheWholeCurve(t *testing.T) {
	for last := 1.0; last <= lastWeek; last++ {
		marks := weekAxis(last)
		if end := marks[len(marks)-1]; end.at < last || end.label == "" || marks[0].at != 0 {
			t.Errorf("a curve to week %g has an axis to %v", last, end)
		}
		if !slices.IsSortedFunc(marks, func(a, b mark) int { return int(a.at - b.at) }) {
			t.Errorf("marks out of order: %v", marks)
		}
	}
}
