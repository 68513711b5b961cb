// Package settings reads what a practice has decided: practice.toml, and the
// versions of its layouts and cohorts. Every key, its default and what it means
// stand once, in the table of keys.go; reading, checking, the starter file and
// the rows that queries see are all made from it. Nothing unknown is let
// through, and all problems are reported together.
package settings

import (
	"fmt"
	"os"
	"path/filepath"
	"time"
	_ "time/tzdata" // a time zone must not depend on what the machine has installed
)

// Practice is one version of a practice's settings, defaults filled in.
type Practice struct {
	Name     string
	Code     string
	TimeZone string // IANA name, known to be valid
	MadeUp   bool   // the practice and its people are invented; every page says so

	Sites       []Site // as listed
	Ways        []Way  // as listed
	InjuryTypes []InjuryType

	Return      Return
	Symmetry    Symmetry
	Dose        Dose
	Progression Progression
	Tolerance   Tolerance
	Scores      Scores
	Safety      Safety
	Report      Report
	SmallCounts SmallCounts
	Intake      Intake
	Guard       Guard
	Drift       Drift
	Engine      Engine
}

// Site is one place of care and who may send rows for it.
type Site struct {
	Code    string
	Label   string
	Senders []string
}

// Way is a named way of treating: a code of the column plan_code.
type Way struct {
	Code  string
	Label string
}

// InjuryType is a row of the code table of injury types with the practice's
// own changes.
type InjuryType struct {
	Code               string
	Label              string
	Region             string // upper_limb, lower_limb
	Kind               string // tendon, muscle, ligament, post_operative
	LandmarkDays       int
	DefaultTargetStage string
	ContactGapDays     int
	KeepsActivity      bool
}

// Return are the rules of the question how soon people return to activity.
type Return struct {
	WindowMonths  int
	HoldDays      int
	HoldDaysShort int
	HoldDaysLong  int
	TargetByDay   int
	HorizonWeeks  []int
	MeanWeeks     []int
	AtRiskFloor   int

	RecurrenceDays int // after a return in which care begun anew for the same injury counts
}

// Symmetry are the rules of the question how alike the two sides are.
type Symmetry struct {
	PairDays           int
	BaselineDaysBefore int
	BaselineDaysAfter  int
	KnotWeeks          []int
	LastWeek           int
	SupportWeeks       int
	SupportPersons     int
	HorizonWeeks       []int
	ThresholdPercent   int
	ThresholdWeeks     []int
	ChangeWeek         int
}

// Dose are the rules of the question how the work before the landmark goes with
// the return.
type Dose struct {
	RecordedPercent int
	HorizonWeek     int
	LeastPersons    int
	LeastReturns    int
	GonePercent     int
	ReferenceSets   int // a week; the curve of dose is told against the share there
	LeastEffective  int // percent of the persons that weights must leave in effect
	MostImbalance   int // percent: the largest correlation of a covariate with dose after weighting
	LeastClinicians int // for an interval clustered on them
}

// Progression are the rules of the question how exercises move up and down.
type Progression struct {
	LoadPercent    int
	RepsPercent    int
	PressurePoints int
	PainFrom       int
	AfterPainDays  int
	StallDays      int
}

// Tolerance are the rules of the question how well exercises are tolerated.
type Tolerance struct {
	PressureBands []int
	NextVisitDays int
}

// Scores are the rules of the question how pain and scores run.
type Scores struct {
	HorizonWeeks []int
	AroundWeeks  int
	LeastPersons int
	ChangeWeek   int
}

// Safety are the rules of the question which adverse events there were.
type Safety struct {
	WidenAbovePercent int
}

// Report says when a month is due and when a site counts as silent.
type Report struct {
	DueAfterDays    int
	SilentAfterDays int
}

// SmallCounts are the floors of the gate for small counts, in persons.
type SmallCounts struct {
	Circulating int
	Site        int
	Inside      int
	Curve       int
	Mode        string // normal, strict
}

// Intake are the manners of taking files in; no result depends on them.
type Intake struct {
	SettleSeconds int
	RehashDays    int
}

// Guard is what a practice adds to the guard against identifiers.
type Guard struct {
	MoreHeadings []string
	Allow        []string // sender/heading
}

// Drift is what a practice answers to what was noticed about a site's files.
type Drift struct {
	NewKeys []string // sender/table/date of the batch
}

// Engine is how much of the machine the database may use; no result depends
// on it.
type Engine struct {
	Threads  int
	MemoryMB int
}

// Load reads and checks practice.toml of a practice folder. What is wrong in
// the file is returned as *Problems, all of it together.
func Load(dir string) (*Practice, error) {
	text, err := os.ReadFile(filepath.Join(dir, PracticeFile)) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil {
		return nil, fmt.Errorf("read the settings: %w", err)
	}
	return Parse(text, PracticeFile)
}

// Parse reads and checks the text of a practice.toml. The name stands in front
// of each problem.
func Parse(text []byte, name string) (*Practice, error) {
	found := &Problems{File: name}
	root := readTree(text, found)
	p := &Practice{}
	if root != nil {
		readSections(root, p, found)
	}
	if len(found.List) == 0 {
		checkTogether(root, p, found)
	}
	if len(found.List) > 0 {
		found.sort()
		return nil, found
	}
	return p, nil
}

// Location returns the practice's time zone.
func (p *Practice) Location() *time.Location {
	zone, err := time.LoadLocation(p.TimeZone)
	if err != nil {
		return time.UTC // cannot happen: Parse refuses a zone that is not known
	}
	return zone
}

// Site returns the site of that code.
func (p *Practice) Site(code string) (Site, bool) {
	for _, s := range p.Sites {
		if s.Code == code {
			return s, true
		}
	}
	return Site{}, false
}

// SiteCodes returns the codes of all sites, as listed.
func (p *Practice) SiteCodes() []string {
	var codes []string
	for _, s := range p.Sites {
		codes = append(codes, s.Code)
	}
	return codes
}

// TypeCodes returns the codes of all injury types, in their order.
func (p *Practice) TypeCodes() []string {
	var codes []string
	for _, t := range p.InjuryTypes {
		codes = append(codes, t.Code)
	}
	return codes
}

// SitesOf returns the codes of the sites for which a sender may send, in the
// order of the settings; none when the sender is not known.
func (p *Practice) SitesOf(sender string) []string {
	var codes []string
	for _, s := range p.Sites {
		for _, name := range s.Senders {
			if name == sender {
				codes = append(codes, s.Code)
			}
		}
	}
	return codes
}

// Senders returns all senders, each once, in the order of the settings.
func (p *Practice) Senders() []string {
	var names []string
	seen := map[string]bool{}
	for _, s := range p.Sites {
		for _, name := range s.Senders {
			if !seen[name] {
				seen[name] = true
				names = append(names, name)
			}
		}
	}
	return names
}
