package calibrate

import (
	"cmp"
	"slices"

	"evenlimb/pipeline/warehouse"
)

// readEvents publishes safety_sessions and safety_events.
func (b *book) readEvents() error {
	published := make(map[string]*warehouse.SafetySession, len(b.sessions))
	b.out.Sessions = make([]warehouse.SafetySession, 0, len(b.sessions))
	for _, s := range b.sessions {
		e := s.episode
		if s.day > e.follow {
			continue
		}
		b.out.Sessions = append(b.out.Sessions, warehouse.SafetySession{
			SessionKey: s.key, EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
			SessionDate: dayTime(e.startOn + s.day), SymptomsAsked: s.asked,
		})
		published[s.id] = &b.out.Sessions[len(b.out.Sessions)-1]
	}
	type event struct {
		sender, id string
		row        warehouse.SafetyEvent
	}
	var events []event
	err := b.p.Each("adverse_events", []string{
		"event_id", "episode_id", "session_id", "actuality", "certainty", "onset_date", "onset_precision", "aware_date", "reported_date", "kind", "serious",
	}, func(c [][]byte) {
		e := b.byID[string(c[1])]
		if e == nil {
			return
		}
		onset, aware, reported := date(c[5]), date(c[7]), date(c[8])
		toTheDay := len(c[6]) == 0 || string(c[6]) == "day"
		row := warehouse.SafetyEvent{
			EpisodeKey: e.key, PersonKey: e.person, Site: e.site, InjuryType: e.injury.Code, StartDate: dayTime(e.startOn),
			OnsetDate: dayTime(onset), Watched: onset <= b.reach[e.site], Kind: string(c[9]),
			Potential: string(c[3]) == "potential", RuledOut: string(c[4]) == "ruled_out", Certainty: string(c[4]),
			AwareDate: timeOrNil(aware), ReportedDate: timeOrNil(reported),
		}
		row.Counts = !row.Potential && !row.RuledOut
		if len(c[10]) > 0 {
			serious := string(c[10]) == "true"
			row.Serious = &serious
		}
		if s := published[string(c[2])]; s != nil && s.EpisodeKey == e.key {
			row.SessionKey, row.SessionDate, row.SessionAsked = &s.SessionKey, &s.SessionDate, &s.SymptomsAsked
		}
		row.OrderImpossible = toTheDay && aware != none && aware < onset || aware != none && reported != none && reported < aware
		if toTheDay && !row.OrderImpossible && aware != none {
			row.OnsetToAwareDays = intOrNil(aware - onset)
		}
		if !row.OrderImpossible && aware != none && reported != none {
			row.AwareToReportedDays = intOrNil(reported - aware)
		}
		events = append(events, event{e.sender, string(c[0]), row})
	})
	slices.SortFunc(events, func(x, y event) int { return cmp.Or(cmp.Compare(x.sender, y.sender), cmp.Compare(x.id, y.id)) })
	for i, e := range events {
		e.row.EventKey = i + 1
		b.out.Events = append(b.out.Events, e.row)
	}
	return err
}
