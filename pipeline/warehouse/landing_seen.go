package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"time"
)

// Content is what a file is known by.
type Content struct{ Sender, SHA256 string }

// Known returns the content, by sender and SHA-256, that is in or planned. Its
// value is what a refused file was judged by, and empty for all others.
func (l *Landing) Known(ctx context.Context) (map[Content]string, error) {
	type one struct {
		content Content
		rules   string
	}
	const query = `select sender, sha256, coalesce(arg_max(case when problem_code is null then '' else rules end, batch), '')
		from batch_plan group by sender, sha256`
	list, err := collect(ctx, l.db, func(rows *sql.Rows, o *one) error {
		return rows.Scan(&o.content.Sender, &o.content.SHA256, &o.rules)
	}, query)
	if err != nil {
		return nil, fmt.Errorf("read the files known: %w", err)
	}
	known := make(map[Content]string, len(list))
	for _, o := range list {
		known[o.content] = o.rules
	}
	return known, nil
}

// Seen is a file of the inbox as it was when it was last read.
type Seen struct {
	Path     string
	Bytes    int64
	Modified time.Time
	SHA256   string
	HashedOn time.Time // a date
}

// Seen returns the files of the inbox that were read before, by path.
func (l *Landing) Seen(ctx context.Context) (map[string]Seen, error) {
	list, err := collect(ctx, l.db, func(rows *sql.Rows, s *Seen) error {
		var modified int64
		err := rows.Scan(&s.Path, &s.Bytes, &modified, &s.SHA256, &s.HashedOn)
		s.Modified = time.Unix(0, modified)
		return err
	}, "select path, bytes, modified, sha256, hashed_on from seen_files")
	if err != nil {
		return nil, fmt.Errorf("read the files seen: %w", err)
	}
	seen := make(map[string]Seen, len(list))
	for _, s := range list {
		seen[s.Path] = s
	}
	return seen, nil
}

// Saw notes how files stood when they were read, in place of what was noted of
// their paths before.
func (l *Landing) Saw(ctx context.Context, list []Seen) error {
	if len(list) == 0 {
		return nil
	}
	paths := make([]string, len(list))
	for i, s := range list {
		paths[i] = s.Path
	}
	err := inTransaction(ctx, l.db, func(tx *sql.Tx, raw driver.Conn) error {
		if _, err := tx.ExecContext(ctx, "delete from seen_files where path in (select unnest(?::varchar[]))", paths); err != nil {
			return err
		}
		return appendAll(raw, "", "seen_files", list, func(s Seen) []any {
			return []any{s.Path, s.Bytes, s.Modified.UnixNano(), s.SHA256, s.HashedOn}
		})
	})
	if err != nil {
		return fmt.Errorf("note the files seen: %w", err)
	}
	return nil
}
