//go:build !duckdb_arrow

package main

import (
	"context"
	"fmt"
)

func benchArrow(_ context.Context, r *report) error {
	_, err := fmt.Fprintln(r.w, "left    arrow: run it with go run -tags duckdb_arrow ./cmd/dev bench arrow")
	return err
}
