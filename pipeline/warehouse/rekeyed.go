package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
)

// rekeys makes, where keys were exchanged up to a batch, a table of the keys that
// hold now, and views of the store's tables that carry them: a row sent under an
// old key is then a version of what the new key names, and what refers to it
// follows. It returns what the queries of the landing layer read instead of the
// store's tables; the views go with that layer.
func (b builder) rekeys(ctx context.Context, batch int) (*strings.Replacer, error) {
	if batch == 0 {
		return nil, nil
	}
	current, err := currentKeys(ctx, b.conn, "store.rekeys", batch)
	if err != nil || len(current) == 0 {
		return nil, err
	}
	if err := b.run(ctx, "create table landing.rekeyed (sender varchar not null, table_name varchar not null, old_key varchar not null, new_key varchar not null)"); err != nil {
		return nil, err
	}
	for _, k := range slices.SortedFunc(maps.Keys(current), compareOldKeys) {
		if _, err := b.conn.ExecContext(ctx, "insert into landing.rekeyed values (?, ?, ?, ?)", k.sender, k.table, k.key, current[k]); err != nil {
			return nil, err
		}
	}
	var instead []string
	for _, t := range export.Tables() {
		if err := b.run(ctx, "create view landing.rekeyed_"+t.Name+" as\n"+rekeyedView(t)); err != nil {
			return nil, fmt.Errorf("exchange the keys of %s: %w", t.Name, err)
		}
		instead = append(instead, "store."+t.Name+" as", "landing.rekeyed_"+t.Name+" as")
	}
	return strings.NewReplacer(instead...), nil
}

// oldKey is a key that another took the place of.
type oldKey struct{ sender, table, key string }

func compareOldKeys(a, b oldKey) int {
	return slices.Compare([]string{a.sender, a.table, a.key}, []string{b.sender, b.table, b.key})
}

// currentKeys follows the exchanges up to a batch in their order, and returns for
// each key that is no longer written the one that is.
func currentKeys(ctx context.Context, db queryer, table string, batch int) (map[oldKey]string, error) {
	type exchange struct {
		oldKey
		to string
	}
	list, err := collect(ctx, db, func(rows *sql.Rows, e *exchange) error {
		return rows.Scan(&e.sender, &e.table, &e.key, &e.to)
	}, "select sender, table_name, old_key, new_key from "+table+" where batch <= ? order by batch, file, line", batch)
	if err != nil {
		return nil, fmt.Errorf("read which keys were exchanged: %w", err)
	}
	current := map[oldKey]string{}
	written := map[oldKey][]oldKey{} // by the key that is written now, those it stands for
	for _, e := range list {
		to := oldKey{e.sender, e.table, e.to}
		delete(current, to) // what comes back into use stands for itself
		for _, earlier := range append(written[e.oldKey], e.oldKey) {
			if earlier != to {
				current[earlier] = e.to
				written[to] = append(written[to], earlier)
			}
		}
		delete(written, e.oldKey)
	}
	return current, nil
}

// rekeyedView selects a table of the store with the keys that hold now.
func rekeyedView(t export.Table) string {
	var joins, replaced, met []string
	now := map[string]string{} // how each column of the key reads now
	for _, c := range t.Columns {
		now[c.Name] = "r." + c.Name
		of := keysOf(t, c)
		if of == "" {
			continue
		}
		alias := "k_" + c.Name
		joins = append(joins, fmt.Sprintf("left join landing.rekeyed as %s on %s.sender = r._sender and %s.table_name = '%s' and %s.old_key = r.%s", alias, alias, alias, of, alias, c.Name))
		now[c.Name] = fmt.Sprintf("coalesce(%s.new_key, r.%s)", alias, c.Name)
		replaced = append(replaced, now[c.Name]+" as "+c.Name)
		met = append(met, alias+".new_key is not null")
	}
	joined := func(columns []string) string {
		var parts []string
		for _, name := range columns {
			c, _ := t.Column(name)
			parts = append(parts, fmt.Sprintf("replace(replace(coalesce(cast(%s as varchar), '%s'), '\\', '\\\\'), '|', '\\|')", now[name], c.Default))
		}
		return strings.Join(parts, " || '|' || ")
	}
	key := "'id:' || " + joined(t.Key)
	if len(t.FallbackKey) > 0 {
		key = "case when starts_with(r._key, 'id:') then " + key + " else 'c:' || " + joined(t.FallbackKey) + " end"
	}
	replaced = append(replaced, "case when "+strings.Join(met, " or ")+" then "+key+" else r._key end as _key")
	return "select r.* replace (" + strings.Join(replaced, ", ") + ") from store." + t.Name + " as r " + strings.Join(joins, " ")
}

// keysOf names the table, or PeopleKeys, whose keys stand in a column; empty for
// a column that holds none that can be exchanged.
func keysOf(t export.Table, c export.Column) string {
	switch {
	case c.Type != export.Key:
		return ""
	case c.Name == "person_id":
		return PeopleKeys
	case c.Name == "recurrence_of":
		return "episodes"
	case c.Name == t.Key[0] && len(t.Parents) == 0, len(t.Key) == 1 && c.Name == t.Key[0]:
		return t.Name
	}
	for _, p := range t.Parents {
		if p.Column == c.Name {
			return p.Table
		}
	}
	if c.Name == "session_id" { // an event may name one, without waiting for it
		return "sessions"
	}
	return ""
}
