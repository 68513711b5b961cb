package layout

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// otherUnits are the units in which the test sends values kept in another.
var otherUnits = map[string]string{"cm": "in", "kg": "lb", "mm[Hg]": "kPa", "%": "fraction", "min": "s", "s": "min", "N": "kg"}

// TestReheaded sends rows of every export table under headings of a sender's
// own, with its words, dates, decimal commas and units, and reads them by the
// layout that says so: the same canonical rows come out.
func TestReheaded(t *testing.T) {
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 11))
		for _, table := range export.Tables() {
			sender := reheaded(rng, table)
			l, err := settings.ParseLayout([]byte(sender.layout()), "layouts/a.toml", nil)
			if err != nil {
				t.Fatalf("%v\n%s", err, sender.layout())
			}
			m, misfit := New(l, "", sender.headings)
			if m == nil {
				t.Fatal(misfit.Words())
			}
			pass := m.Begin()
			for range 150 {
				row := sender.row(rng)
				sent := sender.write(t, rng, row)
				rows := pass.Rows(sent)
				if len(rows) != 1 || len(rows[0].Faults) > 0 {
					t.Fatalf("%s: %q made %+v", table.Name, sent, rows)
				}
				if want := append(row, ""); !slices.Equal(rows[0].Cells, want) {
					t.Fatalf("%s: sent %q\nas   %q\ngot  %q", table.Name, want, sent, rows[0].Cells)
				}
			}
		}
	}
}

// sender writes rows of a table in its own way.
type sender struct {
	table    export.Table
	headings []string
	place    []int               // of each column among the headings
	codes    []map[string]string // by column, the sender's word for a code
	unit     []string            // by column, the unit it sends
	unitAt   int                 // heading of the unit of a measured value; -1: none
}

func reheaded(rng *rand.Rand, table export.Table) sender {
	s := sender{table: table, codes: make([]map[string]string, len(table.Columns)), unit: make([]string, len(table.Columns)), unitAt: -1}
	s.place = rng.Perm(len(table.Columns))
	s.headings = make([]string, len(table.Columns))
	for i, c := range table.Columns {
		s.headings[s.place[i]] = fmt.Sprintf("Feld %d (%s)", rng.IntN(1000), c.Name)
		s.codes[i] = map[string]string{}
		for n, code := range codesOf(c) {
			s.codes[i][code] = fmt.Sprintf("Wort %d", n)
		}
		if other := otherUnits[c.Unit]; other != "" && rng.IntN(3) > 0 {
			s.unit[i] = other
		}
	}
	if table.Name == "measurements" {
		s.unitAt = s.place[indexOf(table, "unit")]
	}
	return s
}

// codesOf lists the codes that the test uses of a column.
func codesOf(c export.Column) []string {
	switch {
	case c.Type == export.Boolean:
		return []string{"true", "false"}
	case c.From == "sites" || c.From == "plan_codes":
		return []string{"a", "b"}
	case c.From != "":
		return reference.Codes(c.From)
	default:
		return c.Codes
	}
}

// layout writes down what the sender does.
func (s sender) layout() string {
	var b strings.Builder
	b.WriteString("sender = \"north\"\nversion = \"1\"\n[cells]\ndecimal = \",\"\nthousands = \".\"\ndate = \"day.month.year\"\nmissing = [\"k.A.\"]\n[[table]]\nname = \"" + s.table.Name + "\"\n")
	for i, c := range s.table.Columns {
		if s.unitAt == s.place[i] {
			fmt.Fprintf(&b, "parts.its_unit.heading = %q\n", s.headings[s.place[i]])
			continue
		}
		keys := []string{fmt.Sprintf("heading = [\"nobody writes this %d\", %q]", i, strings.ToUpper(s.headings[s.place[i]]))}
		if len(s.codes[i]) > 0 {
			var pairs []string
			for code, word := range s.codes[i] {
				pairs = append(pairs, fmt.Sprintf("%q = %q", word, code))
			}
			keys = append(keys, "codes = { "+strings.Join(pairs, ", ")+" }")
		}
		if s.unit[i] != "" {
			keys = append(keys, fmt.Sprintf("unit = %q", s.unit[i]))
		}
		if s.unitAt >= 0 && c.Name == "value" {
			keys = append(keys, "unit_from = \"its_unit\"")
		}
		switch c.Type {
		case export.CodeSet:
			keys = append(keys, `split = "+"`, `take = "list"`)
		case export.Reps:
			keys = append(keys, `split = "-"`, `take = "list"`)
		default:
		}
		fmt.Fprintf(&b, "columns.%s = { %s }\n", c.Name, strings.Join(keys, ", "))
	}
	return b.String()
}

