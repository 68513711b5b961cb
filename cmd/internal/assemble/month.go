package assemble

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/cmd/internal/program"
	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/analysis/safety"
	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// Month computes all figures of a month. first is the month's first day.
func (a *AsOf) Month(ctx context.Context, first time.Time) (result.Set, error) {
	episodes, err := a.Warehouse.ReturnEpisodes(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	gaps, err := a.Warehouse.ContactGaps(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	in := returning.Input{Episodes: episodes, Gaps: gaps, Month: first, Rules: a.Practice.Return, Batch: a.Batch.Number}
	for _, t := range a.Practice.InjuryTypes {
		in.InjuryTypes = append(in.InjuryTypes, t.Code)
	}
	for _, s := range a.Practice.Sites {
		in.Sites = append(in.Sites, s.Code)
	}
	set, err := returning.Analyse(in)
	if err != nil {
		return result.Set{}, err
	}
	for _, question := range questions {
		figures, err := question(ctx, a.Warehouse, a.Practice, first, a.Batch.Number)
		if err != nil {
			return result.Set{}, err
		}
		set.Append(figures)
	}
	return set, nil
}

// questions are the analyses of a month that read their own tables.
var questions = []func(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error){
	symmetry.Month,
	safety.Month,
}

// Context gathers what a month's report says around its figures.
func (a *AsOf) Context(ctx context.Context, first time.Time) (result.Context, error) {
	reach, err := a.Warehouse.SiteReaches(ctx)
	if err != nil {
		return result.Context{}, err
	}
	waiting, err := a.Warehouse.Offending(ctx, "waiting_rows")
	if err != nil {
		return result.Context{}, err
	}
	last := first.AddDate(0, 1, -1)
	c := result.Context{
		Practice:   a.Practice.Name,
		Month:      first,
		PeriodFrom: first.AddDate(0, 1-a.Practice.Return.WindowMonths, 0),
		PeriodTo:   last,
		AsOfBatch:  a.Batch.Number, ReceivedOn: a.Batch.ReceivedOn,
		Program: program.Version(), SettingsHash: a.Practice.Digest(), MadeUp: a.Practice.MadeUp,
		Files: fileCounts(a.Files, waiting), Settings: settingsInForce(a.Practice),
	}
	for _, s := range a.Practice.Sites {
		site := result.Site{Code: s.Code, Label: s.Label}
		for _, r := range reach {
			if r.Site == s.Code {
				site.DataThrough = r.DataThrough
			}
		}
		site.Silent = site.DataThrough.Before(a.Batch.ReceivedOn.AddDate(0, 0, -a.Practice.Report.SilentAfterDays))
		c.Sites = append(c.Sites, site)
	}
	for _, t := range a.Practice.InjuryTypes {
		c.InjuryTypes = append(c.InjuryTypes, result.Label{Code: t.Code, Label: t.Label})
	}
	for _, code := range reference.Codes("stages") {
		c.Stages = append(c.Stages, result.Label{Code: code, Label: reference.Label("stages", code)})
	}
	return c, nil
}

// settingsInForce lists what the practice has set that reaches the figures.
func settingsInForce(p *settings.Practice) []result.Setting {
	number := func(key string, n int) result.Setting { return result.Setting{Key: key, Value: strconv.Itoa(n)} }
	return []result.Setting{
		number("return.window_months", p.Return.WindowMonths),
		number("return.hold_days", p.Return.HoldDays),
		number("return.hold_days_short", p.Return.HoldDaysShort),
		number("return.hold_days_long", p.Return.HoldDaysLong),
		number("return.target_by_day", p.Return.TargetByDay),
		number("return.at_risk_floor", p.Return.AtRiskFloor),
		number("report.due_after_days", p.Report.DueAfterDays),
		number("report.silent_after_days", p.Report.SilentAfterDays),
	}
}

// fileCounts sums what became of the rows of each sender's files.
func fileCounts(files []warehouse.FileRecord, waiting []warehouse.OffendingRow) []result.FileCount {
	sender := map[int]string{}
	counts := map[string]*result.FileCount{}
	for _, f := range files {
		sender[f.File] = f.Sender
		c := counts[f.Sender]
		if c == nil {
			c = &result.FileCount{Sender: f.Sender}
			counts[f.Sender] = c
		}
		c.Files++
		c.Read += f.Counts.Read
		c.Accepted += f.Counts.Accepted
		c.Duplicates += f.Counts.Duplicates
		c.Corrections += f.Counts.Corrections
		c.Withdrawals += f.Counts.Withdrawals
		c.Quarantined += f.Counts.Quarantined
	}
	for _, w := range waiting {
		if c := counts[sender[w.File]]; c != nil {
			c.Waiting += w.Rows
		}
	}
	var list []result.FileCount
	for _, c := range counts {
		list = append(list, *c)
	}
	slices.SortFunc(list, func(a, b result.FileCount) int { return strings.Compare(a.Sender, b.Sender) })
	return list
}

// NewestMonth returns the newest month that is over for the practice: the last
// one that would be due had nothing been published, else the month in which the
// batch was received.
func (a *AsOf) NewestMonth(ctx context.Context) (time.Time, error) {
	due, err := a.Due(ctx, nil)
	if err != nil {
		return time.Time{}, err
	}
	if len(due) > 0 {
		return due[len(due)-1], nil
	}
	day := a.Batch.ReceivedOn
	return time.Date(day.Year(), day.Month(), 1, 0, 0, 0, 0, time.UTC), nil
}

// Due returns the months whose report is due and not among the published.
func (a *AsOf) Due(ctx context.Context, published []time.Time) ([]time.Time, error) {
	sites, err := a.Warehouse.SiteReaches(ctx)
	if err != nil {
		return nil, err
	}
	var reach []time.Time
	var first time.Time
	for _, s := range sites {
		reach = append(reach, s.DataThrough)
		if !s.FirstStart.IsZero() && (first.IsZero() || s.FirstStart.Before(first)) {
			first = s.FirstStart
		}
	}
	return nightly.Due(a.Batch.ReceivedOn, reach, a.Practice.Report.DueAfterDays, published, first), nil
}
