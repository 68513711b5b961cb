package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"strconv"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/cmd/internal/truthcheck"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// truthEpisodes is how many episodes the demo draws to know what its curves
// estimate. The error of that is part of the margin.
const truthEpisodes = 20_000

// verdict is what the demo's checks say.
type verdict struct {
	Files     int // that the nights met
	Refused   int // of which nothing was taken in
	Planted   int
	Missed    []string // planted items that nothing reports, and rows and files kept out that nobody planted
	Curves    int      // points of curves compared with their truth
	CurvesOff []string
}

func (v verdict) good() bool { return len(v.Missed) == 0 && len(v.CurvesOff) == 0 }

// checkDemo holds what the nights found against what is known of the practice.
func checkDemo(ctx context.Context, dir folder.Dir, engine warehouse.Engine, p *practice.Practice, batch int) (v verdict, err error) {
	a, err := assemble.OpenBuilt(ctx, dir, engine, batch, dir.Warehouse())
	if err != nil {
		return v, err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	findings, err := a.Warehouse.Findings(ctx)
	if err != nil {
		return v, err
	}
	var seen truthcheck.Seen
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		seen, err = truthcheck.Look(ctx, l, batch, findings)
		return err
	})
	if err != nil {
		return v, err
	}
	v.Files, v.Refused, v.Planted = len(seen.Files), seen.Refused(), len(p.Planted())
	v.Missed = append(truthcheck.Missing(p.Planted(), seen), truthcheck.Unplanned(p.Planted(), seen)...)

	figures, err := a.Warehouse.Figures(ctx)
	if err != nil {
		return v, err
	}
	if !truthcheck.Comparable(figures.Figures) {
		return v, nil // a small practice has no curve to compare
	}
	truth, err := practice.ComputeTruth(p.Scenario, truthEpisodes)
	if err != nil {
		return v, err
	}
	points, err := truthcheck.CompareCurves(truth, figures.Figures)
	if err != nil {
		return v, err
	}
	v.Curves = len(points)
	for _, point := range points {
		if !point.Agrees() {
			v.CurvesOff = append(v.CurvesOff, point.String())
		}
	}
	return v, nil
}

// plantedCSV lists what was planted and what must report it.
func plantedCSV(items []practice.Planted) ([]byte, error) {
	rows := [][]string{{"item", "where", "reported_by", "subject", "sender", "file", "line", "table"}}
	for _, i := range items {
		line := ""
		if i.Line > 0 {
			line = strconv.Itoa(i.Line)
		}
		rows = append(rows, []string{i.Item, i.Where, i.By, i.Subject, i.Sender, i.File, line, i.Table})
	}
	var out bytes.Buffer
	if err := csv.NewWriter(&out).WriteAll(rows); err != nil {
		return nil, fmt.Errorf("list what was planted: %w", err)
	}
	return out.Bytes(), nil
}
