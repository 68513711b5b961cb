package warehouse

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/pipeline/settings"
)

// The same store three times: as sent, with new keys from the first batch on, and
// with new keys from the second on, which an exchange of keys explains.
const (
	newKeys = `
update episodes set episode_id = 'N' || episode_id, person_id = 'N' || person_id, _key = regexp_replace(_key, '^(id|c):', '\1:N') where _batch >= FROM;
update sessions set session_id = 'N' || session_id, episode_id = 'N' || episode_id, _key = regexp_replace(_key, '^(id|c):', '\1:N') where _batch >= FROM;
update bouts set session_id = 'N' || session_id, _key = regexp_replace(_key, '^(id|c):', '\1:N') where _batch >= FROM;
update plans set episode_id = 'N' || episode_id, _key = regexp_replace(_key, '^(id|c):', '\1:N') where _batch >= FROM;
update followups set episode_id = 'N' || episode_id, _key = regexp_replace(_key, '^(id|c):', '\1:N') where _batch >= FROM;
update measurements set episode_id = 'N' || episode_id, _key = regexp_replace(_key, '^c:', 'c:N') where _batch >= FROM;
update milestones set episode_id = 'N' || episode_id, _key = regexp_replace(_key, '^c:', 'c:N') where _batch >= FROM;
update adverse_events set episode_id = 'N' || episode_id, session_id = 'N' || session_id where _batch >= FROM;`

	exchange = `
insert into rekeys select 2, 1, 1, s.sender, 'episodes', e, 'N' || e from
	(select distinct e from (select episode_id as e from episodes union select episode_id from sessions union select episode_id from measurements union select episode_id from milestones
		union select episode_id from plans union select episode_id from followups union select episode_id from adverse_events)), (select distinct _sender as sender from episodes) as s where e not like 'N%';
insert into rekeys select 2, 1, 2, s.sender, 'sessions', e, 'N' || e from
	(select distinct e from (select session_id as e from sessions union select session_id from bouts union select session_id from adverse_events where session_id is not null)), (select distinct _sender as sender from episodes) as s where e not like 'N%';
insert into rekeys select 2, 1, 3, s.sender, 'people', e, 'N' || e from
	(select distinct person_id as e from episodes where person_id is not null), (select distinct _sender as sender from episodes) as s where e not like 'N%';`
)

// TestExchangedKeys shows that rows sent under old keys and rows sent under new
// ones make the same warehouse as if the new keys had been there from the start.
func TestExchangedKeys(t *testing.T) {
	dir := t.TempDir()
	practice, err := settings.Parse([]byte(testSettings), "practice.toml")
	if err != nil {
		t.Fatal(err)
	}
	hash := func(name, statements string) string {
		t.Helper()
		path := filepath.Join(dir, name, "landing.duckdb")
		if err := os.Mkdir(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		landMade(t, path, 11, 12)
		alter(t, path, statements)
		out := filepath.Join(filepath.Dir(path), "warehouse.duckdb")
		if err := Build(t.Context(), BuildInput{Landing: path, Out: out, Batch: 3, Settings: practice}); err != nil {
			t.Fatal(err)
		}
		sum, err := ContentHash(t.Context(), out, Engine{})
		if err != nil {
			t.Fatal(err)
		}
		return sum
	}
	from := func(batch string) string { return strings.ReplaceAll(newKeys, "FROM", batch) }
	always := hash("always", from("1"))
	if got := hash("exchanged", exchange+from("2")); got != always {
		t.Error("an exchange of keys is not followed")
	}
	if hash("later", exchange+"update rekeys set batch = 4;"+from("2")) == always {
		t.Error("an exchange after the batch was followed, or new keys that nothing explains make the same warehouse")
	}
}

// TestExchangesFollowEachOther shows chains, returns and corrections of exchanges.
func TestExchangesFollowEachOther(t *testing.T) {
	conn := baseConn(t)
	ctx := t.Context()
	for _, c := range []struct {
		name   string
		given  string
		follow map[string]string
	}{
		{"one", "('a', 'b', 1)", map[string]string{"a": "b"}},
		{"a chain", "('a', 'b', 1), ('b', 'c', 2)", map[string]string{"a": "c", "b": "c"}},
		{"back again", "('a', 'b', 1), ('b', 'a', 2)", map[string]string{"b": "a"}},
		{"corrected", "('a', 'b', 1), ('a', 'c', 2)", map[string]string{"a": "c"}},
		{"two become one", "('a', 'c', 1), ('b', 'c', 2)", map[string]string{"a": "c", "b": "c"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := builder{conn: conn}
			if err := b.run(ctx, "begin", "insert into store.rekeys select 1, 1, line, 'north', 'episodes', o, n from (values "+c.given+") as v(o, n, line)"); err != nil {
				t.Fatal(err)
			}
			defer func() {
				if err := b.run(ctx, "rollback"); err != nil {
					t.Fatal(err)
				}
			}()
			got, err := currentKeys(ctx, conn, "store.rekeys", 1)
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != len(c.follow) {
				t.Errorf("got %v, want %v", got, c.follow)
			}
			for old, now := range c.follow {
				if got[oldKey{"north", "episodes", old}] != now {
					t.Errorf("%s is now %q, want %q", old, got[oldKey{"north", "episodes", old}], now)
				}
			}
		})
	}
}

func alter(t *testing.T, path, statements string) {
	t.Helper()
	db, err := sql.Open("duckdb", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.ExecContext(context.WithoutCancel(t.Context()), statements); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}