// row makes a canonical row; about a third of the cells that may be are empty.
func (s sender) row(rng *rand.Rand) []string {
	row := make([]string, len(s.table.Columns))
	for i, c := range s.table.Columns {
		if !c.Required && rng.IntN(3) == 0 {
			continue
		}
		codes := codesOf(c)
		switch c.Type {
		case export.Code, export.Boolean:
			row[i] = codes[rng.IntN(len(codes))]
		case export.CodeSet:
			row[i] = codes[0] + ";" + codes[rng.IntN(len(codes))]
		case export.Integer:
			row[i] = strconv.Itoa(rng.IntN(2000))
		case export.Decimal:
			row[i] = notation.Round(strconv.FormatFloat(rng.Float64()*2000, 'f', rng.IntN(5), 64), 4)
			row[i], _ = notation.Signs{Decimal: "."}.Number(row[i])
		case export.Date:
			row[i] = time.Date(2020, 1, 1+rng.IntN(3000), 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		case export.Reps:
			row[i] = "30/15/" + strconv.Itoa(rng.IntN(30))
		case export.Text, export.Key:
			row[i] = fmt.Sprintf("x-%d", rng.IntN(1000))
		}
	}
	if s.unitAt >= 0 {
		unit, _ := reference.Cell("measures", row[indexOf(s.table, "measure")], "unit")
		row[indexOf(s.table, "unit")] = unit
	}
	return row
}

// write writes a row as the sender does.
func (s sender) write(t *testing.T, rng *rand.Rand, row []string) []string {
	t.Helper()
	sent := make([]string, len(row))
	for i, text := range row {
		c := s.table.Columns[i]
		to := &sent[s.place[i]]
		switch {
		case s.unitAt == s.place[i]:
			continue // with the value
		case text == "":
			*to = []string{"", " ", "k.a.", "K.A."}[rng.IntN(4)]
			continue
		case c.Type == export.CodeSet:
			var words []string
			for code := range strings.SplitSeq(text, ";") {
				words = append(words, s.codes[i][code])
			}
			*to = strings.Join(words, " + ")
		case len(s.codes[i]) > 0:
			*to = s.codes[i][text]
		case c.Type == export.Integer || c.Type == export.Decimal:
			*to = s.number(t, i, text, row, sent)
		case c.Type == export.Date:
			day, err := time.Parse(time.DateOnly, text)
			if err != nil {
				t.Fatal(err)
			}
			*to = day.Format("2.1.2006")
		case c.Type == export.Reps:
			*to = strings.ReplaceAll(text, "/", "-")
		default:
			*to = text
		}
		if rng.IntN(4) == 0 {
			*to = " " + *to + "\u00a0"
		}
	}
	return sent
}

// number writes a number in the sender's unit, with decimals enough that only
// the last kept decimal is rounded, and in its signs.
func (s sender) number(t *testing.T, i int, text string, row, sent []string) string {
	t.Helper()
	own, other := s.table.Columns[i].Unit, s.unit[i]
	if s.unitAt >= 0 && s.table.Columns[i].Name == "value" {
		own = row[indexOf(s.table, "unit")]
		if other = otherUnits[own]; other == "" {
			other = own
		}
		sent[s.unitAt] = other
	}
	if from, ok := notation.FindUnit(own); ok && other != "" {
		to, _ := notation.FindUnit(other)
		var err error
		if text, err = from.Convert(text, to, 12); err != nil {
			t.Fatal(err)
		}
	}
	whole, decimals, point := strings.Cut(text, ".")
	if len(whole) > 3 {
		whole = whole[:len(whole)-3] + "." + whole[len(whole)-3:]
	}
	if point {
		return whole + "," + decimals
	}
	return whole
}

// BenchmarkRows turns records of a wide file in inches and one of bouts under
// other headings.
func BenchmarkRows(b *testing.B) {
	for name, text := range map[string]string{
		"wide":  "[cells]\ndecimal = \",\"\ndate = \"day.month.year\"\n" + values + "wide = [{ heading = \"a\", unit = \"in\", set = { measure = \"girth_calf\", side = \"left\" } }, { heading = \"b\", unit = \"in\", set = { measure = \"girth_calf\", side = \"right\" } }]\n",
		"bouts": "[cells]\ndecimal = \",\"\n" + work + "columns.load_kg = { heading = \"a\", unit = \"lb\" }\ncolumns.reps.heading = \"b\"\ncolumns.mode = { heading = \"Day\", codes = { \"5.1.2026\" = \"continuous\" } }\n",
	} {
		b.Run(name, func(b *testing.B) {
			m, misfit := New(parse(b, text), "", []string{"Case", "Day", "a", "b", "S", "N"})
			if m == nil {
				b.Fatal(misfit.Words())
			}
			p := m.Begin()
			b.ReportAllocs()
			rows := 0
			for i := 0; b.Loop(); i++ {
				rows += len(p.Rows([]string{"e1", "5.1.2026", strconv.Itoa(13+i%7) + ",25", strconv.Itoa(i % 100), "s", "1"}))
			}
			b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}
