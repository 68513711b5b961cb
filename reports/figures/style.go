package figures

import (
	"image/color"
	"slices"
	"sort"
	"strings"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The inks. Amounts are one hue from light to dark: steps two, three and five
// of the five-class "Blues" of ColorBrewer (Brewer, Hatchard and Harrower 2003), which is safe for colour-blind
// readers and keeps its order in a grey print. Everything that is not
// data is grey.
var (
	paper = color.RGBA{R: 0xff, G: 0xff, B: 0xff, A: 0xff}
	blue2 = color.RGBA{R: 0xbd, G: 0xd7, B: 0xe7, A: 0xff}
	blue3 = color.RGBA{R: 0x6b, G: 0xae, B: 0xd6, A: 0xff}
	blue4 = color.RGBA{R: 0x31, G: 0x82, B: 0xbd, A: 0xff}
	blue5 = color.RGBA{R: 0x08, G: 0x51, B: 0x9c, A: 0xff}
	ink   = color.RGBA{R: 0x1f, G: 0x26, B: 0x2d, A: 0xff} // titles and numbers
	quiet = color.RGBA{R: 0x55, G: 0x5f, B: 0x69, A: 0xff} // everything said beside them
	rule  = color.RGBA{R: 0xd9, G: 0xdd, B: 0xe2, A: 0xff} // grid lines
	crowd = color.RGBA{R: 0xec, G: 0xef, B: 0xf2, A: 0xff} // where most people lie
	axis  = color.RGBA{R: 0x8a, G: 0x93, B: 0x9c, A: 0xff}
)

// Sizes in points. A picture is as wide as the text of an A4 page less its
// margins allow, so that its type prints at the size it was set in.
const (
	pictureWidth vg.Length = 460
	margin       vg.Length = 10
	pngDPI                 = 2 * 96 // twice the screen's pixels

	titleSize vg.Length = 13.5
	textSize  vg.Length = 10.5
	noteSize  vg.Length = 9
	leading   vg.Length = 1.3 // distance of baselines over size of type
)

// fontFamily is what the SVG asks for: the face it was measured with, then the
// one of the same widths, then whatever the reader has.
const fontFamily = "Liberation Sans, Arial, sans-serif"

// fonts is the one cache of faces; it only grows by lookups and is safe for
// several goroutines.
var fonts = font.NewCache(liberation.Collection())

// face is a size and weight of type in an ink.
type face struct {
	font font.Face
	ink  color.Color
}

func regular(size vg.Length, ink color.Color) face {
	return newFace(size, stdfont.WeightNormal, ink)
}

func bold(size vg.Length, ink color.Color) face {
	return newFace(size, stdfont.WeightBold, ink)
}

func newFace(size vg.Length, weight stdfont.Weight, ink color.Color) face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight}
	return face{font: fonts.Lookup(f, size), ink: ink}
}

// in is the same type in another ink.
func (f face) in(ink color.Color) face {
	f.ink = ink
	return f
}

func (f face) width(s string) vg.Length { return f.font.Width(s) }

// line is the distance between two baselines.
func (f face) line() vg.Length { return f.font.Font.Size * leading }

// style is the face for gonum/plot's own axes.
func (f face) style(x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: f.ink, Font: f.font.Font, XAlign: x, YAlign: y, Handler: text.Plain{Fonts: fonts}}
}

// write sets s with its baseline at pt; align is draw.XLeft, XCenter or XRight.
func (f face) write(c draw.Canvas, pt vg.Point, align text.XAlignment, s string) {
	c.SetColor(f.ink)
	c.FillString(f.font, vg.Point{X: pt.X + vg.Length(align)*f.width(s), Y: pt.Y}, s)
}

// writeOver sets s on a strip of paper, so that no grid line runs through it.
func (f face) writeOver(c draw.Canvas, pt vg.Point, s string) {
	size := f.font.Font.Size
	low, high := vg.Point{X: pt.X - 2, Y: pt.Y - 0.3*size}, vg.Point{X: pt.X + f.width(s) + 2, Y: pt.Y + size}
	c.FillPolygon(paper, []vg.Point{low, {X: high.X, Y: low.Y}, high, {X: low.X, Y: high.Y}})
	f.write(c, pt, draw.XLeft, s)
}

// wrapEven breaks s like wrap into as few lines, of about equal length: it takes
// the narrowest width that needs no more of them.
func (f face) wrapEven(s string, width vg.Length) []string {
	most := len(f.wrap(s, width))
	narrowest := sort.Search(int(width), func(w int) bool {
		lines := f.wrap(s, vg.Length(w))
		return len(lines) <= most && !slices.ContainsFunc(lines, func(l string) bool { return f.width(l) > vg.Length(w) })
	})
	return f.wrap(s, vg.Length(narrowest))
}

// gluedPercent stands for " %" while a text is broken at its spaces: a
// character for private use, which no label holds.
const gluedPercent = "\ue000"

// wrap breaks s into lines no wider than width. A word wider than that gets a
// line of its own; a number keeps its per cent sign.
func (f face) wrap(s string, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(strings.ReplaceAll(s, " %", gluedPercent)) {
		word = strings.ReplaceAll(word, gluedPercent, "\u00a0%")
		joined := strings.TrimSpace(line + " " + word)
		if line != "" && f.width(joined) > width {
			lines = append(lines, line)
			joined = word
		}
		line = joined
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
