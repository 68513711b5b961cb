package warehouse

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"evenlimb/queries"
)

// TestHeadersAreTrue holds the header of every query against the engine's own
// parser and against the table that the query makes.
func TestHeadersAreTrue(t *testing.T) {
	made, err := queries.All()
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range made {
		t.Run(q.Table(), func(t *testing.T) {
			for _, fault := range faults(t, q) {
				t.Error(fault)
			}
			if got, want := describe(t, q.Table()), stated(q); !slices.Equal(got, want) {
				t.Errorf("columns:\n got %s\nwant %s", strings.Join(got, ", "), strings.Join(want, ", "))
			}
		})
	}
}

// TestFaultsAreSeen breaks a query in every way that the proof is there for.
func TestFaultsAreSeen(t *testing.T) {
	header := queries.Query{Schema: "derived", Name: "x", Reads: []string{"clean.sessions", "clean.episodes"}}
	good := "select s.session_key, 7 as n from clean.sessions as s join clean.episodes as e using (episode_key)"
	for _, c := range []struct{ name, sql, want string }{
		{"sound", good, ""},
		{"table not in the header", good + " join clean.bouts as b using (session_key)", "reads clean.bouts, which the header leaves out"},
		{"table only in the header", "select session_key from clean.sessions", "the header names clean.episodes, which the select does not read"},
		{"table without schema", good + " join bouts as b using (session_key)", "reads bouts without a schema"},
		{"reads in a subquery", good + " where s.session_key in (select session_key from clean.bouts)", "reads clean.bouts, which the header leaves out"},
		{"clock", "with a as (" + good + ") select now() as t from a", "calls now"},
		{"clock without brackets", "with a as (" + good + ") select current_date as t from a", "calls current_date"},
		{"chance", "with a as (" + good + ") select random() as t from a", "calls random"},
		{"a file", good + " join read_csv('x.csv') as f on true", "reads the table function read_csv"},
		{"a file by name", good + " join 'x.csv' as f on true", "reads x.csv without a schema"},
		{"an order that is not fixed", "with a as (" + good + ") select any_value(n) as t from a", "calls any_value"},
		{"star at the end", "with a as (" + good + ") select * from a", "the final select holds a star"},
		{"star of one table at the end", "with a as (" + good + ") select a.* from a", "the final select holds a star"},
		{"a number", good + " where e.episode_key > 28", "holds the number 28"},
		{"a number with decimals", good + " where e.episode_key > 0.5", "holds the number 5"},
		{"two statements", good + "; select 1", "holds 2 statements"},
	} {
		t.Run(c.name, func(t *testing.T) {
			header.SQL = c.sql
			got := strings.Join(faults(t, header), "; ")
			if (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// faults returns what the parser finds in a select that the header or the rules
// of its layer forbid.
func faults(t *testing.T, q queries.Query) []string {
	t.Helper()
	var text string
	if err := baseConn(t).QueryRowContext(context.Background(), "select json_serialize_sql(?::varchar)::varchar", q.SQL).Scan(&text); err != nil {
		t.Fatal(err)
	}
	var tree struct {
		Error      bool
		Message    string `json:"error_message"`
		Statements []struct{ Node map[string]any }
	}
	if err := json.Unmarshal([]byte(text), &tree); err != nil {
		t.Fatal(err)
	}
	if tree.Error {
		return []string{"cannot be parsed: " + tree.Message}
	}
	if n := len(tree.Statements); n != 1 {
		return []string{fmt.Sprintf("holds %d statements", n)}
	}
	node := tree.Statements[0].Node
	w := walker{reads: map[string]bool{}, local: map[string]bool{}, numbers: q.Schema == "derived" || q.Schema == "published"}
	w.names(node)
	w.walk(node)
	for _, item := range list(node["select_list"]) {
		if item["class"] == "STAR" {
			w.fault("the final select holds a star")
		}
	}
	for _, table := range slices.Sorted(maps.Keys(w.reads)) {
		if !slices.Contains(q.Reads, table) {
			w.fault("reads %s, which the header leaves out", table)
		}
	}
	for _, table := range q.Reads {
		if !w.reads[table] {
			w.fault("the header names %s, which the select does not read", table)
		}
	}
	return w.faults
}

// banned are functions whose answer depends on the clock, on chance, on files,
// or on the order in which rows happen to come.
var banned = regexp.MustCompile(`^(now|today|get_current_.*|current_.*|transaction_timestamp|random|setseed|uuid.*|gen_random_uuid|nextval|currval|getenv|read_.*|glob|` +
	`any_value|arbitrary|first|last|mode|arg_max|arg_min|max_by|min_by|argmax|argmin|avg|mean|stddev.*|var_.*|approx_.*)$`)

// plainNumbers may stand in derived and published queries; every other number
// is a setting.
var plainNumbers = []string{"0", "1", "7", "100"}

type walker struct {
	reads   map[string]bool
	local   map[string]bool // names given by with
	numbers bool            // whether numbers are watched
	faults  []string
}

func (w *walker) fault(format string, args ...any) {
	w.faults = append(w.faults, fmt.Sprintf(format, args...))
}

// names collects what with gives a name to.
func (w *walker) names(x any) {
	each(x, func(m map[string]any) {
		if cte, ok := m["cte_map"].(map[string]any); ok {
			for _, entry := range list(cte["map"]) {
				w.local[fmt.Sprint(entry["key"])] = true
			}
		}
	})
}

func (w *walker) walk(x any) {
	each(x, func(m map[string]any) {
		switch m["type"] {
		case "BASE_TABLE":
			schema, table := fmt.Sprint(m["schema_name"]), fmt.Sprint(m["table_name"])
			switch {
			case schema != "":
				w.reads[schema+"."+table] = true
			case !w.local[table]:
				w.fault("reads %s without a schema", table)
			}
		case "TABLE_FUNCTION":
			if f, ok := m["function"].(map[string]any); ok {
				w.fault("reads the table function %v", f["function_name"])
			}
		case "VALUE_CONSTANT":
			w.constant(m)
		case "COLUMN_REF":
			if names, ok := m["column_names"].([]any); ok && len(names) == 1 && banned.MatchString(fmt.Sprint(names[0])) {
				w.fault("calls %v", names[0])
			}
		}
		if name, ok := m["function_name"].(string); ok && banned.MatchString(name) {
			w.fault("calls %s", name)
		}
	})
}

func (w *walker) constant(m map[string]any) {
	value, ok := m["value"].(map[string]any)
	if !ok || !w.numbers {
		return
	}
	kind, _ := value["type"].(map[string]any)
	number, isNumber := value["value"].(float64)
	text := fmt.Sprint(number)
	if isNumber && kind["id"] != "BOOLEAN" && !slices.Contains(plainNumbers, text) {
		w.fault("holds the number %s", text)
	}
}

// each calls f for every object in a tree of JSON.
func each(x any, f func(map[string]any)) {
	switch x := x.(type) {
	case map[string]any:
		f(x)
		for _, key := range slices.Sorted(maps.Keys(x)) {
			each(x[key], f)
		}
	case []any:
		for _, y := range x {
			each(y, f)
		}
	}
}

func list(x any) []map[string]any {
	var out []map[string]any
	for _, y := range asSlice(x) {
		if m, ok := y.(map[string]any); ok {
			out = append(out, m)
		}
	}
	return out
}

func asSlice(x any) []any {
	s, _ := x.([]any)
	return s
}

// describe returns the columns of a table as the engine made it.
func describe(t *testing.T, table string) []string {
	t.Helper()
	columns, err := collect(context.Background(), baseConn(t), func(rows *sql.Rows, column *string) error { return rows.Scan(column) },
		"select column_name || ' ' || lower(column_type) from (describe "+table+")")
	if err != nil {
		t.Fatal(err)
	}
	return columns
}

func stated(q queries.Query) []string {
	columns := make([]string, len(q.Columns))
	for i, c := range q.Columns {
		columns[i] = c.Name + " " + c.Type
	}
	return columns
}
