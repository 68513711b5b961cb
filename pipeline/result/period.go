package result

import (
	"strconv"
	"time"
)

// Period is the days of which a month's figures tell.
type Period struct {
	From, To time.Time // first and last day; nobody is watched past To
	Label    string    // of its length, such as 24m
}

// PeriodOf is the month that any of its days stands for and the months-1 before
// it.
func PeriodOf(month time.Time, months int) Period {
	next := time.Date(month.Year(), month.Month()+1, 1, 0, 0, 0, 0, time.UTC)
	return Period{From: next.AddDate(0, -months, 0), To: next.AddDate(0, 0, -1), Label: strconv.Itoa(months) + "m"}
}

// Holds says whether a day lies in the period.
func (p Period) Holds(day time.Time) bool { return !day.Before(p.From) && !day.After(p.To) }
