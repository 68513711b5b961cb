package figures

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// asOf says from what a picture was drawn.
func asOf(c result.Context) string {
	return fmt.Sprintf("as of batch %d (%s)", c.AsOfBatch, words.Date(c.ReceivedOn))
}

// who says whose records and which period a picture rests on.
func who(s disclosure.Shown, c result.Context) string {
	people := "People"
	if s.Persons != nil {
		people = strings.Replace(words.Persons(s), "about", "About", 1) + " " + words.Plural(*s.Persons, "person", "people")
	}
	return fmt.Sprintf("%s who began care from %s to %s; %s", people, words.Date(s.PeriodFrom), words.Date(s.PeriodTo), asOf(c))
}

func byWeek(s disclosure.Shown) string { return "by week " + words.Decimal(*s.X, 0) }

// title is a sentence as it stands over a picture.
func title(s words.Sentence) string { return strings.TrimSuffix(s.Text, ".") }

// nothing says why there is no picture: the gate's or the method's reason.
func nothing(label string, all []disclosure.Shown) error {
	for _, s := range all {
		if s.Reason != "" {
			return &NothingShownError{Reason: label + ": " + s.Reason}
		}
	}
	return &NothingShownError{Reason: label + ": there are no figures of return to activity for this period."}
}
