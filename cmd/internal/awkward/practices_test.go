package awkward

import "testing"

// practices are what a program may stumble over, each with what its report must
// say in so many words, and what it must not.
var practices = []struct {
	name  string
	make  func(t *testing.T) *made
	says  []string
	never []string
}{
	{
		name: "one site",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.each("episodes", func(r record) { r.set("site", "harbour") })
			m.onlySites("harbour")
			return m
		},
		says:  []string{"episodes of care began at one site.", "Harbour: 6"},
		never: []string{"The whole practice: 6"},
	},
	{
		name: "one injury type",
		make: func(t *testing.T) *made {
			t.Helper()
			return take(t, 45, func(e record) bool { return e.get("injury_type") == "lateral_elbow_tendinopathy" })
		},
		says:  []string{"people who begin care for lateral elbow tendinopathy, about"},
		never: []string{"Other injury types", "Calf strain: "},
	},
	{
		name: "all bilateral",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.each("episodes", func(r record) {
				if side := r.get("side"); side != "bilateral" {
					r.set("side", "bilateral")
					r.set("worse_side", side)
				}
			})
			return m
		},
		says:  []string{"Both sides are involved in everybody who began care."},
		never: []string{"typically at"},
	},
	{
		name: "nobody returned",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.tables["milestones"] = nil
			m.each("followups", func(r record) { r.set("stage", "") })
			m.each("episodes", func(r record) {
				if r.get("end_reason") == "goal_met" {
					r.set("end_date", "")
					r.set("end_reason", "")
				}
			})
			return m
		},
		says:  []string{"No return is on record of anybody so far.", "No return is on record by week 12: "},
		never: []string{"0\u00a0% are back"},
	},
	{
		name: "everyone lost",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.each("episodes", func(r record) {
				r.setDay("end_date", r.day("start_date").AddDate(0, 0, 10))
				r.set("end_reason", "lost_contact")
				r.set("surgery_date", "")
			})
			m.cut(10)
			m.tables["milestones"] = nil
			return m
		},
		says: []string{"Cannot tell yet: calf strain", "Nobody has been watched to week 12"},
	},
	{
		name: "everyone at target",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, func(e record) bool { return ofThree(e) && e.get("target_stage") != "" })
			m.each("episodes", func(r record) { r.set("stage_at_start", r.get("target_stage")) })
			return m
		},
		says:  []string{"In none of them could a return be watched for", "Nobody to follow for a return: calf strain"},
		never: []string{"is on record so far", "Counted are people who were below their target"},
	},
	{
		name: "no dose recorded",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.tables["bouts"], m.tables["plans"] = nil, nil
			return m
		},
		says:  []string{"Nothing is told of dose: of nobody", "One more item on record, the exercises done at every attended session"},
		never: []string{"standardised over severity (the data fit"},
	},
	{
		name: "months and days",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, ofThree)
			m.offset = true
			return m
		},
		says: []string{"Starts of care came as months, not days, from harbour", "people who begin care for calf strain, about"},
	},
	{
		name: "two persons",
		make: func(t *testing.T) *made {
			t.Helper()
			return take(t, 2, ofThree)
		},
		says: []string{"episodes of care began; how many is not shown (too few people)."},
		// Whoever knows one of the two must learn nothing of the other.
		never: []string{"The data fit", "One more item on record"},
	},
	{
		name: "a silent site",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 60, func(e record) bool { return ofThree(e) && e.get("site") != "orchard" })
			m.through["millrace"] = m.month.AddDate(0, -6, 0)
			delete(m.through, "orchard")
			return m
		},
		says:  []string{"Nothing has been received from Orchard.", "The data of Millrace reach only to ", "Orchard: nothing has been received.", "began at two sites"},
		never: []string{"Orchard –"},
	},
	{
		name: "nobody lately",
		make: func(t *testing.T) *made {
			t.Helper()
			m := take(t, 20, ofThree)
			m.month, m.comes = m.month.AddDate(2, 0, 0), m.comes.AddDate(2, 0, 0)
			return m
		},
		says:  []string{"hold no episode of care that began", "Harbour: nobody began care."},
		never: []string{"Counted are people"},
	},
	{
		name: "just opened",
		make: func(t *testing.T) *made {
			t.Helper()
			opened := firstDay.AddDate(0, 3, 0)
			m := take(t, 60, func(e record) bool {
				return !e.day("start_date").Before(opened) && e.day("start_date").Before(opened.AddDate(0, 2, 0))
			})
			m.month, m.comes = opened.AddDate(0, 1, 0), opened.AddDate(0, 2, 0)
			for site := range m.through {
				m.through[site] = m.comes.AddDate(0, 0, -1)
			}
			m.before(m.comes)
			return m
		},
		says: []string{"cannot tell yet. Nobody has been watched to week 12 yet."},
	},
}

// ofThree keeps the three types that most people have, so that few people are
// enough for figures.
func ofThree(e record) bool {
	switch e.get("injury_type") {
	case "calf_strain", "lateral_elbow_tendinopathy", "achilles_tendinopathy":
		return true
	default:
		return false
	}
}
