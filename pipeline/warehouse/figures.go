package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"time"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/result"
)

// Finding is something odd in the data that did not stop the night: a row of
// results.findings. Checks make them.
type Finding struct {
	Check       string
	Severity    string // note or attention
	Subject     string // what is concerned, by sender and pseudonym
	Site        string // empty where it belongs to none
	Count       int    // rows concerned
	Text        string
	Fingerprint string // the same for the same finding in every night
}

// writeResults replaces all figures, where they come from, how they sum, and
// findings. Figures are written in the order given.
func writeResults(ctx context.Context, tx *sql.Tx, raw driver.Conn, set result.Set, findings []Finding) error {
	for _, table := range []string{"figures", "figure_sources", "figure_totals", "findings"} {
		if _, err := tx.ExecContext(ctx, fmt.Sprintf("delete from results.%s", table)); err != nil {
			return err
		}
	}
	if err := appendAll(raw, "results", "figures", set.Figures, figureValues); err != nil {
		return err
	}
	if err := appendAll(raw, "results", "figure_sources", set.Sources, func(s result.Source) []any {
		return []any{s.FigureID, s.Table, s.Predicate}
	}); err != nil {
		return err
	}
	if err := appendAll(raw, "results", "figure_totals", set.Totals, func(t result.Total) []any {
		return []any{t.Whole, t.Part}
	}); err != nil {
		return err
	}
	return appendAll(raw, "results", "findings", findings, func(f Finding) []any {
		return []any{f.Check, f.Severity, f.Subject, textOrNull(f.Site), f.Count, f.Text, f.Fingerprint}
	})
}

func figureValues(f result.Figure) []any {
	return []any{
		f.ID, f.Question, textOrNull(f.Measure), textOrNull(f.InjuryType), textOrNull(f.Site), textOrNull(f.Cohort), textOrNull(f.Stratum),
		day(f.PeriodFrom), day(f.PeriodTo), f.X, textOrNull(f.XUnit), f.Statistic,
		f.Value, f.Low, f.High, nullZero(f.Level), f.StdError,
		f.Persons, f.Episodes, f.Events, f.Exposure, textOrNull(f.ExposureUnit), f.Missing,
		textOrNull(f.Unit), textOrNull(f.Method), textOrNull(f.MethodVersion), string(f.Status), textOrNull(f.Reason), f.Warnings,
		f.AsOfBatch, textOrNull(f.InputsHash),
	}
}

func nullZero(x float64) any {
	if x == 0 {
		return nil
	}
	return x
}

func day(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t
}

// Figures reads results.figures, results.figure_sources and
// results.figure_totals in the order in which they were written.
func (w *Warehouse) Figures(ctx context.Context) (result.Set, error) {
	var set result.Set
	var err error
	set.Figures, err = collect(ctx, w.db, scanFigure, `
		select figure_id, question, coalesce(measure, ''), coalesce(injury_type, ''), coalesce(site, ''), coalesce(cohort, ''), coalesce(stratum, ''),
			period_from, period_to, x, coalesce(x_unit, ''), statistic, value, low, high, coalesce(level, 0), std_error,
			persons, episodes, events, exposure, coalesce(exposure_unit, ''), missing,
			coalesce(unit, ''), coalesce(method, ''), coalesce(method_version, ''), status, coalesce(reason, ''), warnings,
			as_of_batch, coalesce(inputs_hash, '')
		from results.figures order by rowid`)
	if err != nil {
		return set, fmt.Errorf("read the figures: %w", err)
	}
	set.Sources, err = w.sources(ctx, "")
	if err != nil {
		return set, err
	}
	set.Totals, err = collect(ctx, w.db, func(rows *sql.Rows, t *result.Total) error {
		return rows.Scan(&t.Whole, &t.Part)
	}, "select whole, part from results.figure_totals order by rowid")
	if err != nil {
		return set, fmt.Errorf("read the figures: %w", err)
	}
	return set, nil
}

func scanFigure(rows *sql.Rows, f *result.Figure) error {
	var from, to *time.Time
	var warnings *duckdb.Composite[[]string]
	err := rows.Scan(&f.ID, &f.Question, &f.Measure, &f.InjuryType, &f.Site, &f.Cohort, &f.Stratum,
		&from, &to, &f.X, &f.XUnit, &f.Statistic, &f.Value, &f.Low, &f.High, &f.Level, &f.StdError,
		&f.Persons, &f.Episodes, &f.Events, &f.Exposure, &f.ExposureUnit, &f.Missing,
		&f.Unit, &f.Method, &f.MethodVersion, &f.Status, &f.Reason, &warnings,
		&f.AsOfBatch, &f.InputsHash)
	if from != nil {
		f.PeriodFrom = *from
	}
	if to != nil {
		f.PeriodTo = *to
	}
	if warnings != nil && len(warnings.Get()) > 0 {
		f.Warnings = warnings.Get()
	}
	return err
}

// sources reads results.figure_sources, of one figure where an id is given.
func (w *Warehouse) sources(ctx context.Context, id string) ([]result.Source, error) {
	query, args := "select figure_id, table_name, predicate from results.figure_sources", []any{}
	if id != "" {
		query, args = query+" where figure_id = ?", append(args, id)
	}
	sources, err := collect(ctx, w.db, func(rows *sql.Rows, s *result.Source) error {
		return rows.Scan(&s.FigureID, &s.Table, &s.Predicate)
	}, query+" order by rowid", args...)
	if err != nil {
		return nil, fmt.Errorf("read where figures come from: %w", err)
	}
	return sources, nil
}

// Findings reads results.findings in the order in which they were written.
func (w *Warehouse) Findings(ctx context.Context) ([]Finding, error) {
	findings, err := collect(ctx, w.db, func(rows *sql.Rows, f *Finding) error {
		return rows.Scan(&f.Check, &f.Severity, &f.Subject, &f.Site, &f.Count, &f.Text, &f.Fingerprint)
	}, "select check_name, severity, subject, coalesce(site, ''), row_count, words, fingerprint from results.findings order by rowid")
	if err != nil {
		return nil, fmt.Errorf("read the findings: %w", err)
	}
	return findings, nil
}

// textOrNull writes an empty text as null.
func textOrNull(text string) any {
	if text == "" {
		return nil
	}
	return text
}
