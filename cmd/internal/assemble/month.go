package assemble

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"evenlimb/cmd/internal/program"
	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/analysis/groups"
	"evenlimb/pipeline/analysis/progression"
	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/analysis/safety"
	"evenlimb/pipeline/analysis/scores"
	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/analysis/usable"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// Month computes all figures of a month, or gives those that were kept. first is
// the month's first day.
func (a *AsOf) Month(ctx context.Context, first time.Time) (result.Set, error) {
	if set, ok := a.kept[first]; ok {
		return set, nil
	}
	sets := make([]result.Set, len(questions))
	failed := make([]error, len(questions))
	var all sync.WaitGroup
	for i, question := range questions {
		all.Go(func() {
			sets[i], failed[i] = question(ctx, a.Warehouse, a.Practice, first, a.Batch.Number)
		})
	}
	all.Wait()
	var set result.Set
	for _, one := range sets {
		set.Append(one)
	}
	return set, errors.Join(failed...)
}

// Keep spares computing again a month whose figures are known as of the batch.
func (a *AsOf) Keep(first time.Time, set result.Set) {
	a.kept = map[time.Time]result.Set{first: set}
}

// returned answers who is back at their activity, and when.
func returned(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	episodes, err := wh.ReturnEpisodes(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	gaps, err := wh.ContactGaps(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	stays, err := wh.StageStays(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	recurrences, err := wh.Recurrences(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	details, err := wh.ReturnDetails(ctx, "")
	if err != nil {
		return result.Set{}, err
	}
	in := returning.Input{
		Episodes: episodes, Gaps: gaps, Stays: stays, Recurrences: recurrences, Details: details, Month: first, Rules: practice.Return,
		TypeFloor: practice.SmallCounts.Circulating, StageFloor: practice.SmallCounts.Curve, Batch: batch,
	}
	in.InjuryTypes = practice.TypeCodes()
	in.Sites = practice.SiteCodes()
	return returning.Analyse(in)
}

// questions are the analyses of a month, in the order of their figures.
var questions = []func(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error){
	returned,
	groups.Month,
	symmetry.Month,
	dose.Month,
	scores.Month,
	progression.Month,
	safety.Month,
	usable.Month,
}

// Context gathers what a month's report says around its figures.
func (a *AsOf) Context(ctx context.Context, first time.Time) (result.Context, error) {
	reach, err := a.reaches(ctx)
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
		Files: fileCounts(a.Files, a.odd, waiting), Settings: settingsInForce(a.Practice),
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
		if t.KeepsActivity {
			c.KeepsActivity = append(c.KeepsActivity, t.Code)
		}
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
		number("return.recurrence_days", p.Return.RecurrenceDays),
		number("symmetry.pair_days", p.Symmetry.PairDays),
		number("symmetry.support_persons", p.Symmetry.SupportPersons),
		number("symmetry.threshold_percent", p.Symmetry.ThresholdPercent),
		number("symmetry.change_week", p.Symmetry.ChangeWeek),
		number("dose.recorded_percent", p.Dose.RecordedPercent),
		number("dose.least_persons", p.Dose.LeastPersons),
		number("dose.least_returns", p.Dose.LeastReturns),
		number("dose.gone_percent", p.Dose.GonePercent),
		number("dose.reference_sets", p.Dose.ReferenceSets),
		number("dose.least_effective_percent", p.Dose.LeastEffective),
		number("dose.most_imbalance_percent", p.Dose.MostImbalance),
		number("dose.least_clinicians", p.Dose.LeastClinicians),
		number("scores.around_weeks", p.Scores.AroundWeeks),
		number("scores.least_persons", p.Scores.LeastPersons),
		number("scores.change_week", p.Scores.ChangeWeek),
		number("progression.load_percent", p.Progression.LoadPercent),
		number("progression.reps_percent", p.Progression.RepsPercent),
		number("progression.pressure_points", p.Progression.PressurePoints),
		number("progression.pain_from", p.Progression.PainFrom),
		number("progression.after_pain_days", p.Progression.AfterPainDays),
		number("progression.stall_days", p.Progression.StallDays),
		number("tolerance.next_visit_days", p.Tolerance.NextVisitDays),
		number("safety.widen_above_percent", p.Safety.WidenAbovePercent),
		number("report.due_after_days", p.Report.DueAfterDays),
		number("report.silent_after_days", p.Report.SilentAfterDays),
	}
}

// startOfMonth is the finding that a start of care was sent as a month.
const startOfMonth = "start_date:month_only"

// fileCounts sums what became of the rows of each sender's files.
func fileCounts(files []warehouse.FileRecord, odd map[int][]warehouse.FileFinding, waiting []warehouse.OffendingRow) []result.FileCount {
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
		c.Skipped += f.Counts.Skipped
		c.Gone += f.Counts.Gone
		c.Forms = counted(c.Forms, f.Form)
		for _, o := range odd[f.File] {
			if o.Code == startOfMonth {
				c.MonthOnly += o.Count
			}
		}
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

// counted counts one more file of a form. The places of a workbook's sheets
// differ from file to file and are left out.
func counted(forms []result.FileForm, form string) []result.FileForm {
	form = strings.Join(slices.DeleteFunc(strings.Split(form, ", "), func(part string) bool { return strings.HasPrefix(part, "sheets ") }), ", ")
	at, found := slices.BinarySearchFunc(forms, form, func(f result.FileForm, form string) int { return strings.Compare(f.Form, form) })
	if !found {
		forms = slices.Insert(forms, at, result.FileForm{Form: form})
	}
	forms[at].Files++
	return forms
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
	sites, err := a.reaches(ctx)
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

// reaches reads how far the data of each site reach, once.
func (a *AsOf) reaches(ctx context.Context) (_ []warehouse.SiteReach, err error) {
	if a.reach == nil {
		a.reach, err = a.Warehouse.SiteReaches(ctx)
	}
	return a.reach, err
}
