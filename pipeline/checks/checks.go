// Package checks tells what is odd about the data. Each check is a query of
// queries/checks, made with the warehouse; its rows are the offending ones. A
// finding never stops a night: it is counted and shown.
package checks

import (
	"context"
	"fmt"

	"evenlimb/pipeline/warehouse"
	"evenlimb/queries"
)

// The severities of a finding. Attention means that a person has to look.
const (
	Note      = "note"
	Attention = "attention"
)

// Check is one check, for documentation.
type Check struct {
	Name     string
	Severity string
	About    string // what a finding of it means, in sentences
}

// All returns the checks in order of their names.
func All() ([]Check, error) {
	made, err := queries.All()
	if err != nil {
		return nil, err
	}
	var all []Check
	for _, q := range made {
		if q.Schema == "checks" {
			all = append(all, Check{Name: q.Name, Severity: q.Severity, About: q.About})
		}
	}
	return all, nil
}

// Run returns the findings of every check in the warehouse, by check and
// subject. A finding has the same fingerprint in every night in which the same
// check finds the same thing about the same subject.
func Run(ctx context.Context, wh *warehouse.Warehouse) ([]warehouse.Finding, error) {
	all, err := All()
	if err != nil {
		return nil, err
	}
	var findings []warehouse.Finding
	for _, c := range all {
		rows, err := wh.Offending(ctx, c.Name)
		if err != nil {
			return nil, fmt.Errorf("check %s: %w", c.Name, err)
		}
		for _, r := range rows {
			findings = append(findings, warehouse.Finding{
				Check: c.Name, Severity: c.Severity, Subject: r.Subject, Site: r.Site, Count: r.Rows,
				Text:        r.Subject + ": " + r.Detail + ". " + c.About,
				Fingerprint: warehouse.Fingerprint(c.Name, r.Subject),
			})
		}
	}
	return findings, nil
}
