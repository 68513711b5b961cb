package workbooks

import (
	"fmt"

	"github.com/xuri/excelize/v2"
)

// Charts stand in a column at the right of the table, each beside its own rows
// or under the chart before it.
const (
	chartWidth  = 600 // pixels
	chartHeight = 340
	chartRows   = 20 // rows that a chart takes, with the gap under it
)

func (w *sheetWriter) writeCharts() error {
	free := 0
	for _, c := range w.sheet.Charts {
		// Not in the row of headings, which is printed again on every page
		// with all that stands in it.
		row := w.head + 1 + c.From
		if row >= free && free > 0 {
			// On paper a chart is not torn from its rows, nor apart.
			if err := w.file.InsertPageBreak(w.sheet.Name, fmt.Sprintf("A%d", row)); err != nil {
				return err
			}
		}
		row = max(row, free)
		free = row + chartRows
		anchor, err := excelize.CoordinatesToCellName(len(w.sheet.Columns)+2, row)
		if err != nil {
			return err
		}
		chart, err := w.chart(c)
		if err != nil {
			return err
		}
		if err := w.file.AddChart(w.sheet.Name, anchor, chart); err != nil {
			return fmt.Errorf("chart %q: %w", c.Title, err)
		}
	}
	return nil
}

func (w *sheetWriter) chart(c LineChart) (*excelize.Chart, error) {
	title := excelize.Font{Family: fontFamily, Size: 11, Bold: true, Color: inkText}
	small := excelize.Font{Family: fontFamily, Size: 9, Color: inkQuiet}
	vary := false
	chart := &excelize.Chart{
		Type:         excelize.Line,
		Title:        excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Font: &title, Text: c.Title}}},
		Legend:       excelize.ChartLegend{Position: "bottom", Font: &small},
		Dimension:    excelize.ChartDimension{Width: chartWidth, Height: chartHeight},
		VaryColors:   &vary,
		ShowBlanksAs: "gap", // a hidden number is a hole, not a zero
		Border:       excelize.LineOptions{Type: excelize.LineNone},
		Format:       excelize.GraphicOptions{AltText: c.Alt},
		// The library's own grey of axis labels can hardly be read.
		XAxis: excelize.ChartAxis{Font: small, Title: axisTitle(c.XTitle, small), TickLabelSkip: c.LabelEvery},
		YAxis: excelize.ChartAxis{Font: small, Title: axisTitle(c.YTitle, small), MajorGridLines: true},
	}
	if c.Percent {
		zero, one := 0.0, 1.0
		chart.YAxis.Minimum, chart.YAxis.Maximum, chart.YAxis.MajorUnit = &zero, &one, 0.25
		chart.YAxis.NumFmt = excelize.ChartNumFmt{CustomNumFmt: `0\ %`}
	}
	for _, l := range c.Lines {
		s, err := w.series(c, l)
		if err != nil {
			return nil, err
		}
		chart.Series = append(chart.Series, s)
	}
	return chart, nil
}

func axisTitle(s string, font excelize.Font) excelize.ChartTitle {
	if s == "" {
		return excelize.ChartTitle{}
	}
	return excelize.ChartTitle{Paragraph: []excelize.RichTextRun{{Font: &font, Text: s}}}
}

// series sets a line's colour by Fill: the library takes it from there. It
// writes a name as a reference, so a name has to be a cell.
func (w *sheetWriter) series(c LineChart, l Line) (excelize.ChartSeries, error) {
	categories, err := w.column(c.Categories, c.From, c.To)
	if err != nil {
		return excelize.ChartSeries{}, err
	}
	values, err := w.column(l.Column, c.From, c.To)
	if err != nil {
		return excelize.ChartSeries{}, err
	}
	name, err := excelize.CoordinatesToCellName(l.Column+1, w.head, true)
	if err != nil {
		return excelize.ChartSeries{}, err
	}
	look := map[Role]struct {
		ink   string
		width float64
		dash  excelize.LineDashType
	}{
		Estimate: {inkDark, 2.25, excelize.LineDashUnset},
		Limit:    {inkDark, 1, excelize.LineDashDash},
		Other:    {inkLight, 1.5, excelize.LineDashUnset},
	}[l.Role]
	return excelize.ChartSeries{
		Name:       quoted(w.sheet.Name) + "!" + name,
		Categories: categories,
		Values:     values,
		Fill:       excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{look.ink}},
		Line:       excelize.LineOptions{Type: excelize.LineSolid, Width: look.width, Dash: look.dash},
		Marker:     excelize.ChartMarker{Symbol: "none"},
	}, nil
}

// column is the reference of a stretch of a column, rows counted in the table.
func (w *sheetWriter) column(column, from, to int) (string, error) {
	name, err := excelize.ColumnNumberToName(column + 1)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s!$%s$%d:$%s$%d", quoted(w.sheet.Name), name, w.head+1+from, name, w.head+to), nil
}
