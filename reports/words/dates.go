package words

import "time"

// Date prints a day as "30 June 2026"; the zero time is None.
func Date(t time.Time) string {
	if t.IsZero() {
		return None
	}
	return t.Format("2 January 2006")
}

// Month prints a month as "June 2026".
func Month(t time.Time) string {
	if t.IsZero() {
		return None
	}
	return t.Format("January 2006")
}
