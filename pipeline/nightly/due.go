package nightly

import "time"

// Due says which months a night has to write a report for, oldest first, each
// as its first day.
//
// A month is due once the data of every site reach past its last day, or else
// afterDays days after that day, judged on the date label of the newest batch:
// no clock is asked. Months up to the last one published are not due again;
// before the first publication only the newest month is, so that a practice
// that delivers years of history is not answered with years of reports. A month
// before the first start of care is never due.
//
// reach holds, for each site, the last day its data reach to; the zero time
// stands for a site that never sent anything.
func Due(received time.Time, reach []time.Time, afterDays int, published []time.Time, firstStart time.Time) []time.Time {
	if firstStart.IsZero() {
		return nil
	}
	newest := monthOf(received).AddDate(0, -1, 0)
	for !monthIsDue(newest, received, reach, afterDays) {
		newest = newest.AddDate(0, -1, 0)
	}
	if newest.Before(monthOf(firstStart)) {
		return nil
	}
	from := newest
	if last := latest(published); !last.IsZero() {
		from = last.AddDate(0, 1, 0)
	}
	var due []time.Time
	for month := from; !month.After(newest); month = month.AddDate(0, 1, 0) {
		due = append(due, month)
	}
	return due
}

func monthIsDue(month, received time.Time, reach []time.Time, afterDays int) bool {
	last := LastDay(month)
	if !received.Before(last.AddDate(0, 0, afterDays)) {
		return true
	}
	for _, day := range reach {
		if day.Before(last) {
			return false
		}
	}
	return received.After(last)
}

// LastDay returns the last day of the month that begins on first.
func LastDay(first time.Time) time.Time { return first.AddDate(0, 1, -1) }

func latest(days []time.Time) time.Time {
	var last time.Time
	for _, day := range days {
		if day.After(last) {
			last = day
		}
	}
	return last
}

func monthOf(day time.Time) time.Time {
	return time.Date(day.Year(), day.Month(), 1, 0, 0, 0, 0, time.UTC)
}
