package warehouse

import (
	"context"
	"database/sql"
	"sync"
)

// readings are the rows of published tables that somebody has asked for in whole.
// Several analyses of a month ask for the same, at once; each table is read once.
// A built warehouse does not change.
type readings struct {
	mu   sync.Mutex
	byID map[string]*reading
}

type reading struct {
	mu   sync.Mutex
	rows any // a slice, once read
}

// kept returns the rows of a query; of one without a condition the same ones to
// everybody who asks: nobody may change them.
func kept[T any](ctx context.Context, w *Warehouse, where string, scan func(*sql.Rows, *T) error, query string) ([]T, error) {
	if where != "" {
		return collect(ctx, w.db, scan, query)
	}
	w.readings.mu.Lock()
	if w.readings.byID == nil {
		w.readings.byID = map[string]*reading{}
	}
	r := w.readings.byID[query]
	if r == nil {
		r = &reading{}
		w.readings.byID[query] = r
	}
	w.readings.mu.Unlock()

	r.mu.Lock()
	defer r.mu.Unlock()
	if rows, ok := r.rows.([]T); ok {
		return rows, nil
	}
	rows, err := collect(ctx, w.db, scan, query)
	if err == nil {
		r.rows = rows
	}
	return rows, err
}

// sharing returns a function that gives equal texts one place in memory: tables of
// millions of rows repeat a few codes.
func sharing() func(text string) string {
	seen := map[string]string{}
	return func(text string) string {
		if known, ok := seen[text]; ok {
			return known
		}
		seen[text] = text
		return text
	}
}
