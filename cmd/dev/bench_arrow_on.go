//go:build duckdb_arrow

package main

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"

	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/duckdb/duckdb-go/v2"
)

// arrowRows is about what a practice of 60,000 episodes would hand to a model.
const arrowRows = 1_000_000

const arrowColumns = 6

// benchArrow reads the same columns of a table by rows and by Arrow, and says
// how many times faster Arrow is. It is no requirement.
func benchArrow(ctx context.Context, r *report) (err error) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	const table = "create table model as select i %% 97 as a, i * 0.5::double as b, i %% 7 as c, sqrt(i) as d, i %% 365 as e, ln(i + 1) as f from range(%d) as t(i)"
	if _, err := conn.ExecContext(ctx, fmt.Sprintf(table, arrowRows)); err != nil {
		return err
	}
	const query = "select a::double, b::double, c::double, d::double, e::double, f::double from model"
	var rows, columns float64
	byRows, err := timed(func() error { rows, err = sumByRows(ctx, conn, query); return err })
	if err != nil {
		return err
	}
	byArrow, err := timed(func() error { columns, err = sumByArrow(ctx, conn, query); return err })
	if err != nil {
		return err
	}
	if rows != columns {
		return fmt.Errorf("by rows the sum is %v, by Arrow %v", rows, columns)
	}
	r.line("reading 1 million rows of 6 columns", true, fmt.Sprintf("by rows %.3f s, by Arrow %.3f s: %.1f times faster", byRows.Seconds(), byArrow.Seconds(), byRows.Seconds()/byArrow.Seconds()))
	return nil
}

func sumByRows(ctx context.Context, conn *sql.Conn, query string) (sum float64, err error) {
	rows, err := conn.QueryContext(ctx, query)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var x [arrowColumns]float64
	for rows.Next() {
		if err := rows.Scan(&x[0], &x[1], &x[2], &x[3], &x[4], &x[5]); err != nil {
			return 0, err
		}
		sum += x[0] // the other columns are read as well
	}
	return sum, rows.Err()
}

func sumByArrow(ctx context.Context, conn *sql.Conn, query string) (sum float64, err error) {
	err = conn.Raw(func(raw any) error {
		arrow, err := duckdb.NewArrowFromConn(raw.(driver.Conn))
		if err != nil {
			return err
		}
		reader, err := arrow.QueryContext(ctx, query)
		if err != nil {
			return err
		}
		defer reader.Release()
		for reader.Next() {
			for _, x := range reader.RecordBatch().Column(0).(*array.Float64).Float64Values() {
				sum += x
			}
		}
		return reader.Err()
	})
	return sum, err
}
