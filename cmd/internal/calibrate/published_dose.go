package calibrate

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strconv"

	"evenlimb/pipeline/warehouse"
)

// window is the work of an episode before its landmark.
type window struct {
	sessions, withoutBouts, atHome int
	classes                        map[string]*amounts
	bouts                          int
}

// amounts are the recorded ingredients of the bouts of one class of exercise.
type amounts struct {
	bouts       int
	ingredients [4]ingredient // sets, repetitions, minutes, pressure-minutes
}

// ingredient is a sum over the bouts that record it, in parts of its unit.
type ingredient struct {
	sum  int64
	with int
}

// parts of a unit in which each ingredient is summed: pressure in those of
// minutes x percent, of which 100 make a pressure-minute.
var (
	parts = [4]float64{1, 1, 1e4, 1e8}
	units = [4]float64{1, 1, 1, 100}
)

func (b *book) readBouts() error {
	classes := codes("exercises", "class")
	err := b.p.Each("bouts", []string{
		"session_id", "exercise", "side", "sets", "reps", "cuff_inflated", "mode", "occlusion_pressure_mmhg", "applied_pressure_mmhg",
		"pressure_percent", "inflated_minutes",
	}, func(c [][]byte) {
		s := b.bySessID[string(c[0])]
		if s == nil {
			return
		}
		s.bouts = true
		mark, mode := string(c[5]), string(c[6])
		if mark == "" && (positive(c[8]) || positive(c[9]) || positive(c[10])) {
			mark = "true"
		}
		inflated := mark == "true" || mark == "" && mode != ""
		s.inflated = s.inflated || inflated
		e := s.episode
		if s.day < 0 || s.day > e.follow || s.day >= e.injury.LandmarkDays || !inflated || mode == "passive" {
			return
		}
		side := string(c[2])
		if e.side != "bilateral" && side != "" && side != e.side && side != "bilateral" {
			return
		}
		class, ok := classes[string(c[1])]
		if !ok {
			class = string(c[1])
		}
		if class == "passive" {
			return
		}
		if e.window.classes == nil {
			e.window.classes = map[string]*amounts{}
		}
		a := e.window.classes[class]
		if a == nil {
			a = &amounts{}
			e.window.classes[class] = a
		}
		e.window.bouts++
		a.bouts++
		if e.side == "bilateral" || side != "" {
			a.add(c)
		}
	})
	if err != nil {
		return err
	}
	for _, s := range b.sessions {
		e := s.episode
		if s.inflated {
			e.inflated = append(e.inflated, s.day)
		}
		if s.day < 0 || s.day >= e.injury.LandmarkDays {
			continue
		}
		e.window.sessions++
		if !s.bouts {
			e.window.withoutBouts++
		}
		if s.home {
			e.window.atHome++
		}
	}
	return nil
}

func positive(text []byte) bool {
	x, ok := tenThousandths(text)
	return ok && x > 0
}

// add takes in the ingredients that the cells of a bout record.
func (a *amounts) add(c [][]byte) {
	take := func(k int, x int64) {
		a.ingredients[k].sum += x
		a.ingredients[k].with++
	}
	for k, cell := range [][]byte{c[3], c[4]} {
		if n, err := strconv.Atoi(string(cell)); err == nil {
			take(k, int64(n))
		}
	}
	minutes, ok := tenThousandths(c[10])
	if !ok {
		return
	}
	take(2, minutes)
	percent, ok := tenThousandths(c[9])
	if !ok {
		applied, known := tenThousandths(c[8])
		full, measured := tenThousandths(c[7])
		if !known || !measured || full == 0 {
			return
		}
		percent = int64(math.Round(100 * float64(applied) / float64(full) * 1e4))
	}
	take(3, minutes*percent)
}

