package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// EpisodeStarts returns the first day of care of each episode of the sender that
// stands in the store, for files that count days from there.
func (f *FileLoad) EpisodeStarts(ctx context.Context) (map[string]time.Time, error) {
	type start struct {
		episode string
		day     time.Time
	}
	list, err := collect(ctx, f.store(), func(rows *sql.Rows, s *start) error { return rows.Scan(&s.episode, &s.day) },
		`select episode_id, start_date from (
			select episode_id, start_date, _action from episodes where _sender = ?
			qualify row_number() over (partition by _key order by _file desc, _line desc, rowid desc) = 1
		) where _action <> 'withdrawal'`, f.planned.Sender)
	if err != nil {
		return nil, fmt.Errorf("find the starts of episodes: %w", err)
	}
	starts := make(map[string]time.Time, len(list))
	for _, s := range list {
		starts[s.episode] = s.day
	}
	return starts, nil
}

// State records what a file states about its delivery beside its rows; nothing
// is counted.
func (f *FileLoad) State(ctx context.Context, d Delivery) error {
	_, err := f.store().ExecContext(ctx, "insert into deliveries values (?, ?, ?, ?, ?, ?, ?)", f.batch, f.file, d.Line, f.planned.Sender, d.Site, d.CompleteFrom, d.CompleteTo)
	if err != nil {
		return fmt.Errorf("record what the delivery states: %w", err)
	}
	return nil
}
