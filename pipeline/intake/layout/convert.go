package layout

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// dayAfter counts whole days from another date of the row, or from the start of
// its episode.
func (p *Pass) dayAfter(m *maker, c *column, text string, values []string) (string, *fault) {
	days, err := strconv.Atoi(text)
	if err != nil {
		return "", &fault{NotDays, "which is not a number of whole days; correct the cell"}
	}
	if c.spec.Cell.DaysAfter == settings.EpisodeStart {
		episode := ""
		if m.episode >= 0 {
			episode = values[m.episode]
		}
		start, ok := p.starts[episode]
		if !ok && p.Starts != nil {
			start, ok = p.Starts(episode)
		}
		if !ok {
			return "", &fault{StartUnknown, fmt.Sprintf("days after the start of the episode %q, which has not arrived; send the episode, then this row again", Shown(episode))}
		}
		return start.AddDate(0, 0, days).Format(time.DateOnly), nil
	}
	base, err := time.Parse(time.DateOnly, values[c.daysAfter])
	if err != nil {
		return "", &fault{StartUnknown, fmt.Sprintf("days after %s, which is empty or wrong; fill it in", c.spec.Cell.DaysAfter)}
	}
	return base.AddDate(0, 0, days).Format(time.DateOnly), nil
}

// convert turns a value into the unit in which its column is kept: the column's
// own or, for a measured value, that of its measure. A unit stated in the cell
// goes before that of the layout.
func (m *maker) convert(c *column, text, stated string, values []string, row *Row) (string, *fault) {
	cell := c.spec.Cell
	name := cell.Unit
	if c.unitFrom >= 0 {
		name = values[c.unitFrom]
	}
	if stated != "" {
		name = stated
	}
	if name == "" {
		if cell.UnitFrom != "" {
			return "", &fault{UnitUnknown, fmt.Sprintf("whose unit %s is empty; fill it in", cell.UnitFrom)}
		}
		if cell.Decimals != nil {
			text = notation.Round(text, *cell.Decimals)
		}
		return text, nil
	}
	own := c.cell.def.Unit
	measured := m.measure >= 0 && c.name == "value"
	if measured {
		var ok bool
		if own, ok = reference.Cell("measures", values[m.measure], "unit"); !ok {
			return text, nil // the measure is not known, and its own check says so
		}
	}
	if own == "" {
		return "", &fault{UnitOther, fmt.Sprintf("in %s, and %s has no unit; correct the cell", name, c.name)}
	}
	fill := func() {
		if measured {
			row.Cells[m.unit] = own
		}
	}
	if name == own { // scores and counts have units that nothing else turns into
		fill()
		return text, nil
	}
	as := [3]string{text, name, own}
	turned, ok := c.cell.turned[as]
	if !ok {
		var f *fault
		if turned, f = c.turn(text, name, own); f != nil {
			return "", f
		}
		if len(c.cell.turned) < remembered {
			c.cell.turned[as] = turned
		}
	}
	fill()
	return turned, nil
}

// turn turns a number in a named unit into the unit in which it is kept.
func (c *column) turn(text, name, own string) (string, *fault) {
	from, ok := notation.FindUnit(name)
	if !ok {
		return "", &fault{UnitUnknown, fmt.Sprintf("in the unit %q, which is not known; known are %s", Shown(name), strings.Join(notation.UnitNames(), ", "))}
	}
	to, ok := notation.FindUnit(own)
	if !ok || !from.Converts(to) {
		return "", &fault{UnitOther, fmt.Sprintf("in %s, which cannot be turned into %s; correct the unit", name, own)}
	}
	decimals := export.Scale
	if c.cell.def.Type == export.Integer {
		decimals = 0
	}
	if c.spec.Cell.Decimals != nil {
		decimals = *c.spec.Cell.Decimals
	}
	turned, err := from.Convert(text, to, decimals)
	if err != nil {
		return "", &fault{NotANumber, "which is not a number; correct the cell"}
	}
	return turned, nil
}
