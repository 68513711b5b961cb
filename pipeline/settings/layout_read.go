package settings

import (
	"slices"

	"evenlimb/pipeline/settings/notation"
)

// layoutReader fills a layout from the tree of its file and notes all that is
// not as the example of Layout has it.
type layoutReader struct {
	found    *Problems
	practice *Practice // nil: what only it can say is not checked
	// Where things stand, for the checks of the whole.
	sender, site position
	tables       []tablePlaces
}

// tablePlaces are the places of one table and of its columns, parts and wide
// headings, as listed.
type tablePlaces struct {
	at, name             position
	columns, parts, wide []*table
}

// entryKey is one key of a section of a layout.
type entryKey struct {
	name string
	read func(*entry)
}

// keys reads a section and notes keys that it does not have.
func (l *layoutReader) keys(t *table, where string, keys []entryKey) {
	var names []string
	for _, k := range keys {
		names = append(names, k.name)
	}
	for _, e := range t.entries {
		i := slices.Index(names, e.name)
		if i < 0 {
			l.found.add(e.at, "unknown key %q in %s%s", e.name, where, hint(e.name, names))
			continue
		}
		keys[i].read(e)
	}
}

// ParseLayout reads and checks the text of a layout against the settings of the
// practice it is for; without them, senders, sites and ways are taken as they
// stand. The path stands in front of each problem; what is wrong is returned as
// *Problems, all of it together.
func ParseLayout(text []byte, path string, practice *Practice) (*Layout, error) {
	l := &layoutReader{found: &Problems{File: path}, practice: practice}
	into := &Layout{Path: path}
	if root := readTree(text, l.found); root != nil {
		l.layout(root, into)
		l.check(root, into)
	}
	if len(l.found.List) > 0 {
		l.found.sort()
		return nil, l.found
	}
	return into, nil
}

func (l *layoutReader) layout(root *table, into *Layout) {
	into.Cells.Signs.Decimal = "."
	into.Delivery = LayoutDelivery{Kind: Changes, BrakePercent: 5}
	l.keys(root, "a layout", []entryKey{
		{"sender", func(e *entry) { l.sender = e.at; l.text(e, &into.Sender) }},
		{"version", func(e *entry) { l.text(e, &into.Version) }},
		{"from", func(e *entry) { l.date(e, &into.From) }},
		{"file", func(e *entry) { l.section(e, func(t *table) { l.file(t, &into.File) }) }},
		{"cells", func(e *entry) { l.section(e, func(t *table) { l.cells(t, &into.Cells) }) }},
		{"delivery", func(e *entry) { l.section(e, func(t *table) { l.delivery(t, &into.Delivery) }) }},
		{"table", func(e *entry) {
			l.sections(e, "[[table]]", func(t *table) {
				into.Tables = append(into.Tables, LayoutTable{})
				l.tables = append(l.tables, tablePlaces{at: t.at, name: t.at})
				l.table(t, &into.Tables[len(into.Tables)-1], &l.tables[len(l.tables)-1])
			})
		}},
	})
}

func (l *layoutReader) file(t *table, into *LayoutFile) {
	l.keys(t, "[file]", []entryKey{
		{"match", func(e *entry) { l.texts(e, &into.Match) }},
		{"format", func(e *entry) { l.word(e, &into.Format, "csv", "ndjson", "parquet", "xlsx") }},
		{"encoding", func(e *entry) { l.word(e, &into.Encoding, "utf-8", "utf-16le", "utf-16be", "windows-1252") }},
		{"delimiter", func(e *entry) { l.delimiter(e, &into.Delimiter) }},
		{"quote", func(e *entry) { l.word(e, &into.Quote, `"`, "'", "none") }},
		{"skip_rows", func(e *entry) { into.SkipRows = new(int); l.integer(e, into.SkipRows, 0, 1000) }},
		{"sheets", func(e *entry) { l.texts(e, &into.Sheets) }},
	})
}

