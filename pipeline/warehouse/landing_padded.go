package warehouse

import (
	"context"
	"database/sql"
	"fmt"
)

// paddedColumns are the columns whose keys other files refer to, with the table
// that has them.
var paddedColumns = []struct{ column, table string }{
	{"person_id", "episodes"}, {"episode_id", "episodes"}, {"session_id", "sessions"},
}

// PaddedKeys returns the keys of a sender that are digits with noughts before
// them, by column and by what is left without the noughts: the key that a
// spreadsheet makes of them. Those that are keys of the sender too are left out.
func (l *Landing) PaddedKeys(ctx context.Context, sender string) (map[string]map[string]string, error) {
	padded := map[string]map[string]string{}
	for _, c := range paddedColumns {
		type pair struct{ bare, key string }
		// The range alone lets the engine pass over stretches without such keys.
		list, err := collect(ctx, l.db, func(rows *sql.Rows, p *pair) error { return rows.Scan(&p.bare, &p.key) },
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
	return padded, nil
}
