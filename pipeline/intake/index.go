package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// indexLine is one line of archive/index.ndjson: what a person, or a rebuild
// without the landing store, needs to know of a file that a batch took in or of
// a settings file that changed with it. Settings files lie in the archive as
// well, under their SHA-256.
type indexLine struct {
	Kind     string `json:"kind,omitempty"` // empty: a file of a sender
	SHA256   string `json:"sha256,omitempty"`
	Sender   string `json:"sender,omitempty"`
	Path     string `json:"path"`
	Batch    int    `json:"batch"`
	Received string `json:"received_on"`
	Bytes    int64  `json:"bytes,omitempty"`
	Layout   string `json:"layout,omitempty"`
	Program  string `json:"program"`

	Mode    warehouse.Mode `json:"mode,omitempty"`
	Refused string         `json:"refused,omitempty"` // why nothing of the file was kept
	Words   string         `json:"words,omitempty"`
	Rules   string         `json:"rules,omitempty"`
	Allowed []string       `json:"allowed,omitempty"`
	Version string         `json:"version,omitempty"` // of a settings file
}

// ofSettings is the kind of a line about a settings file; one without a SHA-256
// says that the file was taken away.
const ofSettings = "settings"

// canonical stands for the layout of a file whose headings are those of an
// export table.
const canonical = "canonical"

// indexBatch adds the settings and files of a batch whose files are all in to
// the index of the archive, those that are not there yet.
func (r *run) indexBatch(ctx context.Context, b warehouse.Batch) error {
	changed, err := r.in.Landing.SettingsOf(ctx, b.Number)
	if err != nil {
		return err
	}
	plan, err := r.in.Landing.Plan(ctx, b.Number)
	if err != nil {
		return err
	}
	files, err := r.in.Landing.Files(ctx, b.Number)
	if err != nil {
		return err
	}
	layouts := map[[2]string]string{}
	for _, f := range files {
		if f.Batch == b.Number {
			layouts[[2]string{f.Path, f.SHA256}] = f.Layout
		}
	}
	var lines []indexLine
	for _, f := range changed {
		line, err := r.archiveSettings(ctx, b, f)
		if err != nil {
			return err
		}
		lines = append(lines, line)
	}
	for _, p := range plan {
		line := indexLine{
			SHA256: p.SHA256, Sender: p.Sender, Path: p.Path, Bytes: p.Bytes, Layout: layouts[[2]string{p.Path, p.SHA256}],
			Mode: p.Mode, Refused: p.Refused.Code, Words: p.Refused.Words, Rules: p.Rules, Allowed: p.Allowed,
		}
		if line.Layout == "" && line.Refused == "" {
			line.Layout = canonical
		}
		lines = append(lines, line)
	}
	return addToIndex(r.in.Dir, b, lines)
}

func (r *run) archiveSettings(ctx context.Context, b warehouse.Batch, f settings.File) (indexLine, error) {
	line := indexLine{Kind: ofSettings, Path: f.Path, Version: f.Version}
	if f.Text == nil {
		return line, nil
	}
	packed, err := packFile(ctx, r.in.Dir, bytes.NewReader(f.Text))
	if err != nil {
		return line, fmt.Errorf("archive the settings of batch %d: %w", b.Number, err)
	}
	line.SHA256 = packed.sum
	return line, packed.keep(r.in.Dir)
}

// addToIndex adds lines to the index. What stands in it stays, but for a line
// cut off at its end.
func addToIndex(dir string, b warehouse.Batch, lines []indexLine) error {
	path := filepath.Join(dir, archiveFolder, indexFile)
	old, err := os.ReadFile(path) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("read the index of the archive: %w", err)
	}
	old = old[:bytes.LastIndexByte(old, '\n')+1]
	there := map[string]bool{}
	for line := range bytes.Lines(old) {
		there[string(line)] = true
	}
	var added bytes.Buffer
	for _, one := range lines {
		one.Batch, one.Received, one.Program = b.Number, b.ReceivedOn.Format(time.DateOnly), b.Program
		text, err := json.Marshal(one)
		if err != nil {
			return fmt.Errorf("write the index of the archive: %w", err)
		}
		if text = append(text, '\n'); !there[string(text)] {
			added.Write(text)
		}
	}
	if added.Len() == 0 {
		return nil
	}
	return writeWhole(path, func(w io.Writer) error {
		_, err := w.Write(append(old, added.Bytes()...))
		return err
	})
}

// readIndex returns the lines of the index, by batch, in their order.
func readIndex(dir string) (batches []indexedBatch, err error) {
	path := filepath.Join(dir, archiveFolder, indexFile)
	text, err := os.ReadFile(path) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil {
		return nil, fmt.Errorf("read the index of the archive: %w", err)
	}
	number := 0
	for line := range bytes.Lines(text) {
		number++
		var one indexLine
		if err := json.Unmarshal(line, &one); err != nil {
			return nil, fmt.Errorf("line %d of archive/%s cannot be read (%w); put the archive back from a backup", number, indexFile, err)
		}
		received, err := time.Parse(time.DateOnly, one.Received)
		if err != nil {
			return nil, fmt.Errorf("line %d of archive/%s: %w; put the archive back from a backup", number, indexFile, err)
		}
		if len(batches) == 0 || batches[len(batches)-1].Number != one.Batch {
			if one.Batch != len(batches)+1 {
				return nil, fmt.Errorf("line %d of archive/%s is of batch %d after batch %d; put the archive back from a backup", number, indexFile, one.Batch, len(batches))
			}
			batches = append(batches, indexedBatch{Batch: warehouse.Batch{Number: one.Batch, ReceivedOn: received, Program: one.Program}})
		}
		last := &batches[len(batches)-1]
		last.lines = append(last.lines, one)
	}
	return batches, nil
}

// indexedBatch is what the index says of a batch.
type indexedBatch struct {
	warehouse.Batch
	lines []indexLine
}
