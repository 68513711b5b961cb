package calibrate

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
	"evenlimb/seeds/reference"
)

// Published holds what the queries publish of a made-up practice, derived in
// memory from its records by a way of its own: no query, no file and no
// database has a part in it. A test takes the same records through files, the
// intake and the warehouse and finds the same rows.
type Published struct {
	Settings *settings.Practice

	Return   []warehouse.ReturnEpisode
	Gaps     []warehouse.ContactGap
	Reach    []warehouse.SiteReach
	Symmetry []warehouse.SymmetryEpisode
	Pairs    []warehouse.SidePair
	Changes  []warehouse.LimbChange
	Dose     []warehouse.DoseEpisode
	Sessions []warehouse.SafetySession
	Events   []warehouse.SafetyEvent
}

// Publish derives the published rows of a practice as it stands on its last
// day, each site's data reaching to the day that its deliveries state.
func Publish(p *practice.Practice) (*Published, error) {
	rules, err := settings.Parse(p.Settings(), settings.PracticeFile)
	if err != nil {
		return nil, fmt.Errorf("settings of the made-up practice: %w", err)
	}
	b := &book{p: p, rules: rules, out: &Published{Settings: rules}}
	for _, step := range []func() error{
		b.readEpisodes, b.readSessions, b.readMilestones, b.readFollowups, b.readMeasurements, b.readBouts, b.readPlans,
		b.readEvents,
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	b.returns()
	b.sides()
	b.doses()
	return b.out, nil
}

// book is the records of a practice, put in order.
type book struct {
	p     *practice.Practice
	rules *settings.Practice
	out   *Published

	episodes []*episode // in order of their key
	byID     map[string]*episode
	sessions []*session // in order of their key
	bySessID map[string]*session
	reach    map[string]int // last day of each site
}

// none is a day that is not there.
const none = -1 << 30

// episode is a course of care. Days are counted from 1 January 1970 where the
// name ends in On, else from the start of care.
type episode struct {
	key, person int
	id, owner   string // owner: what its person is known by
	sender      string
	site        string
	injury      *settings.InjuryType
	side, worse string
	severity    string
	atStart     string // stage
	target      string // stage
	setOn       int
	startOn     int
	endOn       int
	surgeryOn   int
	endReason   string
	follow      int // days to the data-through date

	contacts []int // days, in order and each once
	marks    []mark
	values   map[valueKey]*value
	inflated []int // days of attended sessions with the cuff inflated
	window   window
	plans    []plan
}

// session is an appointment that was attended.
type session struct {
	key      int
	id       string
	episode  *episode
	day      int
	asked    bool
	home     bool
	bouts    bool
	inflated bool
}

func (b *book) readEpisodes() error {
	senders, types := map[string]string{}, map[string]*settings.InjuryType{}
	b.reach = map[string]int{}
	for _, s := range b.rules.Sites {
		senders[s.Code] = s.Senders[0]
	}
	for i := range b.rules.InjuryTypes {
		types[b.rules.InjuryTypes[i].Code] = &b.rules.InjuryTypes[i]
	}
	for site, day := range b.p.Reach() {
		b.reach[site] = int(day.Unix() / 86400)
	}
	err := b.p.Each("episodes", []string{
		"episode_id", "person_id", "site", "injury_type", "side", "worse_side", "severity", "stage_at_start",
		"target_stage", "target_set_on", "start_date", "end_date", "surgery_date", "end_reason",
	}, func(c [][]byte) {
		e := &episode{
			id: string(c[0]), site: string(c[2]), sender: senders[string(c[2])], injury: types[string(c[3])], side: string(c[4]), worse: string(c[5]),
			severity: string(c[6]), atStart: string(c[7]), target: string(c[8]), setOn: date(c[9]),
			startOn: date(c[10]), endOn: date(c[11]), surgeryOn: date(c[12]), endReason: string(c[13]),
		}
		e.owner = "0" + string(c[1]) // those without a person come last
		if len(c[1]) == 0 {
			e.owner = "1" + e.id
		}
		e.follow = b.reach[e.site] - e.startOn
		b.episodes = append(b.episodes, e)
	})
	if err != nil {
		return err
	}
	b.byID = make(map[string]*episode, len(b.episodes))
	slices.SortFunc(b.episodes, func(x, y *episode) int { return cmp.Or(cmp.Compare(x.sender, y.sender), cmp.Compare(x.owner, y.owner)) })
	person := 0
	for i, e := range b.episodes {
		if i == 0 || e.sender != b.episodes[i-1].sender || e.owner != b.episodes[i-1].owner {
			person++
		}
		e.person = person
	}
	slices.SortFunc(b.episodes, func(x, y *episode) int { return cmp.Or(cmp.Compare(x.sender, y.sender), cmp.Compare(x.id, y.id)) })
	for i, e := range b.episodes {
		e.key = i + 1
		b.byID[e.id] = e
	}
	return nil
}

func (b *book) readSessions() error {
	b.bySessID = map[string]*session{}
	keys := 0
	var all []*session // the key counts those not attended too
	err := b.p.Each("sessions", []string{"session_id", "episode_id", "session_date", "attendance", "symptoms_asked", "setting"}, func(c [][]byte) {
		e := b.byID[string(c[1])]
		if e == nil {
			return
		}
		s := &session{id: string(c[0]), episode: e, day: date(c[2]) - e.startOn, asked: string(c[4]) == "true", home: string(c[5]) == "home"}
		all = append(all, s)
		if string(c[3]) == "attended" {
			b.sessions = append(b.sessions, s)
			b.bySessID[s.id] = s
			e.contacts = append(e.contacts, s.day)
		}
	})
	byKey := func(x, y *session) int {
		return cmp.Or(cmp.Compare(x.episode.sender, y.episode.sender), cmp.Compare(x.id, y.id))
	}
	slices.SortFunc(all, byKey)
	for _, s := range all {
		keys++
		s.key = keys
	}
	slices.SortFunc(b.sessions, func(x, y *session) int { return cmp.Compare(x.key, y.key) })
	return err
}

func (b *book) readFollowups() error {
	return b.p.Each("followups", []string{"episode_id", "contact_on", "reached"}, func(c [][]byte) {
		if e := b.byID[string(c[0])]; e != nil && string(c[2]) == "true" {
			e.contacts = append(e.contacts, date(c[1])-e.startOn)
		}
	})
}

// date reads a date such as 2024-02-29 as days since 1 January 1970.
func date(text []byte) int {
	if len(text) != len(time.DateOnly) {
		return none
	}
	digits := func(from, to int) int {
		n := 0
		for _, c := range text[from:to] {
			n = 10*n + int(c-'0')
		}
		return n
	}
	return int(time.Date(digits(0, 4), time.Month(digits(5, 7)), digits(8, 10), 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

func dayTime(day int) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

func timeOrNil(day int) *time.Time {
	if day == none {
		return nil
	}
	t := dayTime(day)
	return &t
}

func intOrNil(n int) *int {
	if n == none {
		return nil
	}
	return &n
}

func number(x float64) *float64 { return &x }

// tenThousandths reads a decimal with at most four places as a whole number of
// them, so that sums are exact.
func tenThousandths(text []byte) (int64, bool) {
	if len(text) == 0 {
		return 0, false
	}
	x, err := strconv.ParseFloat(string(text), 64)
	if x < 0 {
		return int64(x*1e4 - 0.5), err == nil
	}
	return int64(x*1e4 + 0.5), err == nil
}

// codes holds one column of a code table.
func codes(table, column string) map[string]string {
	cells := map[string]string{}
	for _, code := range reference.Codes(table) {
		cells[code], _ = reference.Cell(table, code, column)
	}
	return cells
}
