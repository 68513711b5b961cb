package settings

import (
	"slices"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"evenlimb/pipeline/settings/notation"
)

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
