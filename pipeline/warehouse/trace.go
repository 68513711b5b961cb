package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/result"
	"evenlimb/queries"
)

// SourceTable is the published rows behind a figure, of one table.
type SourceTable struct {
	Table     string // such as published.return_episodes
	Predicate string
	Query     string // the select that finds the rows again
	Rows      int
	Episodes  []int // keys of the episodes they are about, ascending, each once
	Persons   int
}

// SourceLine is one line of a file that fed a figure.
type SourceLine struct {
	Table   string // export table
	Episode int    // key of the episode it belongs to
	Key     string // what the row is called at its sender
	Sender  string
	Path    string
	SHA256  string // of the file, under which the archive keeps it
	Batch   int
	Form    string // how the file was read; see source.ParseForm
	Line    int    // where the row stands, as that form counts
}

// Sources returns what results.figure_sources says about a figure, and counts
// the rows.
func (w *Warehouse) Sources(ctx context.Context, figureID string) ([]SourceTable, error) {
	sources, err := w.sources(ctx, figureID)
	if err != nil {
		return nil, err
	}
	if len(sources) == 0 {
		return nil, fmt.Errorf("no figure is called %s; `evenlimb results` lists them", figureID)
	}
	var tables []SourceTable
	for _, group := range byTable(sources) {
		if q, ok := queries.Find(group.Table); !ok || q.Schema != "published" {
			return nil, fmt.Errorf("figure %s names the table %s, which is not published", figureID, group.Table)
		}
		s := SourceTable{Table: group.Table, Predicate: group.Predicate}
		s.Query = "select * from " + s.Table + " where " + s.Predicate
		count := "select count(*), count(distinct person_key) from (" + s.Query + ")"
		if err := w.db.QueryRowContext(ctx, count).Scan(&s.Rows, &s.Persons); err != nil {
			return nil, fmt.Errorf("follow %s: %w", figureID, err)
		}
		s.Episodes, err = collect(ctx, w.db, func(rows *sql.Rows, key *int) error { return rows.Scan(key) },
			"select distinct episode_key from ("+s.Query+") order by episode_key")
		if err != nil {
			return nil, fmt.Errorf("follow %s: %w", figureID, err)
		}
		tables = append(tables, s)
	}
	return tables, nil
}

// byTable joins the predicates of each table by or.
func byTable(sources []result.Source) []result.Source {
	var joined []result.Source
	for _, s := range sources {
		i := slices.IndexFunc(joined, func(j result.Source) bool { return j.Table == s.Table })
		if i < 0 {
			joined = append(joined, result.Source{Table: s.Table, Predicate: "(" + s.Predicate + ")"})
			continue
		}
		joined[i].Predicate += " or (" + s.Predicate + ")"
	}
	return joined
}

// feed is a clean table whose rows reach a figure, with what its rows are
// called at the sender, which of them count, and the columns by which they belong
// to the published rows.
type feed struct{ table, key, only, by string }

// ofCare feed the figures of a course of care. Of sessions only those attended
// and of follow-ups only those that reached the person count.
var ofCare = []feed{
	{"episodes", "x.episode_id", "", "episode_key"},
	{"sessions", "x.session_id", "x.attendance = 'attended'", "episode_key"},
	{"measurements", "coalesce(x.measurement_id, '')", "", "episode_key"},
	{"milestones", "coalesce(x.milestone_id, '')", "", "episode_key"},
	{"followups", "strftime(x.contact_on, '%Y-%m-%d')", "x.reached", "episode_key"},
}

// fed are the feeds of the published tables whose rows are no courses of care.
var fed = map[string][]feed{
	"published.scores": {
		{"episodes", "x.episode_id", "", "episode_key"},
		{"measurements", "coalesce(x.measurement_id, '')", "", "episode_key, measure"},
	},
	"published.progress_months": {
		{"episodes", "x.episode_id", "", "episode_key"},
		{"sessions", "x.session_id", "x.attendance = 'attended'", "episode_key"},
		{"bouts", boutName, "", "episode_key"},
	},
	"published.tolerance_months": {
		{"episodes", "x.episode_id", "", "episode_key"},
		{"sessions", "x.session_id", "x.attendance = 'attended'", "episode_key"},
		{"bouts", boutName, "", "episode_key, exercise"},
	},
	"published.safety_sessions": {
		{"episodes", "x.episode_id", "", "episode_key"},
		{"sessions", "x.session_id", "", "session_key"},
	},
	"published.safety_events": {
		{"episodes", "x.episode_id", "", "episode_key"},
		{"sessions", "x.session_id", "", "session_key"},
		{"adverse_events", "x.event_id", "", "event_key"},
	},
}

// boutName is what a bout is called at its sender: its session and its number.
const boutName = "(select s.session_id from clean.sessions as s where s.session_key = x.session_key) || '|' || x.bout_no"

// ofWork feed the figures that set what was done against a response or a plan.
var ofWork = []feed{
	{"plans", "strftime(x.plan_from, '%Y-%m-%d') || coalesce('|' || x.exercise, '')", "", "episode_key"},
	{"bouts", boutName, "", "episode_key"},
}

// besides feed the figures of a course of care that stand on a table of their own.
var besides = map[string][]feed{
	"published.dose_episodes":   ofWork,
	"published.plan_deliveries": ofWork,
}

// lines is the select of every line that fed the published rows of a table.
func (s SourceTable) lines() string {
	feeds, other := fed[s.Table]
	if !other {
		feeds = slices.Concat(ofCare, besides[s.Table])
	}
	var parts []string
	for _, f := range feeds {
		where := ""
		if f.only != "" {
			where = " where " + f.only
		}
		place := slices.IndexFunc(export.Tables(), func(t export.Table) bool { return t.Name == f.table })
		parts = append(parts, fmt.Sprintf("select %d as place, '%s' as table_name, x.episode_key, %s as key, x._file, x._line from clean.%s as x join (select distinct %s from %s where %s) using (%s)%s",
			place, f.table, f.key, f.table, f.by, s.Table, s.Predicate, f.by, where))
	}
	if !other {
		parts = append(parts, fmt.Sprintf("select 0, 'episodes', x.episode_key, e.episode_id, x._file, x._line from clean.episode_targets as x join clean.episodes as e using (episode_key) join (select distinct episode_key from %s where %s) using (episode_key)",
			s.Table, s.Predicate))
	}
	return strings.Join(parts, " union ")
}

// SourceLines returns every line that fed the figure: the rows behind it and,
// of a course of care, every version of its target, in order of episode, table,
// path and line. A line that fed it in two ways stands once.
func (w *Warehouse) SourceLines(ctx context.Context, figureID string) ([]SourceLine, error) {
	tables, err := w.Sources(ctx, figureID)
	if err != nil {
		return nil, err
	}
	var parts []string
	for _, t := range tables {
		parts = append(parts, t.lines())
	}
	query := "with lines as (" + strings.Join(parts, " union ") + `)
		select l.table_name, l.episode_key, l.key, f.sender, f.path, f.sha256, f.batch, coalesce(f.form, ''), l._line
		from lines as l join clean.files as f on f.file = l._file
		order by l.episode_key, l.place, f.batch, f.path, l._line`
	lines, err := collect(ctx, w.db, func(rows *sql.Rows, s *SourceLine) error {
		return rows.Scan(&s.Table, &s.Episode, &s.Key, &s.Sender, &s.Path, &s.SHA256, &s.Batch, &s.Form, &s.Line)
	}, query)
	if err != nil {
		return nil, fmt.Errorf("follow %s to its files: %w", figureID, err)
	}
	return lines, nil
}
