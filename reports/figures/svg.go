package figures

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"

	"gonum.org/v1/plot/vg"
)

// pixelsPerPoint is the size of a point on a screen, by the definition of CSS.
const pixelsPerPoint = 96.0 / 72

// finishSVG turns what gonum/plot writes into a picture for a page: it may
// stand inside HTML or alone, shrinks with its column, is read out by title and
// description, and falls back to fonts of the same widths.
func finishSVG(raw []byte, p Plot, height vg.Length) ([]byte, error) {
	_, body, found := bytes.Cut(raw, []byte(`xmlns:xlink="http://www.w3.org/1999/xlink">`))
	if !found {
		return nil, errors.New("the drawing library's SVG does not begin as expected")
	}
	body = bytes.ReplaceAll(body, []byte("font-family:Liberation Sans"), []byte("font-family:"+fontFamily))
	body = bytes.ReplaceAll(body, []byte("\n\tstyle="), []byte(" style="))

	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="0 0 %.5g %.5g"`+
		` style="max-width:100%%;height:auto" role="img" aria-labelledby="%s-title %s-desc">`+"\n",
		pictureWidth.Points()*pixelsPerPoint, height.Points()*pixelsPerPoint,
		pictureWidth.Points(), height.Points(), p.Name, p.Name)
	for _, part := range []struct{ element, words string }{{"title", p.Title}, {"desc", p.Alt}} {
		fmt.Fprintf(&out, `<%s id="%s-%s">`, part.element, p.Name, part.element)
		if err := xml.EscapeText(&out, []byte(part.words)); err != nil {
			return nil, err
		}
		fmt.Fprintf(&out, "</%s>\n", part.element)
	}
	out.Write(bytes.TrimLeft(body, "\n"))
	return out.Bytes(), nil
}
