package figures

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/vg"
)

// Check lists what would annoy or mislead at first sight in an SVG written by
// this package: text outside the picture, text over text, a line or an area
// that has no extent, a picture that holds nothing but its axes. Text is
// measured with the metrics of the font it is set in. An error means that svg
// is not such a picture.
func Check(svg []byte) ([]string, error) {
	p, err := parsePicture(svg)
	if err != nil {
		return nil, err
	}
	var faults []string
	for i, t := range p.texts {
		// A quarter of a point is less than the eye sees and more than rounding.
		if t.box.minX < -0.25 || t.box.minY < -0.25 || t.box.maxX > p.width+0.25 || t.box.maxY > p.height+0.25 {
			faults = append(faults, fmt.Sprintf("the text %q stands outside the picture", t.words))
		}
		for _, other := range p.texts[:i] {
			if t.box.meets(other.box) {
				faults = append(faults, fmt.Sprintf("the texts %q and %q overlap", other.words, t.words))
			}
		}
	}
	if len(p.texts) == 0 {
		faults = append(faults, "the picture says nothing")
	}
	if p.empty > 0 {
		faults = append(faults, fmt.Sprintf("%d lines or areas have no extent", p.empty))
	}
	if p.data == 0 {
		faults = append(faults, "nothing is drawn but axes")
	}
	return faults, nil
}

// parsed is an SVG picture as its checks see it; y runs downwards.
type parsed struct {
	width, height float64
	texts         []placedText
	data          int // shapes in a colour, which only data have
	empty         int
}

type placedText struct {
	words string
	box   box
}

type box struct{ minX, minY, maxX, maxY float64 }

func (b box) meets(o box) bool {
	return b.minX < o.maxX && o.minX < b.maxX && b.minY < o.maxY && o.minY < b.maxY
}

// matrix is an affine map in SVG's order: x' = ax + cy + e, y' = bx + dy + f.
type matrix [6]float64

func (m matrix) times(n matrix) matrix {
	return matrix{
		m[0]*n[0] + m[2]*n[1], m[1]*n[0] + m[3]*n[1],
		m[0]*n[2] + m[2]*n[3], m[1]*n[2] + m[3]*n[3],
		m[0]*n[4] + m[2]*n[5] + m[4], m[1]*n[4] + m[3]*n[5] + m[5],
	}
}

func (m matrix) apply(x, y float64) (float64, float64) {
	return m[0]*x + m[2]*y + m[4], m[1]*x + m[3]*y + m[5]
}

func parsePicture(svg []byte) (parsed, error) {
	var p parsed
	stack := []matrix{{1, 0, 0, 1, 0, 0}}
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return p, fmt.Errorf("read SVG: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			m, err := parseTransform(attribute(t, "transform"))
			if err != nil {
				return p, err
			}
			m = stack[len(stack)-1].times(m)
			stack = append(stack, m)
			switch t.Name.Local {
			case "svg":
				if _, err := fmt.Sscanf(attribute(t, "viewBox"), "0 0 %g %g", &p.width, &p.height); err != nil {
					return p, fmt.Errorf("read viewBox: %w", err)
				}
			case "path":
				p.addShape(attribute(t, "d"), attribute(t, "style"))
			case "text":
				var size textBox
				if size, err = parseTextBox(t); err != nil {
					return p, err
				}
				size.at = m
				words, err := characters(d)
				if err != nil {
					return p, err
				}
				stack = stack[:len(stack)-1]
				p.texts = append(p.texts, placedText{words: words, box: size.around(words)})
			}
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		}
	}
	if p.width <= 0 || p.height <= 0 {
		return p, errors.New("read SVG: no viewBox")
	}
	return p, nil
}

// addShape counts a path.
func (p *parsed) addShape(d, style string) {
	if !strings.ContainsAny(d, "LAQC") {
		p.empty++
		return
	}
	for _, ink := range []string{"fill", "stroke"} {
		if c := declaration(style, ink); strings.HasPrefix(c, "#") && !isGrey(c) {
			p.data++
		}
	}
}

