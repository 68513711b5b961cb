package settings

import (
	"slices"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

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

func (l *layoutReader) section(e *entry, read func(*table)) {
	if e.value.table == nil {
		l.found.add(e.at, "%s is a section: write [%s] and its keys below it", e.name, e.name)
		return
	}
	read(e.value.table)
}

func (l *layoutReader) sections(e *entry, where string, read func(*table)) {
	if len(e.value.list) == 0 {
		l.found.add(e.at, "%s may stand several times: write %s with two brackets", e.name, where)
	}
	for _, item := range e.value.list {
		if item.table == nil {
			l.found.add(item.at, "%s holds sections: write %s and its keys below it", e.name, where)
			continue
		}
		read(item.table)
	}
}

func (l *layoutReader) text(e *entry, into *string) {
	s, ok := e.value.scalar.(string)
	switch {
	case !ok:
		l.found.add(e.value.at, "%s must be a text in quotes", e.name)
	case s == "":
		l.found.add(e.value.at, "%s must not be empty", e.name)
	default:
		*into = s
	}
}

func (l *layoutReader) word(e *entry, into *string, words ...string) {
	s := ""
	if l.text(e, &s); s == "" {
		return
	}
	if !slices.Contains(words, s) {
		l.found.add(e.value.at, "%s cannot be %q%s", e.name, s, hint(s, words))
		return
	}
	*into = s
}

// delimiter reads the name of a delimiter, or one sign.
func (l *layoutReader) delimiter(e *entry, into *string) {
	named := map[string]string{"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
	if s, ok := e.value.scalar.(string); ok && named[s] != "" {
		*into = named[s]
		return
	}
	l.sign(e, into, false)
}

// sign reads a text of one sign.
func (l *layoutReader) sign(e *entry, into *string, emptyToo bool) {
	s, ok := e.value.scalar.(string)
	if !ok || utf8.RuneCountInString(s) > 1 || (s == "" && !emptyToo) {
		l.found.add(e.value.at, "%s must be one sign in quotes", e.name)
		return
	}
	*into = s
}

// texts reads a text or a list of texts.
func (l *layoutReader) texts(e *entry, into *[]string) {
	list := e.value.list
	if e.value.scalar != nil {
		list = []*value{e.value}
	}
	var all []string
	for _, v := range list {
		s, ok := v.scalar.(string)
		if !ok {
			l.found.add(v.at, "%s must be a text in quotes, or a list of such", e.name)
			return
		}
		if s == "" {
			l.found.add(v.at, "%s must not be empty", e.name)
			return
		}
		all = append(all, s)
	}
	if len(all) == 0 {
		l.found.add(e.value.at, "%s must be a text in quotes, or a list of such", e.name)
		return
	}
	*into = all
}

func (l *layoutReader) integer(e *entry, into *int, low, high int64) {
	n, ok := e.value.scalar.(int64)
	switch {
	case !ok:
		l.found.add(e.value.at, "%s must be a whole number", e.name)
	case n < low || n > high:
		l.found.add(e.value.at, "%s is %d; it must lie from %d to %d", e.name, n, low, high)
	default:
		*into = int(n)
	}
}

func (l *layoutReader) boolean(e *entry, into *bool) {
	b, ok := e.value.scalar.(bool)
	if !ok {
		l.found.add(e.value.at, "%s must be true or false", e.name)
		return
	}
	*into = b
}

func (l *layoutReader) date(e *entry, into *time.Time) {
	day, ok := e.value.scalar.(toml.LocalDate)
	if !ok {
		l.found.add(e.value.at, "%s must be a date without quotes, such as 2026-03-31", e.name)
		return
	}
	*into = day.AsTime(time.UTC)
}

func (l *layoutReader) dates(e *entry, into *[]notation.DateFormat) {
	var list []string
	l.texts(e, &list)
	for _, text := range list {
		f, err := notation.ParseDateFormat(text)
		if err != nil {
			l.found.add(e.value.at, "%s: %v", e.name, err)
			continue
		}
		for _, other := range *into {
			if f.Like(other) {
				l.found.add(e.value.at, "%s: a date such as 01-02-2026 would mean one day as %s and another as %s; keep one", e.name, other, f)
			}
		}
		*into = append(*into, f)
	}
}

// pairs reads a table of texts.
func (l *layoutReader) pairs(e *entry, take func(name, text string)) {
	if e.value.table == nil || len(e.value.table.entries) == 0 {
		l.found.add(e.value.at, "%s must be pairs such as { \"word\" = \"meaning\" }", e.name)
		return
	}
	for _, one := range e.value.table.entries {
		text := ""
		if l.text(one, &text); text != "" {
			take(one.name, text)
		}
	}
}

// where reads headings with the words that cells under them hold.
func (l *layoutReader) where(e *entry, into *[]Where) {
	if e.value.table == nil || len(e.value.table.entries) == 0 {
		l.found.add(e.value.at, "%s must be headings with words, such as { \"Kind\" = [\"visit\"] }", e.name)
		return
	}
	for _, one := range e.value.table.entries {
		w := Where{Heading: one.name}
		list := one.value.list
		if one.value.scalar != nil {
			list = []*value{one.value}
		}
		for _, v := range list {
			s, ok := v.scalar.(string)
			if !ok {
				l.found.add(v.at, "%s must be a text in quotes, or a list of such", one.name)
				continue
			}
			w.Words = append(w.Words, s)
		}
		*into = append(*into, w)
	}
}
