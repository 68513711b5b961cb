package practice

import (
	"fmt"
	"time"
)

// Scenario says what to draw. Default gives the base scenario; every other
// field breaks one of its properties on purpose.
type Scenario struct {
	Seed     uint64
	Sites    int       // 1 to 12
	Episodes int       // people, each with a first episode; who is hurt again adds about one in eight
	Months   int       // calendar months from Start, at least 6
	Start    time.Time // first day of a month

	HazardFactor float64 // speed of the recovery clock; 1 in the base scenario
	EventFactor  float64 // factor on all event rates; 1 in the base scenario
	DoseEffect   float64 // factor on the effect of dose beside that of a usual dose; 1 in the base scenario, 0 for none
	Confounding  float64 // factor on what severity does to dose; 1 in the base scenario, 0 for none

	LossByState       bool // the slower the recovery, the sooner lost
	LossBetweenVisits bool // some who have returned never come to have it recorded
	PainFeedsDose     bool // more pain within the window, less work
	HiddenSeverity    bool // exported severity is often not the severity that steers
	SitesDifferInDose bool // sites give different doses at the same severity

	Departures

	// OwnFormats lets every site send what its system writes. Otherwise all send
	// comma-separated text under the headings of the export tables.
	OwnFormats bool

	Clean bool // deliveries without the planted mess and without missing cells
}

// Default is the base scenario.
func Default() Scenario {
	return Scenario{
		Seed:         1,
		Sites:        6,
		Episodes:     2200,
		Months:       30,
		Start:        time.Date(2023, time.July, 1, 0, 0, 0, 0, time.UTC),
		HazardFactor: 1,
		EventFactor:  1,
		DoseEffect:   1,
		Confounding:  1,
		Departures:   Departures{LossFactor: 1},
	}
}

// maxSites is the number of sites that have a name.
const maxSites = 12

func (s Scenario) check() error {
	switch {
	case s.Sites < 1 || s.Sites > maxSites:
		return fmt.Errorf("made-up practice: %d sites; choose 1 to %d", s.Sites, maxSites)
	case s.Episodes < 1 || s.Episodes > 10_000_000:
		return fmt.Errorf("made-up practice: %d episodes; choose 1 to 10 million", s.Episodes)
	case s.Months < 6 || s.Months > 240:
		return fmt.Errorf("made-up practice: %d months; choose 6 to 240", s.Months)
	case s.Start.Day() != 1 || s.Start.Location() != time.UTC || !s.Start.Truncate(24*time.Hour).Equal(s.Start):
		return fmt.Errorf("made-up practice: start %s; choose midnight UTC of the first of a month", s.Start)
	case s.HazardFactor <= 0 || s.EventFactor < 0 || s.DoseEffect < 0 || s.Confounding < 0:
		return fmt.Errorf("made-up practice: the hazard factor must be above 0 and the other factors not below 0")
	}
	return s.Departures.check()
}

const secondsPerDay = 24 * 60 * 60

// day counts days since 1 January 1970.
type day int

func dayOf(t time.Time) day { return day(t.Unix() / secondsPerDay) }

func (d day) time() time.Time { return time.Unix(int64(d)*secondsPerDay, 0).UTC() }

// weekday is 0 for Monday to 6 for Sunday: 1 January 1970 was a Thursday.
func (d day) weekday() int { return int((d + 3) % 7) }

// workday moves a day of the weekend to the Monday after.
func (d day) workday() day {
	if w := d.weekday(); w > 4 {
		return d + day(7-w)
	}
	return d
}

func (s Scenario) firstDay() day { return dayOf(s.Start) }

// lastMonthEnd is the last day of the last month.
func (s Scenario) lastMonthEnd() day { return dayOf(s.Start.AddDate(0, s.Months, 0)) - 1 }

// silentSite is the site that stops sending; -1 where there are too few sites
// to lose one.
func (s Scenario) silentSite() int {
	if s.Sites < 4 {
		return -1
	}
	return 2
}

// siteEnd is the last day on which a site's records say anything.
func (s Scenario) siteEnd(site int) day {
	nights := s.nights()
	if site == s.silentSite() {
		return nights[silentFrom-1] - 1
	}
	return nights[len(nights)-1] - 1
}

// nightOffsets are the dates of the deliveries, in days from the end of the
// last month: one history, then the nights. Both month ends fall between two
// nights, and the last night is late enough for the last month to be due
// although one site is silent.
var nightOffsets = []day{-38, -29, -22, -15, -8, -1, 6, 13, 22}

// silentFrom is the first delivery without the silent site.
const silentFrom = 4

func (s Scenario) nights() []day {
	end := s.lastMonthEnd()
	nights := make([]day, len(nightOffsets))
	for i, offset := range nightOffsets {
		nights[i] = end + offset
	}
	return nights
}

// site is one place of care and who sends for it.
type site struct {
	code, label, sender string
	share               float64 // relative number of episodes
	pace                float64 // added to the log of the progress needed
	events              float64 // factor on the event rates
	asked               float64 // share of attended sessions in which symptoms are asked about
	dose                float64 // added to the log of dose where sites differ in it
}

var siteTable = [maxSites]site{
	{"harbour", "Harbour Lane", "harbour", 1.5, -0.06, 1.0, 0.92, 0.25},
	{"millrace", "Millrace", "millrace", 1.2, 0.00, 0.8, 0.85, -0.20},
	{"orchard", "Orchard Rise", "orchard", 0.8, 0.08, 1.2, 0.70, 0.10},
	{"quarry", "Quarry Hill", "quarry", 1.0, 0.04, 1.1, 0.88, -0.25},
	{"saltmarsh", "Saltmarsh", "eastern", 0.7, -0.04, 0.9, 0.95, 0.20},
	{"ropewalk", "Ropewalk", "eastern", 0.9, 0.06, 1.3, 0.80, -0.10},
	{"fernside", "Fernside", "fernside", 1.0, 0.02, 1.0, 0.85, 0.15},
	{"lockhouse", "Lock House", "lockhouse", 0.9, -0.02, 0.9, 0.90, -0.15},
	{"tannery", "Old Tannery", "tannery", 0.8, 0.05, 1.1, 0.78, 0.05},
	{"heronbank", "Heron Bank", "heronbank", 0.7, -0.05, 1.0, 0.93, 0.30},
	{"glebe", "Glebe Field", "glebe", 0.6, 0.03, 1.2, 0.82, -0.30},
	{"windmill", "Windmill Road", "windmill", 0.6, 0.00, 0.9, 0.87, 0.00},
}

func (s Scenario) sites() []site { return siteTable[:s.Sites] }

// way is a named way of treating.
type way struct {
	code, label string
	cuff        bool
	mode        string
}

var ways = []way{
	{"steady_cuff", "Cuff kept inflated through all sets", true, "continuous"},
	{"released_cuff", "Cuff released between sets", true, "intermittent"},
	{"without_cuff", "Heavier loads without the cuff", false, ""},
}

// wayShares by severity: what is intended depends on severity alone.
var wayShares = [3][3]float64{
	{0.50, 0.34, 0.16},
	{0.46, 0.38, 0.16},
	{0.36, 0.40, 0.24},
}
