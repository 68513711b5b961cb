package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"evenlimb/queries"
)

// builder runs the steps of a build on one connection, which has the landing
// store attached under the name store.
type builder struct {
	conn    *sql.Conn
	batch   int               // keys exchanged up to it are followed; 0: none
	instead *strings.Replacer // what the landing layer reads instead of tables of the store
}

// prepare makes what stands before the first query: the schemas, the tables
// given, and the empty tables of the results.
func (b *builder) prepare(ctx context.Context, roots []rootTable) (err error) {
	if err := b.schemas(ctx); err != nil {
		return err
	}
	if b.instead, err = b.rekeys(ctx, b.batch); err != nil {
		return err
	}
	for _, t := range roots {
		if err := b.fill(ctx, t); err != nil {
			return fmt.Errorf("%s.%s: %w", t.schema, t.name, err)
		}
	}
	return b.run(ctx, resultTables...)
}

func (b builder) schemas(ctx context.Context) error {
	for _, schema := range append([]string{"seeds", "settings", "results"}, queries.Layers...) {
		if err := b.run(ctx, "create schema "+schema); err != nil {
			return err
		}
	}
	return nil
}

// create makes what one file says.
func (b builder) create(ctx context.Context, q queries.Query) error {
	text := q.SQL
	if q.Schema == "landing" && b.instead != nil {
		text = b.instead.Replace(text)
	}
	return b.run(ctx, "create "+kind(q)+" "+q.Table()+" as\n"+text)
}

// settle writes the comments of what create made, and proves it.
func (b builder) settle(ctx context.Context, q queries.Query) error {
	comments := []string{"comment on " + kind(q) + " " + q.Table() + " is " + quote(q.About+" "+sentence(q.Grain))}
	for _, c := range q.Columns {
		comments = append(comments, "comment on column "+q.Table()+"."+c.Name+" is "+quote(c.About))
	}
	if err := b.run(ctx, comments...); err != nil {
		return err
	}
	if q.View {
		return nil
	}
	return b.prove(ctx, q)
}

func kind(q queries.Query) string {
	if q.View {
		return "view"
	}
	return "table"
}

// prove fails when two rows have the same key or a number is not finite.
func (b builder) prove(ctx context.Context, q queries.Query) error {
	key := strings.Join(q.Key, ", ")
	var twice int
	err := b.conn.QueryRowContext(ctx, "select count(*) from (select 1 from "+q.Table()+" group by "+key+" having count(*) > 1)").Scan(&twice)
	if err != nil {
		return err
	}
	if twice > 0 {
		return fmt.Errorf("%d values of the key (%s) stand in more than one row; this is a fault of the program: please report it with the log", twice, key)
	}
	return b.proveFinite(ctx, q)
}

// proveFinite looks through all columns of numbers at once.
func (b builder) proveFinite(ctx context.Context, q queries.Query) error {
	var names, counts []string
	for _, c := range q.Columns {
		if c.Type == "double" {
			names = append(names, c.Name)
			counts = append(counts, "count(*) filter (where not isfinite("+c.Name+"))")
		}
	}
	if len(names) == 0 {
		return nil
	}
	odd, into := make([]int, len(names)), make([]any, len(names))
	for i := range odd {
		into[i] = &odd[i]
	}
	if err := b.conn.QueryRowContext(ctx, "select "+strings.Join(counts, ", ")+" from "+q.Table()).Scan(into...); err != nil {
		return err
	}
	for i, n := range odd {
		if n > 0 {
			return fmt.Errorf("column %s holds %d numbers that are not finite; this is a fault of the program: please report it with the log", names[i], n)
		}
	}
	return nil
}

func (b builder) run(ctx context.Context, statements ...string) error {
	for _, s := range statements {
		if _, err := b.conn.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// sentence turns a phrase of a header into one.
func sentence(phrase string) string {
	return strings.ToUpper(phrase[:1]) + phrase[1:] + "."
}
