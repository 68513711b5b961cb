package workbooks

import (
	"strings"

	"github.com/xuri/excelize/v2"
)

// The look: the family and inks of the plots, without fills that cost paper.
const (
	fontFamily = "Arial"
	inkText    = "1F262D"
	inkQuiet   = "555F69"
	inkRule    = "D9DDE2"
	inkHead    = "EEF2F6" // behind headings
	inkDark    = "08519C" // the estimate
	inkLight   = "6BAED6" // what stands beside it
)

// textFormat is the built-in number format "@": a text cell that is edited
// stays text.
const textFormat = 49

// styles makes each style of a workbook once, in the order of first use, so that
// equal books number them equally.
type styles struct {
	file  *excelize.File
	known map[styleKey]int
}

type styleKey struct {
	kind   kind
	digits int
}

// of returns the style of a cell.
func (s *styles) of(c Cell) (int, error) {
	key := styleKey{c.kind, c.digits}
	if id, ok := s.known[key]; ok {
		return id, nil
	}
	style := excelize.Style{
		Font:      &excelize.Font{Family: fontFamily, Size: 10, Color: inkText},
		Alignment: &excelize.Alignment{Vertical: "top", WrapText: true},
		Border:    []excelize.Border{{Type: "bottom", Color: inkRule, Style: 1}},
	}
	switch c.kind {
	case number, percent, date, note:
		style.Alignment.Horizontal, style.Alignment.Indent = "right", 1
	default:
	}
	switch c.kind {
	case number:
		style.CustomNumFmt = format("#,##0", c.digits, "")
	case percent:
		style.CustomNumFmt = format("0", c.digits, `\ %`)
	case date:
		style.CustomNumFmt = format("yyyy-mm-dd", 0, "")
	case note:
		style.NumFmt = textFormat
		style.Font.Italic, style.Font.Color = true, inkQuiet
	default:
		style.NumFmt = textFormat
	}
	id, err := s.file.NewStyle(&style)
	if err != nil {
		return 0, err
	}
	s.known[key] = id
	return id, nil
}

// format is a number format: whole part, digits after the point, what follows.
func format(whole string, digits int, after string) *string {
	f := whole
	if digits > 0 {
		f += "." + strings.Repeat("0", digits)
	}
	f += after
	return &f
}

// words returns the style of text outside the table.
func (s *styles) words(size float64, isBold bool, color string) (int, error) {
	return s.file.NewStyle(&excelize.Style{
		NumFmt:    textFormat,
		Font:      &excelize.Font{Family: fontFamily, Size: size, Bold: isBold, Color: color},
		Alignment: &excelize.Alignment{Vertical: "top", WrapText: true},
	})
}

// head returns the style of a column heading, on the side of its cells.
func (s *styles) head(right bool) (int, error) {
	side, indent := "", 0
	if right {
		side, indent = "right", 1
	}
	return s.file.NewStyle(&excelize.Style{
		NumFmt:    textFormat,
		Font:      &excelize.Font{Family: fontFamily, Size: 10, Bold: true, Color: inkText},
		Fill:      excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{inkHead}},
		Alignment: &excelize.Alignment{Vertical: "bottom", Horizontal: side, Indent: indent, WrapText: true},
		Border:    []excelize.Border{{Type: "bottom", Color: inkQuiet, Style: 1}},
	})
}
