package queries

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// words are the words of a header, in the order in which they must stand.
var words = []string{"makes", "reads", "grain", "key", "severity", "about", "columns"}

var (
	wordLine  = regexp.MustCompile(`^-- ([a-z]+):\s*(.*)$`)
	tableName = regexp.MustCompile(`^[a-z]+\._?[a-z][a-z0-9_]*$`)
	plainName = regexp.MustCompile(`^_?[a-z][a-z0-9_]*$`)
	typeName  = regexp.MustCompile(`^(integer|bigint|double|varchar|date|boolean|decimal\(\d+,\d+\))$`)
)

// Parse reads one file. Its header is a block of comment lines, each of them a
// word of the grammar with its value, the continuation of one, or a column:
//
//	-- makes:   derived.contacts
//	-- reads:   clean.sessions, clean.episodes
//	-- grain:   one row per episode and day of contact
//	-- key:     episode_key, contact_on
//	-- about:   A sentence, which may
//	--          run on.
//	-- columns:
//	--   episode_key  integer  the episode
//	--   contact_on   date     the day
//
// The word severity stands in checks alone. Errors name the file, the line and
// what may stand there.
func Parse(file, text string) (Query, error) {
	p := parser{file: file, query: Query{File: file}}
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		if !strings.HasPrefix(line, "--") {
			p.query.SQL = strings.TrimSpace(strings.Join(lines[i:], "\n"))
			break
		}
		p.line = i + 1
		if err := p.read(line); err != nil {
			return Query{}, err
		}
	}
	return p.query, p.finish()
}

type parser struct {
	file  string
	line  int
	last  string // the word read last
	query Query
}

func (p *parser) fail(format string, args ...any) error {
	return fmt.Errorf("queries/%s:%d: %s", p.file, p.line, fmt.Sprintf(format, args...))
}

func (p *parser) read(line string) error {
	if m := wordLine.FindStringSubmatch(line); m != nil {
		return p.word(m[1], strings.TrimSpace(m[2]))
	}
	rest := strings.TrimSpace(strings.TrimPrefix(line, "--"))
	if rest == "" || !strings.HasPrefix(line, "--  ") {
		return p.fail("wanted a word of the header (%s) or, two blanks in, the continuation of one", strings.Join(p.allowed(), ", "))
	}
	switch p.last {
	case "reads":
		return p.reads(rest)
	case "about":
		p.query.About += " " + rest
		return nil
	case "columns":
		return p.column(rest)
	default:
		return p.fail("only reads, about and columns may run over several lines")
	}
}

// allowed returns the words that may stand next.
func (p *parser) allowed() []string {
	next := words[slices.Index(words, p.last)+1:]
	if p.query.Schema != "checks" {
		next = slices.DeleteFunc(slices.Clone(next), func(w string) bool { return w == "severity" })
	}
	return next[:min(1, len(next))]
}

func (p *parser) word(word, value string) error {
	if allowed := p.allowed(); !slices.Contains(allowed, word) {
		if len(allowed) == 0 {
			return p.fail("word %q after the last one, columns", word)
		}
		return p.fail("word %q where only %q may stand", word, allowed[0])
	}
	p.last = word
	if (value == "") != (word == "columns") {
		return p.fail("%s: wanted a value on this line, except after columns", word)
	}
	switch word {
	case "makes":
		return p.makes(value)
	case "reads":
		return p.reads(value)
	case "grain":
		p.query.Grain = value
	case "key":
		for name := range strings.SplitSeq(value, ",") {
			name = strings.TrimSpace(name)
			if !plainName.MatchString(name) {
				return p.fail("key: %q is not the name of a column", name)
			}
			p.query.Key = append(p.query.Key, name)
		}
	case "severity":
		if value != "note" && value != "attention" {
			return p.fail("severity: %q is neither note nor attention", value)
		}
		p.query.Severity = value
	case "about":
		p.query.About = value
	}
	return nil
}

func (p *parser) makes(value string) error {
	schema, name, _ := strings.Cut(value, ".")
	if value+".sql" != strings.Replace(p.file, "/", ".", 1) || !tableName.MatchString(value) {
		return p.fail("makes: %q does not name what this file makes (folder.name)", value)
	}
	if !slices.Contains(Layers, schema) {
		return p.fail("makes: %q is none of the layers (%s)", schema, strings.Join(Layers, ", "))
	}
	p.query.Schema, p.query.Name = schema, name
	p.query.View = schema == "landing" || strings.HasPrefix(name, "_")
	return nil
}

func (p *parser) reads(value string) error {
	for table := range strings.SplitSeq(strings.TrimSuffix(value, ","), ",") {
		table = strings.TrimSpace(table)
		if !tableName.MatchString(table) {
			return p.fail("reads: %q is not schema.table", table)
		}
		if slices.Contains(p.query.Reads, table) {
			return p.fail("reads: %s stands twice", table)
		}
		schema, _, _ := strings.Cut(table, ".")
		if !p.mayRead(schema) {
			return p.fail("reads: %s may not read %s: a layer reads itself and what stands left of it (%s), seeds and settings",
				p.query.Schema, table, strings.Join(Layers, ", "))
		}
		p.query.Reads = append(p.query.Reads, table)
	}
	return nil
}

func (p *parser) mayRead(schema string) bool {
	switch schema {
	case "seeds", "settings":
		return true
	case "store":
		return p.query.Schema == "landing"
	}
	own, other := slices.Index(Layers, p.query.Schema), slices.Index(Layers, schema)
	return other >= 0 && other <= own
}

func (p *parser) column(rest string) error {
	name, rest, _ := strings.Cut(rest, " ")
	kind, about, _ := strings.Cut(strings.TrimSpace(rest), " ")
	about = strings.TrimSpace(about)
	if !plainName.MatchString(name) || !typeName.MatchString(kind) || about == "" {
		return p.fail("columns: wanted NAME TYPE WORDS, the type one of integer, bigint, double, varchar, date, boolean, decimal(p,s)")
	}
	if slices.ContainsFunc(p.query.Columns, func(c Column) bool { return c.Name == name }) {
		return p.fail("columns: %s stands twice", name)
	}
	p.query.Columns = append(p.query.Columns, Column{Name: name, Type: kind, About: about})
	return nil
}

func (p *parser) finish() error {
	if p.last != "columns" || len(p.query.Columns) == 0 {
		return p.fail("the header ends too early: wanted %s", strings.Join(p.allowed(), ", "))
	}
	for _, key := range p.query.Key {
		if !slices.ContainsFunc(p.query.Columns, func(c Column) bool { return c.Name == key }) {
			return p.fail("key: %s is not among the columns", key)
		}
	}
	if p.query.SQL == "" {
		return p.fail("no select after the header")
	}
	return nil
}