// isGrey is true for the inks of everything that is not data: red, green and
// blue lie within a tenth of the scale.
func isGrey(hex string) bool {
	v, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil {
		return false
	}
	r, g, b := int(v>>16&0xff), int(v>>8&0xff), int(v&0xff)
	return max(r, g, b)-min(r, g, b) <= 26
}

// textBox is where and in what a text is set.
type textBox struct {
	x, y float64
	face face
	at   matrix
}

func parseTextBox(t xml.StartElement) (textBox, error) {
	var b textBox
	style := attribute(t, "style")
	size, err := strconv.ParseFloat(strings.TrimSuffix(declaration(style, "font-size"), "px"), 64)
	if err != nil {
		return b, fmt.Errorf("size of a text: %w", err)
	}
	if b.x, err = strconv.ParseFloat(attribute(t, "x"), 64); err != nil {
		return b, fmt.Errorf("place of a text: %w", err)
	}
	if b.y, err = strconv.ParseFloat(attribute(t, "y"), 64); err != nil {
		return b, fmt.Errorf("place of a text: %w", err)
	}
	weight := stdfont.WeightNormal
	if declaration(style, "font-weight") == "bold" {
		weight = stdfont.WeightBold
	}
	b.face = newFace(vg.Length(size), weight, ink)
	return b, nil
}

// around returns the box from the height of capitals to the depth of a "g".
func (b textBox) around(words string) box {
	size := b.face.font.Font.Size.Points()
	width := b.face.width(words).Points()
	out := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, corner := range [][2]float64{{0, -0.73 * size}, {width, -0.73 * size}, {0, 0.21 * size}, {width, 0.21 * size}} {
		x, y := b.at.apply(b.x+corner[0], b.y+corner[1])
		out.minX, out.maxX = min(out.minX, x), max(out.maxX, x)
		out.minY, out.maxY = min(out.minY, y), max(out.maxY, y)
	}
	return out
}

// parseTransform reads a list of scale, translate and rotate.
func parseTransform(s string) (matrix, error) {
	m := matrix{1, 0, 0, 1, 0, 0}
	for rest := strings.TrimSpace(s); rest != ""; {
		name, tail, found := strings.Cut(rest, "(")
		args, after, closed := strings.Cut(tail, ")")
		if !found || !closed {
			return m, fmt.Errorf("transform %q is not understood", s)
		}
		var v []float64
		for _, a := range strings.FieldsFunc(args, func(r rune) bool { return r == ',' || r == ' ' }) {
			f, err := strconv.ParseFloat(a, 64)
			if err != nil {
				return m, fmt.Errorf("transform %q: %w", s, err)
			}
			v = append(v, f)
		}
		switch {
		case name == "scale" && len(v) == 2:
			m = m.times(matrix{v[0], 0, 0, v[1], 0, 0})
		case name == "translate" && len(v) == 2:
			m = m.times(matrix{1, 0, 0, 1, v[0], v[1]})
		case name == "rotate" && len(v) == 1:
			sin, cos := math.Sincos(v[0] * math.Pi / 180)
			m = m.times(matrix{cos, sin, -sin, cos, 0, 0})
		default:
			return m, fmt.Errorf("transform %q is not understood", s)
		}
		rest = strings.TrimSpace(after)
	}
	return m, nil
}

// characters reads the text up to the end of the element.
func characters(d *xml.Decoder) (string, error) {
	var words strings.Builder
	for {
		token, err := d.Token()
		if err != nil {
			return "", fmt.Errorf("read SVG: %w", err)
		}
		switch t := token.(type) {
		case xml.CharData:
			words.Write(t)
		case xml.EndElement:
			return words.String(), nil
		}
	}
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// declaration returns the value of a property in a style.
func declaration(style, property string) string {
	for part := range strings.SplitSeq(style, ";") {
		if name, value, found := strings.Cut(part, ":"); found && strings.TrimSpace(name) == property {
			return strings.TrimSpace(value)
		}
	}
	return ""
}
