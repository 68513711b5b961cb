package calibrate

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"evenlimb/seeds/practice"
)

// Truth is what the figures of a condition estimate, computed by the generator
// alone from people who are all watched to the end.
type Truth struct {
	Condition   string            `json:"condition"`
	Fingerprint string            `json:"fingerprint_sha256"` // of what the generator draws for the scenario
	Scenario    practice.Scenario `json:"scenario"`
	Episodes    int               `json:"episodes_of_each_type"`
	People      int               `json:"people_for_event_rates"`
	Values      []practice.Value  `json:"values"`
}

// How many are drawn for a truth, and for its fingerprint.
const (
	truthEpisodes, truthPeople = 400_000, 160_000
	printEpisodes, printPeople = 400, 200
)

// ComputeTruth computes the truth of a condition. It takes about half a minute,
// unless the generator draws the same people as for the known truth (nil for
// none), as it does where a condition is about records alone.
func ComputeTruth(c Condition, known *Truth) (*Truth, error) {
	today, err := fingerprint(c)
	if err != nil {
		return nil, err
	}
	if known != nil && known.Fingerprint == today {
		same := *known
		same.Condition, same.Scenario = c.Name, c.Scenario
		return &same, nil
	}
	t, err := practiceTruth(c, truthEpisodes, truthPeople)
	if err != nil {
		return nil, err
	}
	t.Fingerprint = today
	return t, nil
}

func practiceTruth(c Condition, episodes, people int) (*Truth, error) {
	all, err := practice.TruthOf(c.Scenario, types, episodes, people, windowMonths)
	if err != nil {
		return nil, fmt.Errorf("condition %s: %w", c.Name, err)
	}
	t := &Truth{Condition: c.Name, Scenario: c.Scenario, Episodes: episodes, People: people}
	for _, f := range Figures {
		v, ok := all.Find(f.Truth)
		if !ok {
			return nil, fmt.Errorf("condition %s: the generator states no truth of %s", c.Name, f.Truth)
		}
		t.Values = append(t.Values, v)
	}
	return t, nil
}

// fingerprint is a hash of a small truth of the scenario. It changes when the
// generator would draw other people, and not when only the dress of its files
// changes.
func fingerprint(c Condition) (string, error) {
	few, err := practice.TruthOf(c.Scenario, types, printEpisodes, printPeople, windowMonths)
	if err != nil {
		return "", fmt.Errorf("condition %s: %w", c.Name, err)
	}
	text, err := json.Marshal(few.Values)
	if err != nil {
		return "", fmt.Errorf("condition %s: %w", c.Name, err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

func truthPath(dir string, c Condition) string {
	return filepath.Join(dir, "truth-"+c.Name+".json")
}

// Write keeps the truth under dir.
func (t *Truth) Write(dir string, c Condition) error {
	text, err := json.MarshalIndent(t, "", "  ")
	if err != nil {
		return fmt.Errorf("truth of %s: %w", c.Name, err)
	}
	return os.WriteFile(truthPath(dir, c), append(text, '\n'), 0o644) //nolint:gosec // meant to be read by everybody
}

// ErrNoTruth says that a truth is not there or is of another generator.
var ErrNoTruth = errors.New("run `go run ./cmd/dev calibrate -truth`")

// ReadTruth reads the truth of a condition. The error is ErrNoTruth when there
// is none, when the generator has changed since, or when a figure is missing.
func ReadTruth(dir string, c Condition) (*Truth, error) {
	text, err := os.ReadFile(truthPath(dir, c))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no truth of condition %s yet: %w", c.Name, ErrNoTruth)
	}
	if err != nil {
		return nil, err
	}
	var t Truth
	if err := json.Unmarshal(text, &t); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w; %w", truthPath(dir, c), err, ErrNoTruth)
	}
	today, err := fingerprint(c)
	if err != nil {
		return nil, err
	}
	if today != t.Fingerprint {
		return nil, fmt.Errorf("the truth of condition %s is of another generator: %w", c.Name, ErrNoTruth)
	}
	for _, f := range Figures {
		if _, _, ok := t.Of(f); !ok {
			return nil, fmt.Errorf("the truth of condition %s does not hold %s: %w", c.Name, f.Truth, ErrNoTruth)
		}
	}
	return &t, nil
}

// Of returns the truth of a figure in its own direction, with its Monte Carlo
// standard error.
func (t *Truth) Of(f Figure) (value, se float64, ok bool) {
	for _, v := range t.Values {
		if v.Name() == f.Truth {
			return f.Sign * v.Value, v.SE, true
		}
	}
	return 0, 0, false
}
