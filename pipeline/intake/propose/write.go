package propose

import (
	"fmt"
	"strconv"
	"strings"
)

// NotYet is the day from which on a draft holds: none, until a person has looked
// at it and writes another.
const NotYet = "9999-12-31"

// NoHeading stands for a heading that was not found.
const NoHeading = "?"

// TOML writes the draft as a layout. Every guess has its reason behind it; what
// was not found stands in comments. What it writes is a layout without problems.
func (d Draft) TOML() []byte {
	w := &tomlWriter{}
	w.line("# A draft, made from the headings and cells of a file. Every line is a guess, with")
	w.line("# its reason behind it. Look at each, try it with `evenlimb layout try`, and then")
	w.line("# write the first day of receipt on which it holds after from.")
	w.line("sender  = %s", quote(d.Sender))
	w.line("version = %s", quote("1"))
	if d.From == NotYet {
		w.line("from    = %s  # no day yet", NotYet)
	} else {
		w.line("from    = %s", d.From)
	}
	if d.Match != "" {
		w.line("\n[file]")
		w.line("match = [%s]  # the name of the file, with * for its numbers", quote(d.Match))
	}
	d.cells(w)
	for _, t := range d.Tables {
		t.write(w)
	}
	return []byte(w.b.String())
}

type tomlWriter struct{ b strings.Builder }

func (w *tomlWriter) line(format string, args ...any) {
	fmt.Fprintf(&w.b, format+"\n", args...)
}

// quote writes a text as TOML's basic strings are written.
func quote(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(text, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteRune('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (d Draft) cells(w *tomlWriter) {
	if d.Decimal == "." && len(d.Dates) == 0 && len(d.Missing) == 0 {
		return
	}
	w.line("\n[cells]")
	if d.Decimal != "." {
		w.line("decimal = %s  # numbers have it oftener than a point", quote(d.Decimal))
	}
	w.guesses("date", d.Dates)
	w.guesses("missing", d.Missing)
}

func (w *tomlWriter) guesses(key string, list []Guess) {
	if len(list) == 0 {
		return
	}
	w.line("%s = [", key)
	for _, g := range list {
		w.line("  %s,  # %s", quote(g.Text), remark(g.Why))
	}
	w.line("]")
}

func (t Table) write(w *tomlWriter) {
	w.line("\n[[table]]")
	w.line("name = %s  # %s", quote(t.Name), remark(t.Why))
	if t.Sheet != "" {
		w.line("sheets = [%s]", quote(t.Sheet))
	}
	for _, name := range t.Absent {
		w.line("\n[table.columns.%s]", name)
		w.line("heading = %s  # the table needs it and no heading was found: write its heading here", quote(NoHeading))
	}
	for _, c := range t.Columns {
		if c.Measure == "" {
			w.line("\n[table.columns.%s]", c.Column)
			c.write(w)
		}
	}
	for _, c := range t.Columns {
		if c.Measure != "" {
			w.line("\n[[table.wide]]")
			c.write(w)
		}
	}
	if len(t.Unread) > 0 {
		w.line("\n# No column was found for these headings. Name one for each, or put them in")
		w.line("# ignore under [cells]:")
	}
	for _, c := range t.Unread {
		w.line("#   %s%s", quote(c.Heading), c.shown())
	}
}

// write writes the keys of one column.
func (c Column) write(w *tomlWriter) {
	w.line("heading = %s  # %s%s", quote(c.Heading), remark(c.Why), c.shown())
	if c.Measure != "" {
		set := fmt.Sprintf("measure = %s, side = %s", quote(c.Measure), quote(c.Side))
		if c.Trial != "" {
			set += ", trial = " + quote(c.Trial)
		}
		w.line("set = { %s }", set)
	}
	if c.Split != "" {
		w.line("split = %s\ntake = %d", quote(c.Split), c.Take)
	}
	if c.Unit != "" {
		w.line("unit = %s  # turned into the unit of the column", quote(c.Unit))
	}
	found := 0
	for _, code := range c.Codes {
		if code.Code != "" {
			found++
		} else {
			w.line("# %s stands for no code that was found", quote(code.Word))
		}
	}
	if found == 0 {
		return
	}
	w.line("[table.columns.%s.codes]", c.Column)
	for _, code := range c.Codes {
		if code.Code != "" {
			w.line("%s = %s  # %s", quote(code.Word), quote(code.Code), remark(code.Why))
		}
	}
}

// shown are examples of cells, for a comment.
func (c Column) shown() string {
	if len(c.Examples) == 0 {
		return ""
	}
	var list []string
	for _, text := range c.Examples {
		list = append(list, strconv.Quote(short(text)))
	}
	return "; such as " + strings.Join(list, ", ")
}

func short(text string) string {
	if letters := []rune(text); len(letters) > 30 {
		return string(letters[:30]) + "..."
	}
	return text
}

// remark keeps a comment on its line.
func remark(text string) string { return strings.Join(strings.Fields(text), " ") }
