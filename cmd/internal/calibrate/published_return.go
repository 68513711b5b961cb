package calibrate

import (
	"cmp"
	"slices"
	"strconv"

	"evenlimb/pipeline/warehouse"
)

// mark is a stage reached or lost on a day, as recorded.
type mark struct {
	day   int
	stage string
	lost  bool
}

func (b *book) readMilestones() error {
	return b.p.Each("milestones", []string{"episode_id", "reached_on", "stage", "change"}, func(c [][]byte) {
		e := b.byID[string(c[0])]
		if e == nil {
			return
		}
		m := mark{date(c[1]) - e.startOn, string(c[2]), string(c[3]) == "lost"}
		e.marks = append(e.marks, m)
		e.contacts = append(e.contacts, m.day)
	})
}

// returns publishes return_episodes, contact_gaps and site_reach.
func (b *book) returns() {
	ladders, places := codes("stages", "ladder"), map[string]int{}
	for code, text := range codes("stages", "rank") {
		places[code], _ = strconv.Atoi(text)
	}
	first := map[string]int{}
	for _, e := range b.episodes {
		if on, ok := first[e.site]; !ok || e.startOn < on {
			first[e.site] = e.startOn
		}
		e.contacts = slices.DeleteFunc(e.contacts, func(day int) bool { return day < 0 || day > e.follow })
		slices.Sort(e.contacts)
		e.contacts = slices.Compact(e.contacts)
		b.out.Return = append(b.out.Return, b.returnOf(e, ladders, places))
		for i := 1; i < len(e.contacts); i++ {
			b.out.Gaps = append(b.out.Gaps, warehouse.ContactGap{
				EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
				Day: e.contacts[i], GapDays: e.contacts[i] - e.contacts[i-1],
			})
		}
	}
	for _, s := range b.rules.Sites {
		r := warehouse.SiteReach{Site: s.Code, DataThrough: dayTime(b.reach[s.Code]), Stated: true}
		if on, ok := first[s.Code]; ok {
			r.FirstStart = dayTime(on)
		}
		b.out.Reach = append(b.out.Reach, r)
	}
	slices.SortFunc(b.out.Reach, func(x, y warehouse.SiteReach) int { return cmp.Compare(x.Site, y.Site) })
}

func (b *book) returnOf(e *episode, ladders map[string]string, places map[string]int) warehouse.ReturnEpisode {
	rules := b.rules.Return
	r := warehouse.ReturnEpisode{
		EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
		DataThrough: timeOrNil(b.reach[e.site]), FollowDays: intOrNil(e.follow), StageAtStart: e.atStart, Contacts: len(e.contacts),
	}
	switch {
	case e.target == "":
		r.TargetStage, r.TargetOrigin = e.injury.DefaultTargetStage, "type_default"
	case e.setOn == none:
		r.TargetStage, r.TargetOrigin = e.target, "undated"
	case e.setOn <= e.startOn+rules.TargetByDay:
		r.TargetStage, r.TargetOrigin = e.target, "in_time"
	default:
		r.TargetStage, r.TargetOrigin = e.target, "late"
	}
	switch {
	case e.follow < 0:
		r.Unusable = "after_data"
	case r.TargetStage == "":
		r.Unusable = "no_target"
	case e.endOn != none && e.endOn < e.startOn:
		r.Unusable = "end_before_start"
	}

	ladder, target := ladders[r.TargetStage], places[r.TargetStage]
	var reached, lost []int
	startedAt, startedOn := false, none
	for _, m := range e.marks {
		if ladders[m.stage] != ladder || m.day > e.follow {
			continue
		}
		up, down := !m.lost && places[m.stage] >= target, m.lost && places[m.stage] <= target
		if m.day <= 0 && (up || down) && (m.day > startedOn || m.day == startedOn && down) {
			startedAt, startedOn = up, m.day
		}
		if up && m.day >= 0 {
			reached = append(reached, m.day)
		}
		if down {
			lost = append(lost, m.day)
		}
	}
	r.AtTarget = startedAt
	if ladders[e.atStart] == ladder {
		r.AtTarget = places[e.atStart] >= target
	}
	b.watching(e, &r)
	if r.Unusable != "" || r.AtTarget {
		return r
	}
	held := func(days int) *int {
		best := none
		for _, day := range reached {
			stays := !slices.ContainsFunc(lost, func(l int) bool { return l >= day && l-day <= days })
			if stays && (best == none || day < best) {
				best = day
			}
		}
		return intOrNil(best)
	}
	r.ReturnDay, r.ReturnDayShort, r.ReturnDayLong = held(rules.HoldDays), held(rules.HoldDaysShort), held(rules.HoldDaysLong)
	r.Provisional = r.ReturnDay != nil && e.follow-*r.ReturnDay < rules.HoldDays
	if r.OutReason == "goal_met" && r.ReturnDay == nil {
		day := r.LastContactDay
		if e.endOn != none {
			day = e.endOn - e.startOn
		}
		r.GoalMetDay = intOrNil(min(day, e.follow))
	}
	return r
}

var competingEnds = []string{"surgery", "new_injury", "not_returning", "may_not_continue", "died"}

// watching fills in how the watching ends when no return comes first.
func (b *book) watching(e *episode, r *warehouse.ReturnEpisode) {
	if len(e.contacts) > 0 {
		r.LastContactDay = e.contacts[len(e.contacts)-1]
	}
	competes := slices.Contains(competingEnds, e.endReason) && (e.endReason != "surgery" || e.endOn == none || e.endOn > e.startOn)
	end := none
	take := func(day int, cause string) {
		if day <= e.follow && (end == none || day < end || day == end && cause < r.EndCause) {
			end, r.EndCause = day, cause
		}
	}
	if competes {
		day := r.LastContactDay
		if e.endOn != none {
			day = e.endOn - e.startOn
		}
		take(day, e.endReason)
	}
	if e.surgeryOn != none && e.surgeryOn > e.startOn {
		take(e.surgeryOn-e.startOn, "surgery")
	}
	r.EndDay = intOrNil(end)
	switch {
	case competes:
		r.OutReason = "in_care"
	case e.endReason != "":
		r.OutReason = e.endReason
	case e.endOn != none:
		r.OutReason = "not_recorded"
	case e.follow-r.LastContactDay <= e.injury.ContactGapDays:
		r.OutReason = "in_care"
	default:
		r.OutReason = "gap"
	}
	r.OutDay = r.LastContactDay
	if r.OutReason == "in_care" {
		r.OutDay = e.follow
	}
}
