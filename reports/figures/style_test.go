package figures

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
)

func TestWrapKeepsEveryWordAndTheWidth(t *testing.T) {
	f := titleFace()
	text := "Calf strain: of 20 people who begin care, about 11 are back at their target by week 12, or 55 % of them (the data fit 10 to 12)"
	for width := vg.Length(90); width < 500; width += 13 {
		for name, lines := range map[string][]string{"wrap": f.wrap(text, width), "wrapEven": f.wrapEven(text, width)} {
			if got := strings.ReplaceAll(strings.Join(lines, " "), "\u00a0", " "); got != text {
				t.Errorf("%s at %g: %q", name, width, got)
			}
			for _, l := range lines {
				if f.width(l) > width {
					t.Errorf("%s at %g: %q is %g wide", name, width, l, f.width(l))
				}
				if strings.HasPrefix(strings.TrimSpace(l), "%") {
					t.Errorf("%s at %g: a line begins with the per cent sign", name, width)
				}
			}
		}
		if a, b := len(f.wrap(text, width)), len(f.wrapEven(text, width)); a != b {
			t.Errorf("at %g even lines are %d, not %d", width, b, a)
		}
	}
	if lines := f.wrap("  ", 100); len(lines) != 0 {
		t.Errorf("blank text gives %q", lines)
	}
	if lines := f.wrapEven("unbreakable", 5); len(lines) != 1 {
		t.Errorf("a word wider than the line gives %q", lines)
	}
}

func TestSpreadMovesLabelsApartAndKeepsTheirOrder(t *testing.T) {
	for _, c := range []struct {
		name          string
		ys            []vg.Length
		gap, low, top vg.Length
		want          []vg.Length
	}{
		{"far apart", []vg.Length{20, 80}, 30, 0, 100, []vg.Length{20, 80}},
		{"touching, lower first", []vg.Length{20, 25}, 30, 0, 100, []vg.Length{20, 50}},
		{"touching, higher first", []vg.Length{25, 20}, 30, 0, 100, []vg.Length{50, 20}},
		{"at the top", []vg.Length{95, 90}, 30, 0, 100, []vg.Length{100, 70}},
		{"under the bottom", []vg.Length{-5, 2}, 30, 10, 100, []vg.Length{10, 40}},
		{"none", nil, 30, 0, 100, nil},
	} {
		got := spread(c.ys, c.gap, c.low, c.top)
		for i := range c.want {
			if got[i] != c.want[i] {
				t.Errorf("%s: got %v, wanted %v", c.name, got, c.want)
				break
			}
		}
	}
}

// The inks keep their order of lightness in a grey print, and what is written
// in them can be read on paper (contrast of 4.5 by WCAG 2.2, 1.4.3).
func TestInksInGrey(t *testing.T) {
	last := 2.0
	for i, c := range []struct{ r, g, b uint8 }{
		{paper.R, paper.G, paper.B}, {blue2.R, blue2.G, blue2.B}, {blue3.R, blue3.G, blue3.B}, {blue5.R, blue5.G, blue5.B},
	} {
		l := luminance(c.r, c.g, c.b)
		if l > last*0.8 {
			t.Errorf("ink %d is hardly darker than the one before: %.2f after %.2f", i, l, last)
		}
		last = l
	}
	for _, c := range []struct{ r, g, b uint8 }{{ink.R, ink.G, ink.B}, {quiet.R, quiet.G, quiet.B}, {blue5.R, blue5.G, blue5.B}} {
		if contrast := 1.05 / (luminance(c.r, c.g, c.b) + 0.05); contrast < 4.5 {
			t.Errorf("text in %v has a contrast of %.1f", c, contrast)
		}
	}
}

// luminance is the relative luminance of WCAG 2.2.
func luminance(r, g, b uint8) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}