func (l *layoutReader) cells(t *table, into *LayoutCells) {
	l.keys(t, "[cells]", []entryKey{
		{"decimal", func(e *entry) { l.word(e, &into.Signs.Decimal, ".", ",") }},
		{"thousands", func(e *entry) { l.sign(e, &into.Signs.Thousands, true) }},
		{"missing", func(e *entry) { l.texts(e, &into.Missing) }},
		{"date", func(e *entry) { l.dates(e, &into.Dates) }},
		{"month_names", func(e *entry) {
			if l.texts(e, &into.DateWords.Months); len(into.DateWords.Months) != 12 {
				l.found.add(e.at, "month_names must be twelve names, January first; they are %d", len(into.DateWords.Months))
			}
		}},
		{"two_digit_years_from", func(e *entry) { l.integer(e, &into.DateWords.Century, 1900, 2000) }},
		{"ignore", func(e *entry) { l.texts(e, &into.Ignore) }},
		{"not_where", func(e *entry) { l.where(e, &into.NotWhere) }},
	})
}

func (l *layoutReader) delivery(t *table, into *LayoutDelivery) {
	l.keys(t, "[delivery]", []entryKey{
		{"kind", func(e *entry) { l.word(e, &into.Kind, Changes, Complete) }},
		{"site", func(e *entry) { l.site = e.at; l.text(e, &into.Site) }},
		{"from", func(e *entry) { l.date(e, &into.From) }},
		{"to", func(e *entry) { l.date(e, &into.To) }},
		{"to_days_before_receipt", func(e *entry) { into.DaysBefore = new(int); l.integer(e, into.DaysBefore, 0, 366) }},
		{"speaks_for_all", func(e *entry) { l.boolean(e, &into.SpeaksForAll) }},
		{"brake_percent", func(e *entry) { l.integer(e, &into.BrakePercent, 0, 100) }},
	})
	switch {
	case into.Kind == Complete && into.Site == "":
		l.found.add(t.at, "site is missing in [delivery]: a complete delivery names the site whose rows it holds")
	case into.Site == "" && (!into.From.IsZero() || !into.To.IsZero() || into.DaysBefore != nil):
		l.found.add(t.at, "site is missing in [delivery]: from and to are said of one site")
	case into.SpeaksForAll && into.To.IsZero() && into.DaysBefore == nil:
		l.found.add(t.at, "to or to_days_before_receipt is missing in [delivery]: speaks_for_all says up to which day")
	case !into.To.IsZero() && into.DaysBefore != nil:
		l.found.add(t.at, "to and to_days_before_receipt both say how far the delivery reaches; keep one")
	case !into.To.IsZero() && into.To.Before(into.From):
		l.found.add(t.at, "to lies before from")
	}
}

func (l *layoutReader) table(t *table, into *LayoutTable, places *tablePlaces) {
	l.keys(t, "[[table]]", []entryKey{
		{"name", func(e *entry) { places.name = e.value.at; l.text(e, &into.Name) }},
		{"sheets", func(e *entry) { l.texts(e, &into.Sheets) }},
		{"only_where", func(e *entry) { l.where(e, &into.OnlyWhere) }},
		{"distinct", func(e *entry) { l.boolean(e, &into.Distinct) }},
		{"columns", func(e *entry) { l.named(e, "column", &into.Columns, &places.columns) }},
		{"parts", func(e *entry) { l.named(e, "part", &into.Parts, &places.parts) }},
		{"wide", func(e *entry) {
			l.sections(e, "[[table.wide]]", func(t *table) {
				w := LayoutWide{Into: "value"}
				l.keys(t, "[[table.wide]]", append([]entryKey{
					{"heading", func(e *entry) { l.texts(e, &w.Heading) }},
					{"into", func(e *entry) { l.text(e, &w.Into) }},
					{"set", func(e *entry) {
						l.pairs(e, func(name, text string) { w.Set = append(w.Set, LayoutConstant{name, text}) })
					}},
				}, l.cell(&w.Cell)...))
				into.Wide, places.wide = append(into.Wide, w), append(places.wide, t)
			})
		}},
	})
}

