package calibrate

import (
	"cmp"
	"slices"

	"evenlimb/pipeline/warehouse"
)

// valueKey is one day of measuring of one side.
type valueKey struct {
	measure string
	side    string
	day     int
}

// value is the value of a visit: the mean of its trials, or the best one.
type value struct {
	valueKey
	sum, best int64 // ten thousandths of the unit
	trials    int
	rater     string
	mixed     bool // more than one rater, or none on record for a trial
	mean      float64
}

func (b *book) readMeasurements() error {
	kinds, units, better := codes("measures", "kind"), codes("measures", "unit"), codes("measures", "better")
	return b.p.Each("measurements", []string{"episode_id", "measured_on", "measure", "side", "value", "unit", "rater_id"}, func(c [][]byte) {
		e := b.byID[string(c[0])]
		if e == nil {
			return
		}
		day := date(c[1]) - e.startOn
		e.contacts = append(e.contacts, day)
		side, measure := string(c[3]), string(c[2])
		x, ok := tenThousandths(c[4])
		if side == "none" || !ok || len(c[5]) > 0 && string(c[5]) != units[measure] || day > e.follow || e.endOn != none && e.endOn < e.startOn {
			return
		}
		at := valueKey{measure, side, day}
		if e.values == nil {
			e.values = map[valueKey]*value{}
		}
		v := e.values[at]
		if v == nil {
			v = &value{valueKey: at, best: x, rater: string(c[6])}
			e.values[at] = v
		}
		v.trials++
		v.sum += x
		if v.best < x == (better[measure] == "more") {
			v.best = x
		}
		v.mixed = v.mixed || len(c[6]) == 0 || v.rater != string(c[6])
		v.mean = float64(v.sum) / 1e4 / float64(v.trials)
		if kind := kinds[measure]; kind == "hop" || kind == "endurance" {
			v.mean = float64(v.best) / 1e4
		}
	})
}

// sides publishes symmetry_episodes, side_pairs and limb_changes.
func (b *book) sides() {
	better := codes("measures", "better")
	for i, e := range b.episodes {
		b.out.Symmetry = append(b.out.Symmetry, warehouse.SymmetryEpisode{
			EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
			Bilateral: e.side == "bilateral", Severity: e.severity, ReturnDay: b.out.Return[i].ReturnDay,
		})
		all := make([]*value, 0, len(e.values))
		for _, v := range e.values {
			all = append(all, v)
		}
		slices.SortFunc(all, func(x, y *value) int {
			return cmp.Or(cmp.Compare(x.measure, y.measure), cmp.Compare(x.side, y.side), cmp.Compare(x.day, y.day))
		})
		bases := b.baselines(e, all)
		involved := e.side
		if e.side == "bilateral" {
			involved = e.worse
		}
		for _, v := range all {
			if v.side != involved {
				continue
			}
			base := bases[valueKey{v.measure, v.side, 0}]
			if base != nil && v.day > base.day {
				b.out.Changes = append(b.out.Changes, warehouse.LimbChange{
					EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
					Measure: v.measure, Day: v.day, BaselineDay: base.day, Value: v.mean, Baseline: base.mean,
					SameRater: !v.mixed && !base.mixed && v.rater == base.rater,
				})
			}
			if e.side != "bilateral" {
				b.pair(e, v, all, bases, better[v.measure] == "less")
			}
		}
	}
}

// baselines of an episode, by measure and side with day 0.
func (b *book) baselines(e *episode, all []*value) map[valueKey]*value {
	rules := b.rules.Symmetry
	before := rules.BaselineDaysAfter + 1
	if len(e.inflated) > 1 {
		slices.Sort(e.inflated)
		before = min(before, e.inflated[1])
	}
	bases := map[valueKey]*value{}
	for _, v := range all { // in order of day: of two equally near the earlier stays
		if v.day < -rules.BaselineDaysBefore || v.day >= before {
			continue
		}
		at := valueKey{v.measure, v.side, 0}
		if known := bases[at]; known == nil || abs(v.day) < abs(known.day) {
			bases[at] = v
		}
	}
	return bases
}

// pair publishes a value of the involved side with the nearest of the other.
func (b *book) pair(e *episode, v *value, all []*value, bases map[valueKey]*value, less bool) {
	var other *value
	for _, u := range all {
		near := abs(u.day - v.day)
		if u.measure == v.measure && u.side != v.side && near <= b.rules.Symmetry.PairDays && (other == nil || near < abs(other.day-v.day)) {
			other = u
		}
	}
	if other == nil {
		return
	}
	p := warehouse.SidePair{
		EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn), Severity: e.severity,
		Measure: v.measure, Day: v.day, Involved: v.mean, Uninvolved: other.mean, UninvolvedDay: other.day,
		SameRater: !v.mixed && !other.mixed && v.rater == other.rater,
	}
	index := func(uninvolved float64) *float64 {
		over, under := p.Involved, uninvolved
		if less {
			over, under = under, over
		}
		if under == 0 {
			return nil
		}
		return number(100 * over / under)
	}
	p.IndexPercent = index(p.Uninvolved)
	if base := bases[valueKey{v.measure, other.side, 0}]; base != nil {
		p.UninvolvedBaseline, p.BaselinePercent = number(base.mean), index(base.mean)
	}
	b.out.Pairs = append(b.out.Pairs, p)
}

func abs(n int) int { return max(n, -n) }
