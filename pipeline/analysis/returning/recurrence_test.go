package returning

import (
	"slices"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// again is a return on day 10 of the person with the number, watched for so many
// days after it, with the next care so many days after it.
func again(person, watched int, next *int) warehouse.Recurrence {
	e := began(100, 120)
	if next != nil {
		next = n(10 + *next)
	}
	return warehouse.Recurrence{
		EpisodeKey: person, PersonKey: person, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate, Side: "left",
		PersonKnown: true, ReturnDay: 10, FollowDays: 10 + watched, NextDay: next,
	}
}

// By hand, days after the return: one of five comes again on day 20, one is
// watched to day 30, on day 40 one of three comes again. S = 4/5 x 2/3 = 8/15.
func TestRecurrenceByHand(t *testing.T) {
	in := input(five()...)
	in.Rules.RecurrenceDays = 50
	in.Recurrences = []warehouse.Recurrence{
		again(1, 60, n(20)), again(2, 30, nil), again(3, 60, n(40)), again(4, 60, nil), again(5, 60, n(60)), again(6, 60, n(20)),
	}
	in.Recurrences[5].PersonKnown = false
	late := again(7, 60, nil)
	late.FollowDays = 9
	in.Recurrences = append(in.Recurrences, late) // the return comes after the data
	f := figures(t, in)
	for _, picture := range []string{"recurrence.24m", "recurrence.calf_strain.24m"} {
		g := f[picture+"/share@d50"]
		near(t, picture, g.Value, 7.0/15)
		if *g.Persons != 5 || *g.Episodes != 5 || *g.Events != 2 || *g.Missing != 1 || !slices.Contains(g.Warnings, "Fewer than 10 people were still watched 50 days after their return.") {
			t.Errorf("%s: %+v", picture, g)
		}
	}
	near(t, "person known", f["recurrence.24m/person_known"].Value, 5.0/6)

	in.Rules.RecurrenceDays = 61
	in.Recurrences[4].NextDay = nil
	if g := figures(t, in)["recurrence.calf_strain.24m/share@d61"]; g.Status != result.Withheld {
		t.Errorf("nobody was watched for 61 days: %+v", g)
	}
}

// Nobody is watched past the month's end, and a type with too few returns is not
// told on its own.
func TestRecurrenceIsCutAndHasItsFloor(t *testing.T) {
	in := input(five()...)
	in.Rules.RecurrenceDays = 50
	in.Recurrences = []warehouse.Recurrence{again(1, 400, n(91)), again(2, 400, nil)}
	g := figures(t, in)["recurrence.24m/share@d50"]
	near(t, "share", g.Value, 0)
	in.Rules.RecurrenceDays = 91 // the month ends 90 days after the return
	if g := figures(t, in)["recurrence.24m/share@d91"]; g.Status != result.Withheld {
		t.Errorf("%+v", g)
	}
	in.TypeFloor = 3
	if _, ok := figures(t, in)["recurrence.calf_strain.24m/share@d91"]; ok {
		t.Error("two returns stand alone")
	}
}
