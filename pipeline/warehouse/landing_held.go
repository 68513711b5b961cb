package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// HeldBack is the problem of a complete delivery that leaves out too much.
// Nothing of it is kept, and no results are computed until the practice says
// that it is meant, or goes on without it, or a later delivery takes its place.
const HeldBack = "too_many_gone"

// Held returns the files that are held back and wait for an answer, oldest
// first.
func (l *Landing) Held(ctx context.Context) ([]FileRecord, error) {
	const query = `select f.file from files as f
		where f.problem_code = '` + HeldBack + `'
		and not exists (select 1 from set_aside as s where s.path = f.path and s.sha256 = f.sha256)
		and not exists (select 1 from batch_plan as p where p.path = f.path and p.sha256 = f.sha256 and p.mode = 'meant' and p.batch > f.batch)
		and not exists (select 1 from files as o where o.sender = f.sender and o.file > f.file and o.problem_code is null
			and o.again_of is null and list_contains(string_split(o.table_name, ','), f.table_name)
			and regexp_extract(o.layout, '^.*\.toml') = regexp_extract(f.layout, '^.*\.toml'))`
	numbers, err := collect(ctx, l.db, func(rows *sql.Rows, n *int) error { return rows.Scan(n) }, query)
	if err != nil {
		return nil, fmt.Errorf("read the files held back: %w", err)
	}
	if len(numbers) == 0 {
		return nil, nil
	}
	waits := map[int]bool{}
	for _, n := range numbers {
		waits[n] = true
	}
	files, err := l.Files(ctx, 1<<31-1)
	if err != nil {
		return nil, err
	}
	var held []FileRecord
	for _, f := range files {
		if waits[f.File] {
			held = append(held, f)
		}
	}
	return held, nil
}

// SetAside notes that the practice goes on without a file that is held back.
func (l *Landing) SetAside(ctx context.Context, f FileRecord, on time.Time) error {
	if _, err := l.db.ExecContext(ctx, "insert into set_aside values (?, ?, ?)", f.Path, f.SHA256, on); err != nil {
		return fmt.Errorf("set %s aside: %w", f.Path, err)
	}
	return nil
}