// named reads sections that each have a name: [table.columns.NAME].
func (l *layoutReader) named(e *entry, what string, into *[]LayoutColumn, places *[]*table) {
	l.section(e, func(t *table) {
		for _, one := range t.entries {
			where := "[table." + e.name + "." + one.name + "]"
			if one.value.table == nil {
				l.found.add(one.at, "write %s and its keys below it, such as heading", where)
				continue
			}
			c := LayoutColumn{Name: one.name, Join: "/"}
			l.keys(one.value.table, where, append([]entryKey{
				{"heading", func(e *entry) { l.texts(e, &c.Heading) }},
				{"constant", func(e *entry) { l.text(e, &c.Constant) }},
				{"made_from", func(e *entry) { l.texts(e, &c.MadeFrom) }},
				{"join", func(e *entry) { l.sign(e, &c.Join, true) }},
				{"number_within", func(e *entry) { l.texts(e, &c.NumberWithin) }},
			}, l.cell(&c.Cell)...))
			sources := 0
			for _, said := range []bool{len(c.Heading) > 0, c.Constant != "", len(c.MadeFrom) > 0, len(c.NumberWithin) > 0} {
				if said {
					sources++
				}
			}
			if sources != 1 && !l.foundIn(one.value.table) {
				l.found.add(one.at, "say where the %s %s comes from with one of heading, constant, made_from and number_within", what, one.name)
			}
			one.value.table.at = one.at
			*into, *places = append(*into, c), append(*places, one.value.table)
		}
	})
}

// foundIn says whether a key of a section is wrong already.
func (l *layoutReader) foundIn(t *table) bool {
	return slices.ContainsFunc(t.entries, func(e *entry) bool {
		return slices.ContainsFunc(l.found.List, func(p Problem) bool {
			return p.Line == e.at.line || p.Line == e.value.at.line
		})
	})
}

// cell are the keys that say how a cell is read.
func (l *layoutReader) cell(into *LayoutCell) []entryKey {
	return []entryKey{
		{"decimal", func(e *entry) { l.word(e, &into.Signs.Decimal, ".", ",") }},
		{"thousands", func(e *entry) { l.sign(e, &into.Signs.Thousands, true) }},
		{"missing", func(e *entry) { l.texts(e, &into.Missing) }},
		{"date", func(e *entry) { l.dates(e, &into.Dates) }},
		{"days_after", func(e *entry) { l.text(e, &into.DaysAfter) }},
		{"codes", func(e *entry) {
			l.pairs(e, func(word, code string) { into.Codes = append(into.Codes, LayoutCode{word, code}) })
		}},
		{"empty", func(e *entry) { l.text(e, &into.Empty) }},
		{"unit", func(e *entry) { l.word(e, &into.Unit, notation.UnitNames()...) }},
		{"unit_from", func(e *entry) { l.text(e, &into.UnitFrom) }},
		{"decimals", func(e *entry) { into.Decimals = new(int); l.integer(e, into.Decimals, 0, 4) }},
		{"split", func(e *entry) { l.sign(e, &into.Split, false) }},
		{"take", func(e *entry) { l.take(e, &into.Take) }},
	}
}

func (l *layoutReader) take(e *entry, into *Take) {
	if n, ok := e.value.scalar.(int64); ok {
		if l.integer(e, &into.Part, 1, 50); n < 1 {
			into.Part = 1 // noted; the checks of the whole need not note it again
		}
		return
	}
	if _, ok := e.value.scalar.(string); !ok {
		l.found.add(e.value.at, "take must be the number of a part from 1, or one of %s, %s, %s and %s", TakeList, TakeSum, TakeCount, TakeRows)
		return
	}
	l.word(e, &into.How, TakeList, TakeSum, TakeCount, TakeRows)
}
