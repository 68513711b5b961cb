package practice

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"strings"

	"evenlimb/seeds/reference"
)

// Truth is what the figures of a practice estimate, in the super-population of
// people of its scenario: everybody watched to the end, recorded at the same
// visits, nobody lost.
type Truth struct {
	About     string          `json:"about"`
	Generator string          `json:"generator_sha256"` // Digest
	Scenario  Scenario        `json:"scenario"`
	Episodes  int             `json:"episodes"` // drawn
	Values    []Value         `json:"values"`
	Settings  TruthParameters `json:"parameters"`
}

// Value is the truth of one figure.
type Value struct {
	Question   string  `json:"question"`
	InjuryType string  `json:"injury_type,omitempty"`
	Site       string  `json:"site,omitempty"`
	Stratum    string  `json:"stratum,omitempty"`
	Measure    string  `json:"measure,omitempty"`
	Statistic  string  `json:"statistic"`
	X          string  `json:"x,omitempty"`
	Value      float64 `json:"value"`
	SE         float64 `json:"se"` // Monte Carlo standard error; 0 for a closed form
}

// Name is a value's key: its dimensions joined as in a figure's id.
func (v Value) Name() string {
	parts := []string{}
	for _, part := range []string{v.Question, v.InjuryType, prefixed("site=", v.Site), prefixed("by=", v.Stratum), v.Measure} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	name := strings.Join(parts, ".") + "/" + v.Statistic
	if v.X != "" {
		name += "@" + v.X
	}
	return name
}

func prefixed(prefix, text string) string {
	if text == "" {
		return ""
	}
	return prefix + text
}

// Find returns the value of that name.
func (t *Truth) Find(name string) (Value, bool) {
	for _, v := range t.Values {
		if strings.HasPrefix(name, v.Question) && strings.HasSuffix(name, v.X) && v.Name() == name {
			return v, true
		}
	}
	return Value{}, false
}

// TruthParameters are constants of the generator, for the reader of the file.
type TruthParameters struct {
	DoseCeiling   float64            `json:"dose_ceiling"`
	DoseHalfway   float64            `json:"dose_halfway_sets_per_week"`
	DoseSpread    float64            `json:"log_dose_sd_given_severity"`
	SeverityDose  [3]float64         `json:"severity_on_log_dose"`
	SeverityPace  [3]float64         `json:"severity_on_log_progress_needed"`
	SeverityShare []float64          `json:"severity_shares"`
	LostAtFirst   float64            `json:"lost_at_first_visit"`
	LostPerWeek   float64            `json:"lost_per_week"`
	EventsWith    map[string]float64 `json:"events_per_1000_sessions_with_cuff"`
	EventsWithout map[string]float64 `json:"events_per_1000_sessions_without"`
	Deficit       map[string]float64 `json:"log_strength_deficit_at_start"`
	RecursPerYear map[string]float64 `json:"recurrences_per_year"`
}

func parameters() TruthParameters {
	t := TruthParameters{
		DoseCeiling: doseCeiling, DoseHalfway: doseHalfway, DoseSpread: doseSpread,
		SeverityDose: severityDose, SeverityPace: severityPace, SeverityShare: severityShares,
		LostAtFirst: lostAtFirst, LostPerWeek: lostPerWeek,
		EventsWith: map[string]float64{}, EventsWithout: map[string]float64{},
		Deficit: map[string]float64{}, RecursPerYear: map[string]float64{},
	}
	for _, k := range eventKinds {
		t.EventsWith[k.code], t.EventsWithout[k.code] = k.inflated, k.without
	}
	for _, in := range injuries {
		t.Deficit[in.code], t.RecursPerYear[in.code] = in.deficit, in.recurs
	}
	return t
}

// Write returns the truth as JSON, one value a line.
func (t *Truth) Write() ([]byte, error) {
	head := *t
	head.Values = nil
	data, err := json.MarshalIndent(head, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("truth: %w", err)
	}
	var lines []string
	for _, v := range t.Values {
		line, err := json.Marshal(v)
		if err != nil {
			return nil, fmt.Errorf("truth of %s: %w", v.Name(), err)
		}
		lines = append(lines, "    "+string(line))
	}
	text := strings.Replace(string(data), `"values": null`, "\"values\": [\n"+strings.Join(lines, ",\n")+"\n  ]", 1)
	return []byte(text + "\n"), nil
}

