package intake

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// sent is one row as it may be sent: a version of a key.
type sent struct {
	table int
	key   string
	cells string // of the columns behind the key
}

// The tables of the property, with the headings of their files.
var orderTables = []struct{ name, headings string }{
	{"sessions", "session_id,episode_id,session_date,attendance,minutes,row_state"},
	{"milestones", "episode_id,reached_on,stage,change,how_known,row_state"},
	{"measurements", "episode_id,measured_on,measure,side,trial,value,row_state"},
}

// history draws keys with one to four versions each, no content twice.
func history(rng *rand.Rand) [][]sent {
	var keys [][]sent
	for k := range 12 {
		table := rng.IntN(len(orderTables))
		key := []string{
			fmt.Sprintf("s%d", k),
			fmt.Sprintf("e%d,2026-01-01,walking,", k),
			fmt.Sprintf("e%d,2026-01-01,girth_calf,left,%d", k, 1+k%3),
		}[table]
		var versions []sent
		withdrawn := false
		for v := range 1 + rng.IntN(4) {
			if !withdrawn && v > 0 && rng.IntN(3) == 0 {
				withdrawn = true
				versions = append(versions, sent{table, key, []string{",,,,withdrawn", ",withdrawn", ",withdrawn"}[table]})
				continue
			}
			if table == 1 && v > 2 {
				break // the column has three values
			}
			versions = append(versions, sent{table, key, []string{
				fmt.Sprintf("e1,2026-01-01,attended,%d,", 10+v),
				[]string{"observed", "told", "inferred"}[v%3] + ",",
				fmt.Sprintf("3%d.5,current", v),
			}[table]})
		}
		keys = append(keys, versions)
	}
	return keys
}

// arrange deals the versions out to nights and files at random, those of each
// key in their order, and takes them in. It returns the latest version of every
// key, as the store has it, without lineage.
func arrange(t *testing.T, rng *rand.Rand, keys [][]sent) string {
	t.Helper()
	var all []sent
	next := make([]int, len(keys))
	left := 0
	for _, versions := range keys {
		left += len(versions)
	}
	for ; left > 0; left-- { // an interleaving: any key that has versions left
		k := rng.IntN(len(keys))
		for next[k] == len(keys[k]) {
			k = (k + 1) % len(keys)
		}
		all = append(all, keys[k][next[k]])
		next[k]++
	}
	f := newFolder(t)
	l := f.open()
	take := func(night int) {
		if _, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(night), Program: "test"}); err != nil {
			t.Fatal(err)
		}
	}
	night, file := 1, 0
	var text [3]strings.Builder
	drop := func() {
		for i, table := range orderTables {
			if text[i].Len() > 0 {
				f.write(fmt.Sprintf("inbox/north/%d_%03d_%d.csv", night, file, i), table.headings+"\n"+text[i].String())
				text[i].Reset()
			}
		}
		file++
	}
	for _, row := range all {
		fmt.Fprintf(&text[row.table], "%s,%s\n", row.key, row.cells)
		switch rng.IntN(12) {
		case 0: // the next rows stand in another file
			drop()
		case 1: // and are sent another night
			drop()
			take(night)
			night++
		}
	}
	drop()
	take(night)
	shut(t, l)
	return f.latest()
}

// latest returns the latest version of every key, those withdrawn as such.
func (f folder) latest() string {
	f.t.Helper()
	var b strings.Builder
	f.look(func(rows func(string) []string) {
		for _, table := range orderTables {
			query := `with newest as (
					select * from ` + table.name + ` qualify row_number() over (partition by _sender, _key order by _file desc, _line desc) = 1)
				select to_json(t)::varchar
				from (select * exclude (_batch, _file, _line, _content, _action), _action = 'withdrawal' as withdrawn from newest) as t
				order by t._sender, t._key`
			for _, row := range rows(query) {
				fmt.Fprintf(&b, "%s %s\n", table.name, row)
			}
		}
	})
	return b.String()
}

// Any reordering, splitting and interleaving of what is sent that keeps the
// order of each key's versions gives the same; swapping the last two versions of
// a key gives that other one.
func TestOrderOfArrivalDoesNotMatter(t *testing.T) {
	for seed := range uint64(2) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(seed, 7))
			keys := history(rng)
			want := arrange(t, rng, keys)
			if got := arrange(t, rng, keys); got != want {
				t.Fatalf("got:\n%s\nwant:\n%s", got, want)
			}
			k := slices.IndexFunc(keys, func(versions []sent) bool { return len(versions) > 1 })
			swapped := slices.Clone(keys)
			swapped[k] = slices.Clone(keys[k])
			last := len(swapped[k]) - 1
			swapped[k][last], swapped[k][last-1] = swapped[k][last-1], swapped[k][last]
			shortened := slices.Clone(keys)
			shortened[k] = slices.Clone(keys[k][:last])
			if got, other := arrange(t, rng, swapped), arrange(t, rng, shortened); got == want || got != other {
				t.Errorf("with two versions swapped, got:\n%s\nwant what stood before the last:\n%s", got, other)
			}
		})
	}
}
