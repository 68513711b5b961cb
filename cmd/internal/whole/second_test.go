package whole

import "slices"

// second fills the second night: rows that came late, corrections, rows taken
// back, and rows sent again as they were.
func (m *maker) second() {
	for _, table := range m.tables {
		var stay []sent
		for _, row := range m.rows[0][table.Name] {
			if m.chance(0.004) {
				m.rows[1][table.Name] = append(m.rows[1][table.Name], row)
			} else {
				stay = append(stay, row)
			}
		}
		m.rows[0][table.Name] = stay
	}
	m.again("episodes", 0.5, m.newTarget)
	m.again("bouts", 0.004, func(row cells) { row.set("sets", m.one("1", "7")) })
	m.again("sessions", 0.002, func(row cells) { row.set("attendance", "missed") })
	m.again("measurements", 0.01, func(row cells) {
		if row.get("measure") == "girth_calf" || row.get("measure") == "girth_forearm" {
			row.set("value", m.one("31.5", "32.5"))
			row.set("trial", "1")
		}
	})
	m.again("milestones", 0.01, func(row cells) { row.set("reached_on", plus(parse(row.get("reached_on")), 6)) })
	for _, back := range []struct {
		table string
		share float64
	}{{"episodes", 0.01}, {"sessions", 0.004}, {"milestones", 0.02}, {"bouts", 0.001}} {
		m.takeBack(back.table, back.share)
	}
}

// newTarget changes the target of some, mostly of those whose first had no date or
// a late one; among the dates are that of the first and none.
func (m *maker) newTarget(row cells) {
	start, set := m.starts[row.get("episode_id")], row.get("target_set_on")
	if set != "" && set <= plus(start, 28) && m.chance(0.8) {
		return
	}
	row.set("target_stage", m.one("jogging", "sport_drills", "arm_daily_use", "arm_loaded_use", "full_participation"))
	switch u := m.rng.Float64(); {
	case u < 0.3: // on the same day
	case u < 0.5:
		row.set("target_set_on", "")
	default:
		row.set("target_set_on", plus(start, m.days(5, 28, 29, 45, 90)))
	}
}

// again sends some rows of the first night once more, changed.
func (m *maker) again(table string, share float64, change func(row cells)) {
	for _, old := range m.rows[0][table] {
		if m.chance(share) {
			row := sent{sender: old.sender, cells: slices.Clone(old.cells)}
			change(cells{m, table, &row})
			m.rows[1][table] = append(m.rows[1][table], row)
		}
	}
}

// takeBack withdraws some rows of the first night, and sends a few of them again.
func (m *maker) takeBack(table string, share float64) {
	for _, t := range m.tables {
		if t.Name != table {
			continue
		}
		for _, old := range m.rows[0][table] {
			if !m.chance(share) {
				continue
			}
			gone := sent{sender: old.sender, cells: make([]string, len(old.cells)), state: "withdrawn"}
			for i, c := range t.Columns {
				if slices.Contains(t.Key, c.Name) {
					gone.cells[i] = old.cells[i]
				}
			}
			m.rows[1][table] = append(m.rows[1][table], gone)
			if m.chance(0.2) {
				m.rows[1][table] = append(m.rows[1][table], sent{sender: old.sender, cells: slices.Clone(old.cells)})
			}
		}
	}
}
