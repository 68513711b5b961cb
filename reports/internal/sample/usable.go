package sample

import "evenlimb/pipeline/result"

// usable adds how many episodes of each site could be used for the sides and the
// dose, and what one more item would have added.
func (m *maker) usable() {
	for question, share := range map[string]float64{"symmetry": 0.8, "dose": 0.6} {
		all := 0
		var parts []int
		for i := range Context().Sites {
			n := 0
			for _, k := range kinds {
				n += k.sites[i]
			}
			parts = append(parts, n)
			all += n
		}
		used := 0
		for i, site := range Context().Sites {
			n := int(share * float64(parts[i]))
			used += n
			m.used(question, site.Code, parts[i], n)
		}
		m.used(question, "", all, used)
		if question == "symmetry" {
			m.oneMore("", all-used)
			for i, site := range Context().Sites {
				m.oneMore(site.Code, parts[i]-int(share*float64(parts[i])))
			}
		}
		for _, site := range Context().Sites {
			for _, statistic := range []string{"began", "used", "not_used"} {
				m.set.Totals = append(m.set.Totals, result.Total{Whole: usableID(question, "", statistic), Part: usableID(question, site.Code, statistic)})
			}
		}
	}
}

// oneMore adds that half of those whose sides could not be compared lack a second
// day.
func (m *maker) oneMore(site string, not int) {
	n := not / 2
	m.keep(result.Figure{
		ID: usableID("", site, "one_more.second_day"), Question: "data", Site: site, Statistic: "one_more.second_day", Unit: "persons", Method: "count",
		Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n),
	})
}

func usableID(question, site, statistic string) string {
	return result.ID(result.PictureID("data", "", site, "", "", question, "24m"), statistic, "")
}

func (m *maker) used(question, site string, began, used int) {
	for statistic, n := range map[string]int{"began": began, "used": used, "not_used": began - used} {
		m.keep(result.Figure{
			ID: usableID(question, site, statistic), Question: "data", Measure: question, Site: site, Statistic: statistic, Unit: "episodes", Method: "count",
			Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n),
		})
		if statistic != "began" {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: usableID(question, site, "began"), Part: usableID(question, site, statistic)})
		}
	}
}
