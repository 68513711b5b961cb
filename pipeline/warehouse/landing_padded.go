package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
)

// paddedColumns are the columns whose keys other files refer to, with the table
// that has them.
var paddedColumns = []struct{ column, table string }{
	{"person_id", "episodes"}, {"episode_id", "episodes"}, {"session_id", "sessions"},
}

// paddedKeys are keys by column and by what is left without the noughts before
// them.
type paddedKeys = map[string]map[string]string

// PaddedKeys returns the keys of the sender that are digits with noughts before
// them, by column and by what is left without the noughts: the key that a
// spreadsheet makes of them. Those that are keys of the sender too are left out.
// The store is asked again only after rows with keys of digits alone have come in.
func (f *FileLoad) PaddedKeys(ctx context.Context) (map[string]map[string]string, error) {
	sender := f.planned.Sender
	if padded, known := f.landing.padded[sender]; known {
		return padded, nil
	}
	padded := paddedKeys{}
	for _, c := range paddedColumns {
		type pair struct{ bare, key string }
		// The range alone lets the engine pass over stretches without such keys.
		list, err := collect(ctx, f.store(), func(rows *sql.Rows, p *pair) error { return rows.Scan(&p.bare, &p.key) },
			`with padded as (
				select distinct `+c.column+` as key, ltrim(`+c.column+`, '0') as bare from `+c.table+`
				where _sender = $1 and `+c.column+` >= '0' and `+c.column+` < '1' and regexp_full_match(`+c.column+`, '0+[1-9][0-9]*')
			)
			select bare, key from padded where bare not in (select `+c.column+` from `+c.table+` where _sender = $1 and `+c.column+` in (select bare from padded))`, sender)
		if err != nil {
			return nil, fmt.Errorf("look for keys with noughts before them: %w", err)
		}
		if len(list) == 0 {
			continue
		}
		padded[c.column] = make(map[string]string, len(list))
		for _, p := range list {
			padded[c.column][p.bare] = p.key
		}
	}
	f.landing.padded[sender] = padded
	return padded, nil
}

// padsIn says whether rows that came in may change PaddedKeys.
func padsIn(t export.Table, rows []Row) bool {
	for _, c := range paddedColumns {
		if c.table != t.Name {
			continue
		}
		at := slices.IndexFunc(t.Columns, func(one export.Column) bool { return one.Name == c.column })
		for _, r := range rows {
			if key, _ := r.Cells[at].(string); key != "" && strings.Trim(key, "0123456789") == "" {
				return true
			}
		}
	}
	return false
}
