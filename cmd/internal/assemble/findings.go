package assemble

import (
	"context"
	"fmt"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/intake/drift"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/warehouse"
)

// IntakeFindings returns what was odd about the files taken in up to a batch,
// from the store, so that a run that was cut off loses none, and what this
// run's look into the inbox met.
func IntakeFindings(ctx context.Context, l *warehouse.Landing, batch int, report intake.Report) ([]warehouse.Finding, error) {
	var found []warehouse.Finding
	add := func(check, severity, subject string, count int, text string) {
		found = append(found, warehouse.Finding{
			Check: check, Severity: severity, Subject: subject, Count: count, Text: text, Fingerprint: warehouse.Fingerprint(check, subject),
		})
	}
	for _, t := range report.Trouble {
		add("inbox:"+t.Code, nightly.Attention, t.Path, 1, fmt.Sprintf("inbox/%s was left: %s.", t.Path, t.Words))
	}
	if report.ClockBack {
		add("clock_back", nightly.Attention, fmt.Sprintf("batch %d", report.Batch.Number), 1,
			"The clock stands before the day of the batch before; the batch took that day. Set the clock of this machine right.")
	}
	files, err := l.Files(ctx, batch)
	if err != nil {
		return nil, err
	}
	odd, err := l.FileFindingsUpTo(ctx, batch)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		// The content is part of the subject: the same name may be dropped again.
		subject := f.Path + " " + f.SHA256[:12]
		if f.Problem.Code != "" {
			add("file:"+f.Problem.Code, nightly.Attention, subject, 1, fmt.Sprintf("inbox/%s was not taken in: %s.", f.Path, f.Problem.Words))
		}
		if n := f.Counts.Quarantined; n > 0 {
			add("quarantine", nightly.Attention, subject, n, fmt.Sprintf("inbox/%s: rows in quarantine: %d; %s lists them with their reasons.", f.Path, n, intake.QuarantineName(f)))
		}
		for _, o := range odd[f.File] {
			add("rows:"+o.Code, nightly.Note, subject+" "+o.Words, o.Count, fmt.Sprintf("inbox/%s: %s (rows: %d).", f.Path, o.Words, o.Count))
		}
	}
	moved, err := l.Moved(ctx, batch, driftDays, drift.KeysChanged)
	for _, m := range moved {
		subject := fmt.Sprintf("%s %s %s, batch %d", m.Sender, m.Table, m.Column, m.Batch)
		add("drift:"+m.Code, driftSeverity(m.Code), subject, m.Rows, fmt.Sprintf("%s, %s, batch %d: %s.", m.Sender, m.Table, m.Batch, m.Words))
	}
	return found, err
}

// driftDays is for how many days after a batch what had moved in it is listed.
const driftDays = 14

// driftSeverity: what loses or falsifies values needs a person; what may as well
// be a change of the work is a note.
func driftSeverity(code string) string {
	switch code {
	case drift.ShareMoves, drift.NewCode, drift.NewHeading:
		return nightly.Note
	default:
		return nightly.Attention
	}
}