// ReadTruth reads what Write wrote.
func ReadTruth(data []byte) (*Truth, error) {
	var t Truth
	if err := json.Unmarshal(data, &t); err != nil {
		return nil, fmt.Errorf("truth file: %w; write it anew with `go run ./cmd/dev truth`", err)
	}
	return &t, nil
}

//go:embed *.go
var sources embed.FS

// Digest is the SHA-256, in hex, over the generator's sources, the reference
// tables and the scenario: a truth file with another digest is out of date.
func Digest(s Scenario) string {
	hash := sha256.New()
	names, err := fs.Glob(sources, "*.go")
	if err != nil {
		panic(err) // only a malformed pattern can fail
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		data, err := sources.ReadFile(name)
		if err != nil {
			panic(err) // the name came from the embedded folder itself
		}
		hash.Write(fmt.Appendf(nil, "%s %d\n", name, len(data)))
		hash.Write(data)
	}
	hash.Write(fmt.Appendf(nil, "%s\n%+v\n", reference.Digest(), s))
	return hex.EncodeToString(hash.Sum(nil))
}

// truthSeed seeds the episodes from which truths are drawn; it is no scenario's.
const truthSeed = 0x7e57ab1e

// ComputeTruth draws about that many episodes, the same number of every injury
// type, and returns the truth of every headline figure. It uses all cores and
// gives the same values for any number of them.
func ComputeTruth(s Scenario, episodes int) (*Truth, error) {
	shown := s
	s.Seed = truthSeed
	w, err := newWorld(s)
	if err != nil {
		return nil, err
	}
	t := &Truth{
		About:     "What the figures of the made-up practice estimate. Monte Carlo unless se is 0. Shares by week N count days up to 7 N, that day included.",
		Generator: Digest(shown), Scenario: shown, Episodes: episodes, Settings: parameters(),
	}
	each := max(200, episodes/len(w.injuries))
	for kind := range w.injuries {
		lives := w.lives(kind, each)
		t.returnValues(w, kind, lives)
		t.recurrenceValues(w, kind, lives)
		t.wayValues(w, kind, lives)
		t.doseValues(w, kind, lives)
		t.bodyValues(w, kind, lives)
	}
	t.eventValues(w, max(400, episodes/40))
	for _, v := range t.Values {
		if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || math.IsNaN(v.SE) || math.IsInf(v.SE, 0) {
			return nil, fmt.Errorf("truth of %s cannot be computed from %d episodes; draw more", v.Name(), episodes)
		}
	}
	return t, nil
}

// life is what a truth keeps of one episode that was watched to the end.
type life struct {
	number   int
	severity int
	way      int
	atTarget bool
	steady   bool
	both     bool
	returned int // day of the held return; -1 for none
	end      int // day of the competing end; -1 for none
	cause    int // index of causes
	dose     dose
	sets     float64    // per week, had no end come within the window
	shift    [2]float64 // of the log ratio and of girth: by severity and site
}

// forever is a day no course of an episode reaches.
const forever = 1 << 20

// lives draws episodes of one type and watches all of them to the end.
func (w *world) lives(kind, n int) []life {
	all := make([]life, n)
	const chunk = 512
	w.inParallel((n+chunk-1)/chunk, func(c int) {
		r := run{w: w, until: forever, kept: true, ends: true}
		for i := c * chunk; i < min(n, (c+1)*chunk); i++ {
			number := kind<<40 + i
			e := w.drawEpisode(number, drawPerson(&w.scenario, number), kind)
			r.e = &e
			all[i] = keepLife(&e, r.course())
			if all[i].end >= 0 && all[i].end < e.injury.landmark {
				r.ends = false // the dose there would have been, had the person stayed
				all[i].sets = e.setsPerWeek(r.course().dose)
				r.ends = true
			}
		}
	})
	return all
}

func keepLife(e *episode, c *course) life {
	l := life{
		number: e.number, severity: e.severity, way: e.way, atTarget: e.atTarget(), steady: c.steady() && c.finish == goalMet,
		both: e.side == bilateral, returned: -1, end: -1, dose: c.dose, sets: e.setsPerWeek(c.dose), shift: [2]float64{e.ratioShift(), e.thinShift()},
	}
	if on, held := c.heldReturn(e.target, 14); held {
		l.returned = on
	}
	for i, cause := range causes {
		if c.finish == cause && l.returned < 0 {
			l.end, l.cause = c.finishOn, i
		}
	}
	return l
}
