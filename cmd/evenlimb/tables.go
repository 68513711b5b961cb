package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"evenlimb/pipeline/export"
	"evenlimb/queries"
)

func tablesCommand() command {
	var schema, warehouse bool
	return command{
		name:  "tables",
		about: "what a site may send, and what the warehouse holds",
		long: `Prints the eight tables that a site may send: every column with its type, its
codes and what it means. A CSV file whose headings are these names loads as it is.

With --schema the same is written as Frictionless Table Schemas (JSON). With
--warehouse the tables that are made from the rows are printed instead.`,
		flags: func(set *flag.FlagSet) {
			set.BoolVar(&schema, "schema", false, "write Frictionless Table Schemas, as JSON")
			set.BoolVar(&warehouse, "warehouse", false, "print the warehouse's own tables")
		},
		run: func(_ context.Context, c *call) (exit, error) {
			switch {
			case schema || (c.json && !warehouse):
				return exitDone, writeJSON(c.stdout, export.Schemas())
			case warehouse:
				return exitDone, warehouseTables(c.stdout, c.json)
			default:
				return exitDone, exportTables(c.stdout)
			}
		},
	}
}

func writeJSON(w io.Writer, value any) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(value)
}

func exportTables(w io.Writer) error {
	for _, t := range export.Tables() {
		key := strings.Join(t.Key, ", ")
		if len(t.FallbackKey) > 0 {
			key += "; where that is empty, " + strings.Join(t.FallbackKey, ", ")
		}
		fmt.Fprintf(w, "%s: %s\n  key: %s\n", t.Name, t.About, key)
		table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		for _, col := range t.Columns {
			need := ""
			if col.Required {
				need = "required"
			}
			fmt.Fprintf(table, "  %s\t%s\t%s\t%s\n", col.Name, typeWords(col), need, col.About)
		}
		if err := table.Flush(); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	_, err := fmt.Fprintf(w, "Every table may also carry %s (%s, %s). Dates are written 2025-06-30. An empty cell means: not recorded.\n", export.RowState, export.Current, export.Withdrawn)
	return err
}

func typeWords(c export.Column) string {
	words := c.Type.String()
	switch {
	case len(c.Codes) > 0:
		words = strings.Join(c.Codes, "|")
	case c.From != "":
		words += " of " + c.From
	case c.Unit != "":
		words += ", " + c.Unit
	}
	return words
}

func warehouseTables(w io.Writer, asJSON bool) error {
	all, err := queries.All()
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(w, all)
	}
	for _, q := range all {
		fmt.Fprintf(w, "%s.%s: %s\n  key: %s\n  %s\n", q.Schema, q.Name, q.Grain, strings.Join(q.Key, ", "), q.About)
		table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		for _, col := range q.Columns {
			fmt.Fprintf(table, "  %s\t%s\t%s\n", col.Name, col.Type, col.About)
		}
		if err := table.Flush(); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	return nil
}
