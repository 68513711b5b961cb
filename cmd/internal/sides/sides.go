// Package sides puts together, person by person, how the two sides compare and
// how each changed, for the clinician who treats them: what was measured, by which
// error it is judged, and nothing of what may come or what to do.
package sides

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// Choice says whose rows are wanted.
type Choice struct {
	Site    string // empty: all
	Episode string // as its sender calls it; empty: all
	Ended   bool   // those whose care has ended too
}

// Course is one course of care with all that was measured of its limbs.
type Course struct {
	warehouse.EpisodeName
	Visits []Visit // by measure, in the order of the code table, then by day
	Limbs  []Limb  // where both sides are involved: likewise, on a day the worse side first
}

// Visit is one measuring of the involved side.
type Visit struct {
	Measure string
	Day     int
	Pair    *warehouse.SidePair   // nil where the other side was not measured near
	Change  *warehouse.LimbChange // nil without a baseline before it
	// OtherInCare says that on this day the other side was itself in care, so that it
	// is no sound measure of the involved one.
	OtherInCare bool
}

// Limb is one measuring of one limb where both are involved.
type Limb struct {
	warehouse.BilateralChange
	Side string // left or right
}

// Collect reads the courses of care that were chosen and have something measured,
// in order of site, person and start.
func Collect(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, choice Choice) ([]Course, error) {
	names, err := wh.EpisodeNames(ctx)
	if err != nil {
		return nil, err
	}
	pairs, err := wh.SidePairs(ctx, "")
	if err != nil {
		return nil, err
	}
	changes, err := wh.LimbChanges(ctx, "")
	if err != nil {
		return nil, err
	}
	both, err := wh.BilateralChanges(ctx, "")
	if err != nil {
		return nil, err
	}
	return arrange(names, pairs, changes, both, regions(practice), choice), nil
}

// arrange lays the rows out by course of care.
func arrange(names []warehouse.EpisodeName, pairs []warehouse.SidePair, changes []warehouse.LimbChange, both []warehouse.BilateralChange, region map[string]string, choice Choice) []Course {
	ofPerson := map[int][]warehouse.EpisodeName{}
	courses := map[int]*Course{}
	for _, e := range names {
		ofPerson[e.PersonKey] = append(ofPerson[e.PersonKey], e)
		if (choice.Site == "" || e.Site == choice.Site) && (choice.Episode == "" || e.EpisodeID == choice.Episode) &&
			(choice.Ended || choice.Episode != "" || e.EndDate == nil) {
			courses[e.EpisodeKey] = &Course{EpisodeName: e}
		}
	}
	for i, p := range pairs {
		if c := courses[p.EpisodeKey]; c != nil {
			visit := c.visit(p.Measure, p.Day)
			visit.Pair = &pairs[i]
			visit.OtherInCare = otherInCare(c.EpisodeName, ofPerson[c.PersonKey], region, c.StartDate.AddDate(0, 0, p.UninvolvedDay))
		}
	}
	for i, change := range changes {
		if c := courses[change.EpisodeKey]; c != nil && c.Side != "bilateral" {
			c.visit(change.Measure, change.Day).Change = &changes[i]
		}
	}
	for _, change := range both {
		c := courses[change.EpisodeKey]
		if c == nil {
			continue
		}
		side := c.WorseSide
		if change.Limb == "other" {
			side = opposite(side)
		}
		c.Limbs = append(c.Limbs, Limb{change, side})
	}
	var list []Course
	for _, c := range courses {
		if len(c.Visits)+len(c.Limbs) > 0 {
			c.sort()
			list = append(list, *c)
		}
	}
	slices.SortFunc(list, func(a, b Course) int {
		return cmp.Or(cmp.Compare(a.Site, b.Site), cmp.Compare(a.PersonKey, b.PersonKey), a.StartDate.Compare(b.StartDate), cmp.Compare(a.EpisodeKey, b.EpisodeKey))
	})
	return list
}

// visit finds the visit of a measure and day, or begins it.
func (c *Course) visit(measure string, day int) *Visit {
	i := slices.IndexFunc(c.Visits, func(v Visit) bool { return v.Measure == measure && v.Day == day })
	if i < 0 {
		i = len(c.Visits)
		c.Visits = append(c.Visits, Visit{Measure: measure, Day: day})
	}
	return &c.Visits[i]
}

func (c *Course) sort() {
	codes := reference.Codes("measures")
	place := func(measure string) int { return slices.Index(codes, measure) }
	slices.SortFunc(c.Visits, func(a, b Visit) int { return cmp.Or(place(a.Measure)-place(b.Measure), a.Day-b.Day) })
	slices.SortFunc(c.Limbs, func(a, b Limb) int {
		return cmp.Or(place(a.Measure)-place(b.Measure), a.Day-b.Day, -cmp.Compare(a.Limb, b.Limb)) // worse comes after other in letters
	})
}

// otherInCare says whether the person was in care on a day for the other side, in
// the same region of the body, in another course.
func otherInCare(e warehouse.EpisodeName, all []warehouse.EpisodeName, region map[string]string, on time.Time) bool {
	return slices.ContainsFunc(all, func(o warehouse.EpisodeName) bool {
		return o.EpisodeKey != e.EpisodeKey && o.Side != e.Side && region[o.InjuryType] == region[e.InjuryType] &&
			!on.Before(o.StartDate) && (o.EndDate == nil || !on.After(*o.EndDate))
	})
}

// regions are the regions of the body of the practice's injury types.
func regions(practice *settings.Practice) map[string]string {
	list := map[string]string{}
	for _, t := range practice.InjuryTypes {
		list[t.Code] = t.Region
	}
	return list
}

func opposite(side string) string {
	if side == "left" {
		return "right"
	}
	return "left"
}

// on is the date of a day of care, and week the week it lies in, from 0; before
// care it is below 0.
func (c Course) on(day int) time.Time { return c.StartDate.AddDate(0, 0, day) }

func week(day int) float64 { return math.Floor(float64(day) / 7) }
