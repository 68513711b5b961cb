package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice"
)

// A large practice is drawn in lots, each a made-up practice of its own seed, in
// which everybody begins within the months that a report looks at.
const (
	largeMonths = 24
	largeLots   = 21
	largeLot    = 3000 // people
)

func largeScenario(lot int) practice.Scenario {
	s := practice.Default()
	s.Seed, s.Episodes, s.Months, s.Clean = uint64(lot+1), largeLot, largeMonths, true
	return s
}

// dropLarge writes the settings and the files of as many lots as have about so
// many bouts, each lot by a sender of its own for all sites, and returns when
// they came.
func dropLarge(place folder.Dir, bouts int) (now time.Time, err error) {
	lots := max(1, largeLots*bouts/practiceRows)
	var text []byte
	for lot := range lots {
		p, err := practice.Draw(largeScenario(lot))
		if err != nil {
			return now, err
		}
		text = p.Settings()
		tables, err := practice.Tables(p)
		if err != nil {
			return now, err
		}
		if tables["measurements"], err = oftener(tables["measurements"]); err != nil {
			return now, err
		}
		inbox := place.InboxOf(lotName(lot))
		for _, t := range export.Tables() {
			if err := writeTable(filepath.Join(inbox, t.Name+".csv"), names(t), tables[t.Name]); err != nil {
				return now, err
			}
		}
		var reach []practice.Row
		for _, site := range slices.Sorted(maps.Keys(p.Reach())) {
			day := p.Reach()[site]
			reach = append(reach, practice.Row{site, p.Scenario.Start.Format(time.DateOnly), day.Format(time.DateOnly)})
			if came := day.AddDate(0, 0, 1); came.After(now) {
				now = came
			}
		}
		if err := writeTable(filepath.Join(inbox, "delivery.csv"), []string{"site", "complete_from", "complete_to"}, reach); err != nil {
			return now, err
		}
	}
	return now, folder.WriteFile(place.Settings(), byLot(text, lots))
}

func lotName(lot int) string { return fmt.Sprintf("lot_%d", lot) }

func names(t export.Table) []string {
	var list []string
	for _, c := range t.Columns {
		list = append(list, c.Name)
	}
	return list
}

func writeTable(path string, headings []string, rows []practice.Row) error {
	var text bytes.Buffer
	w := csv.NewWriter(&text)
	if err := w.Write(headings); err != nil {
		return err
	}
	for _, row := range rows {
		if err := w.Write(row); err != nil {
			return err
		}
	}
	w.Flush()
	return errors.Join(w.Error(), folder.WriteFile(path, text.Bytes()))
}

// byLot lets the sender of each lot send for every site of the settings.
func byLot(text []byte, lots int) []byte {
	var senders []string
	for lot := range lots {
		senders = append(senders, strconv.Quote(lotName(lot)))
	}
	var out bytes.Buffer
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "senders = ") {
			line = "senders = [" + strings.Join(senders, ", ") + "]\n"
		}
		out.WriteString(line)
	}
	return out.Bytes()
}

// visits is how many days of measuring are made of each one drawn, so that a
// large practice has as many measurements as bouts.
const visits = 3

// oftener repeats every measurement on the days after it, a little lower.
func oftener(rows []practice.Row) ([]practice.Row, error) {
	table, _ := export.Find("measurements")
	columns := names(table)
	id, on, value := slices.Index(columns, "measurement_id"), slices.Index(columns, "measured_on"), slices.Index(columns, "value")
	all := make([]practice.Row, 0, visits*len(rows))
	for i, row := range rows {
		all = append(all, row)
		day, err := time.Parse(time.DateOnly, row[on])
		if err != nil {
			return nil, fmt.Errorf("measurement %d: %w", i, err)
		}
		number, err := strconv.ParseFloat(row[value], 64)
		if err != nil {
			return nil, fmt.Errorf("measurement %d: %w", i, err)
		}
		for n := 1; n < visits; n++ {
			again := slices.Clone(row)
			if row[id] != "" {
				again[id] = fmt.Sprintf("%s-%d", row[id], n)
			}
			again[on] = day.AddDate(0, 0, n).Format(time.DateOnly)
			again[value] = strconv.FormatFloat(number*(1-float64((i*7+n*5)%11)/1000), 'f', 1, 64)
			all = append(all, again)
		}
	}
	return all, nil
}