// doses publishes dose_episodes.
func (b *book) doses() {
	for i, e := range b.episodes {
		r := b.out.Return[i]
		d := warehouse.DoseEpisode{
			EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn), Severity: e.severity,
			LandmarkDay: e.injury.LandmarkDays, FollowDays: r.FollowDays, Unusable: r.Unusable, AtTarget: r.AtTarget,
			ReturnDay: r.ReturnDay, Provisional: r.Provisional, EndDay: r.EndDay, OutDay: r.OutDay, OutReason: r.OutReason,
		}
		var home bool
		d.PlannedSets, home = e.planned()
		switch w := e.window; {
		case e.follow < e.injury.LandmarkDays-1:
			d.MissingReason = "window_open"
		case home && w.atHome == 0:
			d.MissingReason = "home_not_logged"
		case w.withoutBouts > 0:
			d.MissingReason = "session_without_bouts"
		default:
			d.Sessions, d.Bouts = intOrNil(w.sessions), intOrNil(w.bouts)
			for k, field := range []**float64{&d.Sets, &d.Reps, &d.InflatedMinutes, &d.PressureMinutes} {
				*field = w.amount(k, b.rules.Dose.RecordedPercent)
			}
		}
		b.out.Dose = append(b.out.Dose, d)
	}
}

// amount is the sum of an ingredient over the window, those of the bouts that do
// not record it filled in within their class; nil where too few record it.
func (w *window) amount(k, percent int) *float64 {
	sum, with := 0.0, 0
	for _, class := range slices.Sorted(maps.Keys(w.classes)) {
		a := w.classes[class]
		in := a.ingredients[k]
		if in.with == 0 {
			return nil
		}
		with += in.with
		sum += float64(in.sum) / parts[k] / units[k] * float64(a.bouts) / float64(in.with)
	}
	if 100*with < percent*w.bouts {
		return nil
	}
	return &sum
}

// plan is one row of a plan.
type plan struct {
	fromOn   int
	exercise bool
	cuff     bool
	home     bool
	sets     int64 // none where not known
	perWeek  int64 // sessions, in ten thousandths; none where not known
}

func (b *book) readPlans() error {
	return b.p.Each("plans", []string{"episode_id", "plan_from", "exercise", "cuff_inflated", "setting", "sessions_per_week", "sets", "pressure_percent"}, func(c [][]byte) {
		e := b.byID[string(c[0])]
		if e == nil {
			return
		}
		p := plan{
			fromOn: date(c[1]), exercise: len(c[2]) > 0, home: string(c[4]) == "home", sets: none, perWeek: none,
			cuff: string(c[3]) == "true" || len(c[3]) == 0 && positive(c[7]),
		}
		if n, err := strconv.Atoi(string(c[6])); err == nil {
			p.sets = int64(n)
		}
		if n, ok := tenThousandths(c[5]); ok {
			p.perWeek = n
		}
		e.plans = append(e.plans, p)
	})
}

// planned returns the sets with the cuff that were intended for the window, nil
// where that is not known, and whether work with it at home was.
func (e *episode) planned() (sets *float64, home bool) {
	slices.SortStableFunc(e.plans, func(x, y plan) int { return cmp.Compare(x.fromOn, y.fromOn) })
	landmark := e.startOn + e.injury.LandmarkDays
	total, known, held := 0.0, true, false
	for i := 0; i < len(e.plans); {
		next := i
		for next < len(e.plans) && e.plans[next].fromOn == e.plans[i].fromOn {
			next++
		}
		until := landmark
		if next < len(e.plans) {
			until = min(until, e.plans[next].fromOn)
		}
		days := until - max(e.plans[i].fromOn, e.startOn)
		if days > 0 {
			held = true
			perWeek, ok, atHome := weekly(e.plans[i:next])
			total, known, home = total+perWeek*float64(days), known && ok, home || atHome
		}
		i = next
	}
	if !held || !known {
		return nil, home
	}
	return number(total / 7), home
}

// weekly is the sets a week with the cuff that one plan intends.
func weekly(rows []plan) (sets float64, known, home bool) {
	whole := int64(none)
	for _, r := range rows {
		if !r.exercise {
			whole = max(whole, r.perWeek)
		}
	}
	var ofExercises int64
	ofWhole, exercises, known := int64(none), 0, true
	with := false
	for _, r := range rows {
		if !r.cuff {
			continue
		}
		with, home = true, home || r.home
		perWeek := r.perWeek
		if perWeek == none {
			perWeek = whole
		}
		stated := r.sets != none && perWeek != none
		switch {
		case r.exercise:
			exercises++
			known = known && stated
			if stated {
				ofExercises += r.sets * perWeek
			}
		case stated:
			ofWhole = max(ofWhole, r.sets*perWeek)
		}
	}
	switch {
	case !with:
		return 0, true, home
	case exercises > 0:
		return float64(ofExercises) / 1e4, known, home
	default:
		return float64(ofWhole) / 1e4, ofWhole != none, home
	}
}
