// Package figures draws the plots of the reports. A picture goes in as figures
// that the small-count gate has released and comes out as SVG (text as text),
// PNG at twice the screen's size and a CSV of the numbers drawn, the same bytes
// every time.
package figures

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Caution stands in every picture.
const Caution = "Routine records, not proof of cause."

// NothingShownError says that no number of a picture may be or can be shown, so
// that there is nothing to draw. An empty axis would look like a result.
type NothingShownError struct {
	// Reason is a sentence for the place where the picture would have stood.
	Reason string
}

func (e *NothingShownError) Error() string { return "nothing to draw: " + e.Reason }

// Plot is one finished picture. The three files are Name with .svg, .png and .csv.
type Plot struct {
	Name  string // file name without its extension
	Title string // the sentence over the picture
	Alt   string // what the picture shows, for a reader who cannot see it
	SVG   []byte
	PNG   []byte
	CSV   []byte
}

// picture is what every plot is made of: words around a drawing.
type picture struct {
	name     string // file name without its extension
	id       string // the figures drawn, as trace knows them
	title    string // a sentence; it wraps
	subtitle string // persons, period, as-of
	notes    []string
	madeUp   bool // the practice is a made-up one; the picture says so
	alt      string
	body     vg.Length // height of the drawing, points
	draw     func(draw.Canvas) error
	table    [][]string // the numbers drawn, headings first
}

// render draws the picture in all its forms.
func (p picture) render() (Plot, error) {
	out := Plot{Name: fileName(p.name), Title: p.title, Alt: p.alt}
	height := p.height()

	svg := vgsvg.New(pictureWidth, height)
	page := draw.New(svg)
	page.SetColor(paper)
	page.Fill(page.Path())
	if err := p.paint(page); err != nil {
		return Plot{}, fmt.Errorf("draw %s: %w", p.id, err)
	}
	var raw bytes.Buffer
	if _, err := svg.WriteTo(&raw); err != nil {
		return Plot{}, fmt.Errorf("write %s as SVG: %w", p.id, err)
	}
	finished, err := finishSVG(raw.Bytes(), out, height)
	if err != nil {
		return Plot{}, fmt.Errorf("write %s as SVG: %w", p.id, err)
	}
	out.SVG = finished

	img := vgimg.NewWith(vgimg.UseWH(pictureWidth, height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(paper))
	if err := p.paint(draw.New(img)); err != nil {
		return Plot{}, fmt.Errorf("draw %s: %w", p.id, err)
	}
	pixels, ok := img.Image().(*image.RGBA)
	if !ok {
		return Plot{}, fmt.Errorf("write %s as PNG: the drawing library draws on %T", p.id, img.Image())
	}
	if out.PNG, err = writePNG(pixels); err != nil {
		return Plot{}, fmt.Errorf("write %s as PNG: %w", p.id, err)
	}

	var table bytes.Buffer
	w := csv.NewWriter(&table)
	if err := w.WriteAll(p.table); err != nil {
		return Plot{}, fmt.Errorf("write %s as CSV: %w", p.id, err)
	}
	out.CSV = table.Bytes()
	return out, nil
}

// The faces of the words around a drawing.
func titleFace() face    { return bold(titleSize, ink) }
func subtitleFace() face { return regular(textSize, quiet) }
func noteFace() face     { return regular(noteSize, quiet) }

const textWidth = pictureWidth - 2*margin

// height is that of the whole picture.
func (p picture) height() vg.Length {
	title, subtitle, notes := p.words()
	return 2*margin + p.body +
		vg.Length(len(title))*titleFace().line() +
		vg.Length(len(subtitle))*subtitleFace().line() + gapUnderHead +
		vg.Length(len(notes))*noteFace().line() + gapOverNotes
}

const (
	gapUnderHead vg.Length = 8
	gapOverNotes vg.Length = 8
)

// words are the lines over and under the drawing.
func (p picture) words() (title, subtitle, notes []string) {
	title = titleFace().wrapEven(p.title, textWidth)
	subtitle = subtitleFace().wrapEven(p.subtitle, textWidth)
	for _, n := range p.notes {
		notes = append(notes, noteFace().wrap(n, textWidth)...)
	}
	last := Caution + " Figure " + p.id + "."
	if p.madeUp {
		last = "A made-up practice. " + last
	}
	notes = append(notes, noteFace().wrap(last, textWidth)...)
	return title, subtitle, notes
}

// paint sets the words on paper and calls the drawing with the canvas that is left.
func (p picture) paint(c draw.Canvas) error {
	title, subtitle, notes := p.words()
	y := c.Max.Y - margin
	set := func(lines []string, f face) {
		for _, l := range lines {
			y -= f.line()
			f.write(c, vg.Point{X: c.Min.X + margin, Y: y + f.line() - f.font.Font.Size}, draw.XLeft, l)
		}
	}
	set(title, titleFace())
	set(subtitle, subtitleFace())
	top := y - gapUnderHead
	y = top - p.body - gapOverNotes
	set(notes, noteFace())

	return p.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
		Min: vg.Point{X: c.Min.X + margin, Y: top - p.body},
		Max: vg.Point{X: c.Max.X - margin, Y: top},
	}})
}

// fileName turns a figure id into a name that every file system takes.
func fileName(id string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			return r
		}
		return '-'
	}, id)
}
