package queries

import (
	"slices"
	"strings"
	"testing"
)

const header = `-- makes:   derived.contacts
-- reads:   clean.sessions, clean.episodes,
--          settings.run
-- grain:   one row per episode and day
-- key:     episode_key, day
-- about:   A sentence that
--          runs on.
-- columns:
--   episode_key  integer        the episode
--   day          date           the day
--   load         decimal(14,4)  kilograms, summed
select 1
from clean.sessions
`

func TestParse(t *testing.T) {
	q, err := Parse("derived/contacts.sql", header)
	if err != nil {
		t.Fatal(err)
	}
	if q.Table() != "derived.contacts" || q.View || q.Severity != "" {
		t.Errorf("table %s, view %t, severity %q", q.Table(), q.View, q.Severity)
	}
	if want := []string{"clean.sessions", "clean.episodes", "settings.run"}; !slices.Equal(q.Reads, want) {
		t.Errorf("reads %v, want %v", q.Reads, want)
	}
	if want := []string{"episode_key", "day"}; !slices.Equal(q.Key, want) {
		t.Errorf("key %v, want %v", q.Key, want)
	}
	if q.Grain != "one row per episode and day" || q.About != "A sentence that runs on." {
		t.Errorf("grain %q, about %q", q.Grain, q.About)
	}
	if want := (Column{"load", "decimal(14,4)", "kilograms, summed"}); len(q.Columns) != 3 || q.Columns[2] != want {
		t.Errorf("columns %v", q.Columns)
	}
	if q.SQL != "select 1\nfrom clean.sessions" {
		t.Errorf("select %q", q.SQL)
	}
}

// TestParseErrors breaks the header in one place at a time.
func TestParseErrors(t *testing.T) {
	for _, c := range []struct{ name, old, with, want string }{
		{"unknown word", "-- reads:", "-- read:", `derived/contacts.sql:2: word "read" where only "reads" may stand`},
		{"word missing", "-- grain:   one row per episode and day\n", "", `:4: word "key" where only "grain" may stand`},
		{"word twice", "-- grain:   one", "-- makes:   derived.contacts\n-- grain:   one", `:4: word "makes" where only "grain" may stand`},
		{"severity outside checks", "-- about:", "-- severity: note\n-- about:", `:6: word "severity" where only "about" may stand`},
		{"no value", "-- grain:   one row per episode and day", "-- grain:", ":4: grain: wanted a value"},
		{"another name", "derived.contacts", "derived.contact", `:1: makes: "derived.contact" does not name what this file makes`},
		{"table without schema", "clean.sessions,", "sessions,", `:2: reads: "sessions" is not schema.table`},
		{"table twice", "clean.episodes,", "clean.sessions,", ":2: reads: clean.sessions stands twice"},
		{"layer to the right", "clean.sessions,", "published.returns,", ":2: reads: derived may not read published.returns"},
		{"store beyond landing", "clean.sessions,", "store.sessions,", ":2: reads: derived may not read store.sessions"},
		{"unknown layer", "clean.sessions,", "other.sessions,", ":2: reads: derived may not read other.sessions"},
		{"key not a name", "key:     episode_key", "key:     Episode key", `:5: key: "Episode key" is not the name of a column`},
		{"key not a column", "key:     episode_key", "key:     week", ":11: key: week is not among the columns"},
		{"unknown type", "date           the", "text           the", ":10: columns: wanted NAME TYPE WORDS"},
		{"column without words", "date           the day", "date", ":10: columns: wanted NAME TYPE WORDS"},
		{"column twice", "day          date", "episode_key  date", ":10: columns: episode_key stands twice"},
		{"stray comment", "-- grain:", "-- a remark\n-- grain:", ":4: wanted a word of the header (grain)"},
		{"continuation of a short word", "-- key:", "--          more\n-- key:", ":5: only reads, about and columns may run over several lines"},
		{"no columns", header[strings.Index(header, "-- columns"):], "select 1", ":7: the header ends too early: wanted columns"},
		{"no select", "select 1\nfrom clean.sessions\n", "", ":11: no select after the header"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if !strings.Contains(header, c.old) {
				t.Fatalf("the header has no %q", c.old)
			}
			_, err := Parse("derived/contacts.sql", strings.Replace(header, c.old, c.with, 1))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %s", err, c.want)
			}
		})
	}
}

func TestSeverityStandsInChecks(t *testing.T) {
	text := strings.NewReplacer("derived.contacts", "checks.odd", "-- about:", "-- severity: attention\n-- about:").Replace(header)
	q, err := Parse("checks/odd.sql", text)
	if err != nil || q.Severity != "attention" {
		t.Errorf("severity %q, %v", q.Severity, err)
	}
	if _, err := Parse("checks/odd.sql", strings.Replace(text, "severity: attention", "severity: bad", 1)); err == nil || !strings.Contains(err.Error(), ":6: severity") {
		t.Errorf("got %v", err)
	}
	if _, err := Parse("checks/odd.sql", strings.Replace(text, "-- severity: attention\n", "", 1)); err == nil || !strings.Contains(err.Error(), `only "severity" may stand`) {
		t.Errorf("got %v", err)
	}
}

func query(table string, reads ...string) Query {
	schema, name, _ := strings.Cut(table, ".")
	return Query{File: schema + "/" + name + ".sql", Schema: schema, Name: name, Reads: reads}
}

func TestOrder(t *testing.T) {
	in := []Query{
		query("derived.a", "derived.c", "seeds.stages"),
		query("derived.b", "clean.z"),
		query("derived.c", "clean.z"),
		query("clean.z", "landing.y"),
		query("landing.y", "store.y"),
	}
	var got []string
	ordered, err := Order(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range ordered {
		got = append(got, q.Table())
	}
	if want := []string{"landing.y", "clean.z", "derived.b", "derived.c", "derived.a"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	slices.Reverse(in)
	again, err := Order(in)
	if err != nil || !slices.EqualFunc(again, ordered, func(a, b Query) bool { return a.Table() == b.Table() }) {
		t.Errorf("the order depends on the order given: %v, %v", again, err)
	}
}

func TestOrderErrors(t *testing.T) {
	_, err := Order([]Query{query("derived.a", "derived.b"), query("derived.b", "derived.c"), query("derived.c", "derived.b")})
	if err == nil || !strings.Contains(err.Error(), "in a circle: derived.b reads derived.c reads derived.b") {
		t.Errorf("got %v", err)
	}
	_, err = Order([]Query{query("derived.a", "clean.gone")})
	if err == nil || !strings.Contains(err.Error(), "derived/a.sql reads clean.gone, which no query makes") {
		t.Errorf("got %v", err)
	}
}

func TestFindAndDigest(t *testing.T) {
	if q, ok := Find("published.return_episodes"); !ok || q.File != "published/return_episodes.sql" {
		t.Errorf("found %v, %t", q.File, ok)
	}
	if _, ok := Find("published.nothing"); ok {
		t.Error("found a table that no query makes")
	}
	if len(Digest()) != 64 {
		t.Errorf("digest %q", Digest())
	}
}
