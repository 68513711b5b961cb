package returning

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
)

// comebacks are the returns of a group up to the cut.
type comebacks struct {
	group group
	known []warehouse.Recurrence // whose person is known
	all   []warehouse.Recurrence
}

// recurrence adds, of those who returned, the share that began care anew for the
// same injury on the same side within the days of the settings, watched to the
// end of the data. Returns whose person the sender does not tell apart are left
// out and counted; of the practice their share is said.
func (m *maker) recurrence(g group) error {
	if m.in.Recurrences == nil {
		return nil
	}
	c := comebacks{group: g}
	for _, r := range m.in.Recurrences {
		if m.period.Holds(r.StartDate) && g.holds(r.InjuryType) && r.ReturnDay <= m.followed(r) {
			c.all = append(c.all, r)
			if r.PersonKnown {
				c.known = append(c.known, r)
			}
		}
	}
	if g.injury == "" {
		m.personKnown(c)
	}
	if g.injury != "" && personsOf(c.known) < max(m.in.TypeFloor, 1) {
		return nil
	}
	f := m.comebackFigure(c, "share", c.known)
	f.X, f.XUnit, f.Unit = number(float64(m.in.Rules.RecurrenceDays)), "days", "share"
	f.Missing = count(len(c.all) - len(c.known))
	if err := m.setRecurrence(&f, c.known); err != nil {
		return err
	}
	m.add(f, "d"+strconv.Itoa(m.in.Rules.RecurrenceDays), RecurrencesTable, and(and(g.where, returnedRows(m.period)), "person_known"))
	return nil
}

// setRecurrence fills in the share by Kaplan-Meier, on days since the return.
func (m *maker) setRecurrence(f *result.Figure, known []warehouse.Recurrence) error {
	within := m.in.Rules.RecurrenceDays
	if len(known) == 0 {
		withhold(f, "No return of somebody who is told apart by an id.")
		return nil
	}
	var data survival.Data
	for _, r := range known {
		end, event := m.followed(r), 0
		if by(r.NextDay, end) {
			end, event = *r.NextDay, 1
		}
		data.Time = append(data.Time, float64(end-r.ReturnDay))
		data.Event, data.Person = append(data.Event, event), append(data.Person, r.PersonKey)
	}
	curves, err := survival.AalenJohansen(data, 1, survival.Options{})
	if err != nil {
		return err
	}
	e := curves[1].At(float64(within))
	if slices.ContainsFunc(e.Warnings, beyondFollowUp) {
		withhold(f, fmt.Sprintf("Nobody has been watched for %d days after a return yet.", within))
		return nil
	}
	estimate(f, e)
	f.Warnings = nil
	if e.Low == e.High {
		f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
	}
	if curves[1].AtRisk(float64(within)) < float64(m.in.Rules.AtRiskFloor) {
		f.Warnings = append(f.Warnings, fmt.Sprintf("Fewer than %d people were still watched %d days after their return.", m.in.Rules.AtRiskFloor, within))
	}
	return nil
}

// personKnown adds the share of returns whose person is told apart by an id.
func (m *maker) personKnown(c comebacks) {
	f := m.comebackFigure(c, "person_known", c.all)
	f.Unit, f.Method = "share", "share"
	if len(c.all) == 0 {
		withhold(&f, "No return on record.")
	} else {
		f.Value, f.Events = number(float64(len(c.known))/float64(len(c.all))), count(len(c.known))
	}
	m.add(f, "", RecurrencesTable, and(c.group.where, returnedRows(m.period)))
}

// followed is the last day of care up to which what came after a return is known.
func (m *maker) followed(r warehouse.Recurrence) int {
	return min(r.FollowDays, days(r.StartDate, m.period.To))
}

func (m *maker) comebackFigure(c comebacks, statistic string, rows []warehouse.Recurrence) result.Figure {
	f := m.figure(c.group, statistic)
	f.Question, f.Measure, f.InputsHash = "recurrence", "care begun anew", comebackHash(rows)
	f.Persons, f.Episodes = count(personsOf(rows)), count(len(rows))
	return f
}

func personsOf(rows []warehouse.Recurrence) int {
	var keys []int
	for _, r := range rows {
		keys = append(keys, r.PersonKey)
	}
	return distinct(keys)
}

// comebackHash is the SHA-256 over the rows in their order.
func comebackHash(rows []warehouse.Recurrence) string {
	h := sha256.New()
	for _, r := range rows {
		fmt.Fprintf(h, "%d %d %q %q %s %q %t %d %d %s\n",
			r.EpisodeKey, r.PersonKey, r.Site, r.InjuryType, r.StartDate.Format(time.DateOnly), r.Side, r.PersonKnown, r.ReturnDay, r.FollowDays, text(r.NextDay))
	}
	return hex.EncodeToString(h.Sum(nil))
}
