package intake

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/drift"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// rekeyHeadings are those of the side file that says which keys took the place
// of which.
var rekeyHeadings = []string{"table", "old_key", "new_key"}

func statesRekeys(headings []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(headings)), slices.Sorted(slices.Values(rekeyHeadings)))
}

// rekeyTables are the tables whose keys can be exchanged: those with a key of
// their own, and people.
func rekeyTables() []string {
	tables := []string{warehouse.PeopleKeys}
	for _, t := range export.Tables() {
		if len(t.Key) == 1 {
			tables = append(tables, t.Name)
		}
	}
	return tables
}

// rekeys takes in a sheet of exchanged keys.
func (l *loader) rekeys(ctx context.Context, s *sheetReader, reader source.Reader) error {
	givenUp, err := l.load.GivenUp(ctx)
	if err != nil {
		return err
	}
	table := newCellReader(export.Column{Type: export.Code}, rekeyTables())
	key := newCellReader(export.Column{Type: export.Key}, nil)
	var given []warehouse.Rekey
	var sent [][]string
	var reject []warehouse.Rejected
	turnAway := func(line int, cells []string, wrong faults) {
		reject = append(reject, warehouse.Rejected{Line: line, Reasons: wrong.reasons, Words: wrong.words, Cells: readable(cells), Table: warehouse.RekeysTable})
	}
	old := map[[2]string]bool{}
	err = each(ctx, reader, func(rec source.Record) {
		rec = s.sent(rec)
		l.read++
		if reason, words := faultOf(rec, s.width); reason != "" {
			turnAway(rec.Line, rec.Cells, faults{[]string{reason}, []string{words}})
			return
		}
		r := warehouse.Rekey{Line: rec.Line}
		if wrong := readRekey(&r, s.headings, rec.Cells, table, key); len(wrong.reasons) > 0 {
			turnAway(rec.Line, rec.Cells, wrong)
			return
		}
		old[[2]string{r.Table, r.OldKey}] = true
		given, sent = append(given, r), append(sent, slices.Clone(rec.Cells))
	})
	if err != nil {
		return err
	}
	kept := given[:0]
	for i, r := range given {
		at := [2]string{r.Table, r.NewKey}
		if now, before := givenUp[at]; old[at] || (before && now != r.OldKey) {
			var wrong faults
			wrong.add("new_key", &fault{"given_up_before", "this key was given up for another, so that nobody could tell whose it is now; give one that was never used"})
			turnAway(r.Line, sent[i], wrong)
			continue
		}
		kept = append(kept, r)
	}
	if err := l.load.Rekey(ctx, kept); err != nil {
		return err
	}
	return l.load.Reject(reject)
}

// readRekey reads the cells of one exchange.
func readRekey(r *warehouse.Rekey, headings, cells []string, table, key *cellReader) (wrong faults) {
	for i, name := range headings {
		column, to := key, &r.OldKey
		switch name {
		case "table":
			column, to = table, &r.Table
		case "new_key":
			to = &r.NewKey
		}
		v, _, one := column.read(cells[i], nil)
		if one == nil && v == nil {
			one = &fault{requiredEmpty, "the cell must be filled"}
		}
		if one != nil {
			wrong.add(name, one)
			continue
		}
		*to, _ = v.(string)
	}
	if len(wrong.reasons) == 0 && r.OldKey == r.NewKey {
		wrong.add("new_key", &fault{"same_key", "it is the old key"})
	}
	return wrong
}

// unanswered stops the run while keys of a sender have all changed and nobody has
// said what became of the old ones: by a rekey.csv in that batch or later, or by
// new_keys in the settings.
func (r *run) unanswered(ctx context.Context) error {
	newest := r.report.Batch.Number
	moved, err := r.in.Landing.Moved(ctx, newest, 0, drift.KeysChanged)
	if err != nil {
		return err
	}
	answered, err := r.in.Landing.Rekeyed(ctx)
	if err != nil {
		return err
	}
	received := map[int]time.Time{}
	batches, err := r.in.Landing.Batches(ctx)
	if err != nil {
		return err
	}
	for _, b := range batches {
		received[b.Number] = b.ReceivedOn
	}
	var open, asked []string
	for _, m := range moved {
		if m.Code != drift.KeysChanged {
			continue
		}
		of := m.Sender + "/" + drift.KeysOf(m.Table, m.Column)
		meant := of + "/" + received[m.Batch].Format(time.DateOnly)
		if answered[of] >= m.Batch || slices.Contains(r.practice.Drift.NewKeys, meant) || slices.Contains(asked, meant) {
			continue
		}
		asked = append(asked, meant) // one answer is for all tables in which the keys stand
		open = append(open, fmt.Sprintf("%s sent keys in batch %d that are all new: %s. If they are meant to begin anew, write new_keys = [%q] under [drift] in practice.toml", m.Sender, m.Batch, m.Words, meant))
	}
	if len(open) == 0 {
		return nil
	}
	return &StopError{Code: drift.KeysChanged, Words: strings.Join(open, ". Besides, ")}
}
