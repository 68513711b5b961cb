package truthcheck

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// Seen is what the program reported of a practice.
type Seen struct {
	Findings     []warehouse.Finding
	Files        []warehouse.FileRecord
	FileFindings map[int][]warehouse.FileFinding
	Quarantine   map[int][]warehouse.Rejected
	Moved        []warehouse.Drift
}

// Look reads what landing reports of the files up to a batch, beside the
// findings of the checks.
func Look(ctx context.Context, landing *warehouse.Landing, batch int, findings []warehouse.Finding) (Seen, error) {
	seen := Seen{Findings: findings, Quarantine: map[int][]warehouse.Rejected{}}
	var err error
	if seen.Files, err = landing.Files(ctx, batch); err != nil {
		return Seen{}, err
	}
	if seen.FileFindings, err = landing.FileFindingsUpTo(ctx, batch); err != nil {
		return Seen{}, err
	}
	const everSince = 100_000 // days
	if seen.Moved, err = landing.Moved(ctx, batch, everSince, ""); err != nil {
		return Seen{}, err
	}
	for _, f := range seen.Files {
		if f.Counts.Quarantined == 0 {
			continue
		}
		if seen.Quarantine[f.File], err = landing.Quarantine(ctx, f.File); err != nil {
			return Seen{}, err
		}
	}
	return seen, nil
}

// Missing returns, in sentences, the planted items that nothing reports.
func Missing(planted []practice.Planted, seen Seen) []string {
	var missing []string
	counted := map[string]int{} // items that share one count of one file
	for _, item := range planted {
		if item.Where == practice.InCounts {
			counted[item.Sender+"/"+item.File+" "+item.By]++
		}
		if !seen.reports(item, counted[item.Sender+"/"+item.File+" "+item.By]) {
			missing = append(missing, describe(item))
		}
	}
	return missing
}

func describe(item practice.Planted) string {
	text := item.Item + ": " + item.Where + " " + item.By
	if item.Subject != "" {
		text += " about " + item.Subject
	}
	if item.File != "" {
		text += " in " + item.Sender + "/" + item.File
	}
	if item.Line > 0 {
		text += fmt.Sprintf(", line %d", item.Line)
	}
	return text
}

// reports says whether an item was reported. The nth item of one count of a
// file needs a count of n.
func (s Seen) reports(item practice.Planted, nth int) bool {
	if item.Where == practice.InFindings {
		return slices.ContainsFunc(s.Findings, func(f warehouse.Finding) bool { return f.Check == item.By && f.Subject == item.Subject })
	}
	if item.Where == practice.InDrift {
		return slices.ContainsFunc(s.Moved, func(m warehouse.Drift) bool {
			return m.Code == item.By && m.Sender+" "+m.Table+" "+m.Column == item.Subject
		})
	}
	for _, f := range s.Files {
		if f.Path != item.Sender+"/"+item.File {
			continue
		}
		switch item.Where {
		case practice.InQuarantine:
			return slices.ContainsFunc(s.Quarantine[f.File], func(r warehouse.Rejected) bool {
				return r.Line == item.Line && slices.Contains(r.Reasons, item.By)
			})
		case practice.InFile:
			return f.Problem.Code == item.By ||
				slices.ContainsFunc(s.FileFindings[f.File], func(g warehouse.FileFinding) bool { return g.Code == item.By })
		case practice.InLayout:
			return strings.Contains(f.Layout, item.By)
		default:
			count := map[string]int{"duplicates": f.Counts.Duplicates, "corrections": f.Counts.Corrections, "withdrawals": f.Counts.Withdrawals, "gone": f.Counts.Gone}
			return count[item.By] >= nth
		}
	}
	return false
}

// Unplanned returns, in sentences, the rows in quarantine and the files refused
// that nobody planted.
func Unplanned(planted []practice.Planted, seen Seen) []string {
	known := map[string]bool{}
	for _, item := range planted {
		known[fmt.Sprintf("%s/%s %d", item.Sender, item.File, item.Line)] = true
		known[fmt.Sprintf("%s/%s %s", item.Sender, item.File, item.By)] = true
	}
	var unplanned []string
	for _, f := range seen.Files {
		if f.Problem.Code != "" && !known[f.Path+" "+f.Problem.Code] {
			unplanned = append(unplanned, fmt.Sprintf("%s: %s", f.Path, f.Problem.Words))
		}
		for _, r := range seen.Quarantine[f.File] {
			if !known[fmt.Sprintf("%s %d", f.Path, r.Line)] {
				unplanned = append(unplanned, fmt.Sprintf("%s, line %d: %v", f.Path, r.Line, r.Words))
			}
		}
	}
	return unplanned
}

// Refused counts the files of which nothing was taken in.
func (s Seen) Refused() int {
	n := 0
	for _, f := range s.Files {
		if f.Problem.Code != "" {
			n++
		}
	}
	return n
}
