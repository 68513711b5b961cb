package calibrate

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// ChunkSeeds is how many replicates a results file holds: what an interruption
// loses at most.
const ChunkSeeds = 50

// Chunk is a results file: some seeds of one condition.
type Chunk struct {
	First, Last int
	Made        []Made // one for each analysis whose outcomes are in it
	Outcomes    []Outcome
}

// Made says by which program an analysis' outcomes were made.
type Made struct {
	Analysis string
	SeedOne  string // hash of what it says of seed 1, so that outcomes of two programs are never mixed
	Commit   string
	Date     string
}

func chunkPath(dir, condition string, first, last int) string {
	return filepath.Join(dir, "runs", condition, fmt.Sprintf("%04d-%04d.csv", first, last))
}

var chunkHeading = []string{"seed", "figure", "state", "value", "low", "high", "se"}

// write keeps the chunk; a reader never sees half of it.
func (c *Chunk) write(dir, condition string) error {
	var text bytes.Buffer
	for _, m := range c.Made {
		fmt.Fprintln(&text, "#", m.Analysis, m.SeedOne, m.Commit, m.Date)
	}
	w := csv.NewWriter(&text)
	_ = w.Write(chunkHeading) // Flush says whether anything went wrong
	for _, o := range c.Outcomes {
		_ = w.Write(o.cells())
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	path := chunkPath(dir, condition, c.First, c.Last)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil { //nolint:gosec // meant to be read by everybody
		return err
	}
	if err := os.WriteFile(path+".new", text.Bytes(), 0o644); err != nil { //nolint:gosec // as above
		return err
	}
	return os.Rename(path+".new", path)
}

func (o Outcome) cells() []string {
	cells := []string{strconv.Itoa(o.Seed), o.Figure, string(o.State)}
	for _, x := range []float64{o.Value, o.Low, o.High, o.SE} {
		text := ""
		if o.State != Withheld {
			text = strconv.FormatFloat(x, 'g', 6, 64)
		}
		cells = append(cells, text)
	}
	return cells
}

// readChunk reads a results file; nil when it is not there yet.
func readChunk(dir, condition string, first, last int) (*Chunk, error) {
	path := chunkPath(dir, condition, first, last)
	text, err := os.ReadFile(path) //nolint:gosec // a path of our own under the folder that the contributor named
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	c := &Chunk{First: first, Last: last}
	for row := range strings.Lines(string(text)) {
		note, ok := strings.CutPrefix(row, "# ")
		if !ok {
			break
		}
		words := strings.Fields(note)
		if len(words) != 4 {
			return nil, fmt.Errorf("%s: the note %q has not four words; delete the file and run again", path, note)
		}
		c.Made = append(c.Made, Made{words[0], words[1], words[2], words[3]})
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w; delete the file and run again", path, err)
	}
	if len(rows) == 0 || !slices.Equal(rows[0], chunkHeading) {
		return nil, fmt.Errorf("%s is no results file; delete it and run again", path)
	}
	for _, row := range rows[1:] {
		o, err := readOutcome(row)
		if err != nil {
			return nil, fmt.Errorf("%s: %w; delete the file and run again", path, err)
		}
		c.Outcomes = append(c.Outcomes, o)
	}
	return c, nil
}

func readOutcome(row []string) (Outcome, error) {
	o := Outcome{Figure: row[1], State: State(row[2])}
	var err error
	if o.Seed, err = strconv.Atoi(row[0]); err != nil {
		return o, err
	}
	if o.State == Withheld {
		return o, nil
	}
	for i, x := range []*float64{&o.Value, &o.Low, &o.High, &o.SE} {
		if *x, err = strconv.ParseFloat(row[3+i], 64); err != nil {
			return o, err
		}
	}
	return o, nil
}

// lacks returns the analyses whose figures are not all in the chunk.
func (c *Chunk) lacks(analyses []string) []string {
	var list []string
	for _, name := range analyses {
		for _, f := range Figures {
			if f.Analysis != name {
				continue
			}
			if n := len(c.of(f)); n != c.Last-c.First+1 {
				list = append(list, name)
				break
			}
		}
	}
	return list
}

func (c *Chunk) of(f Figure) []Outcome {
	var list []Outcome
	for _, o := range c.Outcomes {
		if o.Figure == f.Name {
			list = append(list, o)
		}
	}
	return list
}

// replace puts newer outcomes of some analyses in the place of what was there.
func (c *Chunk) replace(made []Made, outcomes []Outcome) {
	analysis := map[string]string{}
	for _, f := range Figures {
		analysis[f.Name] = f.Analysis
	}
	isNew := func(name string) bool {
		return slices.ContainsFunc(made, func(m Made) bool { return m.Analysis == name })
	}
	c.Made = append(slices.DeleteFunc(c.Made, func(m Made) bool { return isNew(m.Analysis) }), made...)
	c.Outcomes = slices.DeleteFunc(c.Outcomes, func(o Outcome) bool { return analysis[o.Figure] == "" || isNew(analysis[o.Figure]) })
	c.Outcomes = append(c.Outcomes, outcomes...)
	place := map[string]int{}
	for i, f := range Figures {
		place[f.Name] = i
	}
	slices.SortStableFunc(c.Outcomes, func(a, b Outcome) int {
		if a.Seed != b.Seed {
			return a.Seed - b.Seed
		}
		return place[a.Figure] - place[b.Figure]
	})
	slices.SortFunc(c.Made, func(a, b Made) int { return strings.Compare(a.Analysis, b.Analysis) })
}

// hashOf is a short hash of what an analysis says of a seed.
func hashOf(analysis string, outcomes []Outcome) string {
	h := sha256.New()
	for _, f := range Figures {
		if f.Analysis != analysis {
			continue
		}
		for _, o := range outcomes {
			if o.Figure == f.Name {
				fmt.Fprintln(h, strings.Join(o.cells(), ","))
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil))[:16]
}
