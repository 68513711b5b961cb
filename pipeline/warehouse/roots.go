package warehouse

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/seeds/reference"
)

// rootTable is a table that stands before the first query runs.
type rootTable struct {
	schema  string
	name    string
	columns []rootColumn
	rows    [][]any
}

type rootColumn struct{ name, kind string }

// rootTables returns the code tables, the settings, and the run: which batch is
// built and the date on which it was received, which is "today" to every query.
func rootTables(practice *settings.Practice, batch int, received time.Time) ([]rootTable, error) {
	tables, err := seedTables()
	if err != nil {
		return nil, err
	}
	for _, t := range practice.Tables() {
		tables = append(tables, settingsTable(t))
	}
	return append(tables, rootTable{
		schema:  "settings",
		name:    "run",
		columns: []rootColumn{{"as_of_batch", "integer"}, {"received_on", "date"}},
		rows:    [][]any{{batch, received}},
	}), nil
}

func settingsTable(t settings.Table) rootTable {
	table := rootTable{schema: "settings", name: t.Name}
	for _, c := range t.Columns {
		table.columns = append(table.columns, rootColumn{c.Name, c.Type})
	}
	for _, row := range t.Rows {
		values := make([]any, len(row))
		for i, v := range row {
			switch v := v.(type) {
			case string:
				if v != "" {
					values[i] = v
				}
			case []int: // the engine reads a list from its text
				values[i] = strings.ReplaceAll(fmt.Sprint(v), " ", ", ")
			default:
				values[i] = v
			}
		}
		table.rows = append(table.rows, values)
	}
	return table
}

// seedTypes are the columns of the code tables that hold no text.
var seedTypes = map[string]string{
	"rank":               "integer",
	"levels":             "integer",
	"most_items_missing": "integer",
	"landmark_days":      "integer",
	"contact_gap_days":   "integer",
	"keeps_activity":     "boolean",
	"warn_low":           "decimal(14,4)",
	"warn_high":          "decimal(14,4)",
	"reject_low":         "decimal(14,4)",
	"reject_high":        "decimal(14,4)",
	"mdc95_same_rater":   "decimal(14,4)",
	"mdc95_other_rater":  "decimal(14,4)",
	"mic":                "decimal(14,4)",
}

// seedTables returns the code tables; an empty cell is null.
func seedTables() ([]rootTable, error) {
	var tables []rootTable
	for _, t := range reference.Tables() {
		table := rootTable{schema: "seeds", name: t.Name}
		for _, name := range t.Columns {
			kind := seedTypes[name]
			if kind == "" {
				kind = "varchar"
			}
			table.columns = append(table.columns, rootColumn{name, kind})
		}
		for i, row := range t.Rows {
			values := make([]any, len(row))
			for j, cell := range row {
				v, err := seedValue(table.columns[j].kind, cell)
				if err != nil {
					return nil, fmt.Errorf("code table %s, row %d, column %s: %w", t.Name, i+1, table.columns[j].name, err)
				}
				values[j] = v
			}
			table.rows = append(table.rows, values)
		}
		tables = append(tables, table)
	}
	return tables, nil
}

func seedValue(kind, cell string) (any, error) {
	if cell == "" {
		return nil, nil
	}
	switch kind {
	case "integer":
		n, err := strconv.ParseInt(cell, 10, 32)
		return int32(n), err
	case "boolean":
		return strconv.ParseBool(cell)
	default:
		return cell, nil // the engine reads decimals from text without a detour through floating point
	}
}

// fill makes a root table and writes its rows.
func (b builder) fill(ctx context.Context, t rootTable) error {
	columns := make([]string, len(t.columns))
	for i, c := range t.columns {
		columns[i] = c.name + " " + c.kind
	}
	table := t.schema + "." + t.name
	if err := b.run(ctx, "create table "+table+" ("+strings.Join(columns, ", ")+")"); err != nil {
		return err
	}
	if len(t.rows) == 0 {
		return nil
	}
	values := make([]any, 0, len(t.rows)*len(columns))
	for _, r := range t.rows {
		values = append(values, r...)
	}
	_, err := b.conn.ExecContext(ctx, insertInto(table, len(columns), len(t.rows)), values...)
	return err
}

// insertInto writes the statement that inserts rows of values given apart.
func insertInto(table string, columns, rows int) string {
	row := "(" + strings.TrimSuffix(strings.Repeat("?, ", columns), ", ") + ")"
	return "insert into " + table + " values " + strings.TrimSuffix(strings.Repeat(row+", ", rows), ", ")
}
