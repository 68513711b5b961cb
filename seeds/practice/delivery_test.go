package practice

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/export"
)

// replay takes the deliveries in in the plainest way: the later row of a key
// holds, a withdrawal takes it away, a row that cannot be read is passed over.
func replay(t *testing.T, deliveries []Delivery) map[string]map[string]Row {
	t.Helper()
	held := map[string]map[string]Row{}
	for _, table := range tableNames {
		held[table] = map[string]Row{}
	}
	for _, d := range deliveries {
		for _, f := range d.Files {
			if strings.HasSuffix(f.Name, "_cupboard.csv") || strings.HasSuffix(f.Name, "_delivery.csv") {
				continue
			}
			rows := readable(string(f.Data))
			table, ok := export.Recognise(rows[0])
			if !ok {
				t.Fatalf("%s/%s fits no table: %v", f.Sender, f.Name, rows[0])
			}
			n := len(table.Columns)
			for _, row := range rows[1:] {
				if len(row) != len(rows[0]) {
					continue
				}
				key := f.Sender + "/" + keyOf(table, row[:n])
				switch {
				case len(row) > n && row[n] == export.Withdrawn:
					delete(held[table.Name], key)
				case !broken(table, row[:n], f.Sender):
					held[table.Name][key] = row[:n]
				}
			}
		}
	}
	return held
}

// readable splits a file into rows; the row with the open quote is left out.
func readable(text string) []Row {
	var kept []string
	for _, line := range strings.SplitAfter(strings.TrimPrefix(text, "\ufeff"), "\n") {
		if !strings.HasPrefix(line, `"`) {
			kept = append(kept, line)
		}
	}
	reader := csv.NewReader(strings.NewReader(strings.Join(kept, "")))
	reader.FieldsPerRecord = -1
	var rows []Row
	for {
		row, err := reader.Read()
		if err != nil {
			return rows
		}
		rows = append(rows, row)
	}
}

// broken says whether a row cannot be taken.
func broken(table export.Table, row Row, sender string) bool {
	for i, column := range table.Columns {
		if complaint := fault(column, row[i]); complaint != "" && complaint != "is unusual" {
			return true
		}
		if column.From == "sites" {
			at := slices.IndexFunc(siteTable[:], func(s site) bool { return s.code == row[i] })
			if at < 0 || siteTable[at].sender != sender {
				return true
			}
		}
		if table.Name == "measurements" && column.Name == "trial" && row[i] == "" {
			return true
		}
	}
	return false
}

// After all deliveries the records are those that were drawn, but for the rows
// that were planted to be found odd and one target for each sender that was
// agreed anew.
func TestDeliveriesComeToTheDrawnRecords(t *testing.T) {
	p := small(t, 250)
	held := replay(t, p.Deliveries())
	tables, err := Tables(p)
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]string{}
	for _, r := range tables["episodes"] {
		site := slices.IndexFunc(siteTable[:], func(s site) bool { return s.code == r[2] })
		at[r[0]] = siteTable[site].sender
	}
	of := map[string]string{}
	for _, r := range tables["sessions"] {
		of[r[0]] = r[1]
	}
	for _, table := range export.Tables() {
		changed, extra := 0, len(held[table.Name])
		for _, row := range tables[table.Name] {
			episode := row[slices.IndexFunc(table.Columns, func(c export.Column) bool {
				return c.Name == "episode_id" || c.Name == "session_id" && table.Name == "bouts"
			})]
			if table.Name == "bouts" {
				episode = of[episode]
			}
			got, ok := held[table.Name][at[episode]+"/"+keyOf(table, row)]
			if !ok {
				t.Fatalf("%s: %v never arrives", table.Name, row)
			}
			extra--
			if i := slices.Index(headings()[slices.Index(tableNames[:], table.Name)], "method"); i >= 0 && strings.Contains(got[i], "\n") {
				got = slices.Clone(got)
				got[i] = row[i]
			}
			if !slices.Equal(got, row) {
				changed++
				t.Logf("%s: %v\nheld %v", table.Name, row, got)
			}
		}
		wantChanged, wantExtra := 0, 0
		for _, item := range p.Planted() {
			switch {
			case item.Table != table.Name:
			case item.Item == "a target agreed anew after day 28", item.By == "end_incomplete":
				wantChanged++
			case item.Where == InFindings || item.By == "minutes:"+findingUnusual:
				wantExtra++
			}
		}
		if changed != wantChanged || extra != wantExtra {
			t.Errorf("%s: %d rows differ and %d are extra, wanted %d and %d", table.Name, changed, extra, wantChanged, wantExtra)
		}
	}
}

// Every planted row lies where the list says.
func TestPlantedRowsLieWhereTheListSays(t *testing.T) {
	p := small(t, 250)
	files := map[string]string{}
	for _, d := range p.Deliveries() {
		for _, f := range d.Files {
			files[f.Sender+"/"+f.Name] = string(f.Data)
		}
	}
	rows := 0
	for _, item := range p.Planted() {
		if item.File == "" {
			continue
		}
		text, ok := files[item.Sender+"/"+item.File]
		if !ok {
			t.Fatalf("%s: no file %s/%s", item.Item, item.Sender, item.File)
		}
		if item.Line == 0 {
			continue
		}
		rows++
		line := strings.Split(text, "\n")[item.Line-1]
		if _, id, found := strings.Cut(item.Subject, "/"); found && item.By != "date_after_batch" && !strings.HasPrefix(line, strings.Fields(id)[0]) && item.By != "waiting_rows" {
			t.Errorf("%s: line %d of %s is %q, wanted %s", item.Item, item.Line, item.File, line, id)
		}
		if item.By == "session_date:"+reasonDate && !strings.Contains(line, "2024-02-30") || item.By == reasonQuotes && !strings.HasPrefix(line, `"`) {
			t.Errorf("%s: line %d of %s is %q", item.Item, item.Line, item.File, line)
		}
	}
	if rows < 60 {
		t.Errorf("only %d rows planted", rows)
	}
}
