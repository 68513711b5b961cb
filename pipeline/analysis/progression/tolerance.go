package progression

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/warehouse"
)

// tolerance adds the figures of every band of pressure, of all exercises
// together and of each of them.
func (m *maker) tolerance() error {
	exercises := []string{""}
	for _, s := range m.in.Tolerance {
		if !slices.Contains(exercises, s.Exercise) {
			exercises = append(exercises, s.Exercise)
		}
	}
	for _, exercise := range exercises {
		for band := range len(m.in.Bands.PressureBands) + 2 {
			if err := m.tolerated(exercise, band); err != nil {
				return err
			}
		}
	}
	return nil
}

// tolerated adds the shares of one exercise, or of all, in one band.
func (m *maker) tolerated(exercise string, band int) error {
	var rows []warehouse.ToleranceSum
	for _, s := range m.in.Tolerance {
		if s.Band == band && (exercise == "" || s.Exercise == exercise) {
			rows = append(rows, s)
		}
	}
	where := m.period.months() + fmt.Sprintf(" and band = %d", band)
	if exercise != "" {
		where += " and exercise = " + literal(exercise)
	}
	s := subject{
		question: "tolerance", stratum: bandCode(m.in.Bands.PressureBands, band), measure: exercise, table: ToleranceTable, where: where,
		hash: inputsHash(rows, func(s warehouse.ToleranceSum) string {
			return fmt.Sprint(s.PersonKey, s.Exercise, s.Band, s.Bouts, s.EndedEarly, s.Sessions, s.Settled)
		}),
	}
	for _, k := range []struct {
		statistic, counted, condition string
		told                          func(s subject, statistic, counted, condition string, by *sums) error
		of                            func(r warehouse.ToleranceSum) (above, below int)
	}{
		{"ended_early", "bouts", "bouts > 0", m.rate, func(r warehouse.ToleranceSum) (above, below int) { return r.EndedEarly, r.Bouts }},
		{"settled", "visits", "sessions > 0", m.share, func(r warehouse.ToleranceSum) (above, below int) { return r.Settled, r.Sessions }},
	} {
		by := newSums()
		for _, r := range rows {
			if above, below := k.of(r); below > 0 {
				by.add(r.PersonKey, 0, float64(above), float64(below))
			}
		}
		if err := k.told(s, k.statistic, k.counted, k.condition, by); err != nil {
			return err
		}
	}
	return nil
}

// bandCode names a band by its bounds in percent: 0 is without the cuff, 1
// under the first bound.
func bandCode(bounds []int, band int) string {
	switch {
	case band == 0:
		return "without_cuff"
	case band == 1:
		return fmt.Sprintf("under_%d", bounds[0])
	case band > len(bounds):
		return fmt.Sprintf("%d_and_over", bounds[len(bounds)-1])
	default:
		return fmt.Sprintf("%d_to_%d", bounds[band-2], bounds[band-1])
	}
}
