package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
)

// MovedKeys finds rows that this file brought under a key that is new to the
// store though a row of the sender with the same cells stood there under another
// key. keys are the columns that a layout makes; they are not compared. In a
// complete delivery only rows that it withdrew are looked at, and the columns
// from, of which keys are made, are not compared either: one of them has
// changed. It comes after the last row and after Gone.
func (f *FileLoad) MovedKeys(ctx context.Context, t export.Table, keys []string, complete bool, from []string) (FileFinding, error) {
	for _, one := range f.tables {
		if one.table.Name == t.Name {
			if !one.stored {
				return FileFinding{}, nil
			}
		}
	}
	var same []string
	for _, c := range t.Columns {
		if slices.Contains(keys, c.Name) || (complete && slices.Contains(from, c.Name)) {
			continue
		}
		same = append(same, "o."+c.Name+" is not distinct from n."+c.Name)
	}
	// The version before the newest of a key that went with this file, or the
	// version in force of one that stands and is not in it.
	old := "newest._file < $2 and newest._action <> 'withdrawal'"
	if complete {
		old = "newest._file = $2 and newest._action = 'withdrawal' and newest._line = 0"
	}
	query := `with fresh as (
			select * from ` + t.Name + ` where _file = $2 and _action = 'accepted'
		), newest as (
			select _key, _file, _line, _action from ` + t.Name + ` where _sender = $1
			qualify row_number() over (partition by _key order by _file desc, _line desc, rowid desc) = 1
		), old as (
			select v.* from ` + t.Name + ` as v join newest on newest._key = v._key
			where v._sender = $1 and v._file < $2 and v._action <> 'withdrawal' and ` + old + `
			qualify row_number() over (partition by v._key order by v._file desc, v._line desc, v.rowid desc) = 1
		)
		select distinct n._line from fresh as n join old as o on ` + strings.Join(same, " and ") + ` order by n._line`
	lines, err := collect(ctx, f.store(), func(rows *sql.Rows, line *int) error { return rows.Scan(line) }, query, f.planned.Sender, f.file)
	if err != nil {
		return FileFinding{}, fmt.Errorf("look for keys that moved in %s: %w", t.Name, err)
	}
	return FileFinding{Count: len(lines), Lines: lines[:min(len(lines), 20)]}, nil
}
