package nightly

import (
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"
)

// State is what log/state.json holds: how far the run is that holds the folder,
// or how the last one ended.
type State struct {
	Command string    `json:"command"`
	Process int       `json:"process"`
	Began   time.Time `json:"began"`
	Stage   string    `json:"stage,omitempty"`
	Step    string    `json:"step,omitempty"`
	Done    int       `json:"done,omitempty"`
	Of      int       `json:"of,omitempty"`
	Ended   time.Time `json:"ended,omitzero"`
	Problem string    `json:"problem,omitempty"`
}

// ReadState reads how far a run is; ok is false when there never was one.
func ReadState(dir string) (s State, ok bool, err error) {
	data, err := os.ReadFile(statePath(dir))
	if errors.Is(err, os.ErrNotExist) {
		return State{}, false, nil
	}
	if err != nil {
		return State{}, false, fmt.Errorf("read how far the run is: %w", err)
	}
	if err := json.Unmarshal(data, &s); err != nil {
		return State{}, false, fmt.Errorf("read how far the run is: %w", err)
	}
	return s, true, nil
}

func statePath(dir string) string { return filepath.Join(dir, "log", "state.json") }

// journal writes a run's log and its state.
type journal struct {
	dir   string
	state State
	file  *os.File
	log   *slog.Logger
	wrote time.Time
}

func openJournal(dir, command string, began time.Time) (*journal, error) {
	name := fmt.Sprintf("%s_%s.jsonl", began.UTC().Format("20060102T150405Z"), command)
	file, err := os.OpenFile(filepath.Join(dir, "log", name), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil {
		return nil, fmt.Errorf("open the log: %w", err)
	}
	j := &journal{dir: dir, file: file, state: State{Command: command, Process: os.Getpid(), Began: began.UTC()}}
	j.log = slog.New(slog.NewJSONHandler(file, nil))
	return j, j.write()
}

// write puts the state where `status` finds it, whole.
func (j *journal) write() error {
	data, err := json.Marshal(j.state)
	if err != nil {
		return fmt.Errorf("write how far the run is: %w", err)
	}
	tmp := statePath(j.dir) + ".tmp"
	if err := os.WriteFile(tmp, data, 0o600); err != nil {
		return fmt.Errorf("write how far the run is: %w", err)
	}
	return os.Rename(tmp, statePath(j.dir))
}

func (j *journal) close(ended time.Time, failed error) error {
	j.state.Ended, j.state.Stage, j.state.Step = ended.UTC(), "", ""
	j.state.Done, j.state.Of = 0, 0
	if failed != nil {
		j.state.Problem = failed.Error()
		j.log.Error("ended", slog.String("problem", failed.Error()))
	} else {
		j.log.Info("ended")
	}
	return errors.Join(j.write(), j.file.Close())
}

// watch passes progress on and notes it in the state.
func (j *journal) watch(to Progress, now func() time.Time) Progress {
	return &watched{journal: j, to: to, now: now}
}

type watched struct {
	journal *journal
	to      Progress
	now     func() time.Time
}

// Stage notes the stage. A state that cannot be written must not end a night.
func (w *watched) Stage(name string) {
	w.journal.state.Stage, w.journal.state.Step = name, ""
	w.journal.state.Done, w.journal.state.Of = 0, 0
	w.note()
	w.to.Stage(name)
}

// Step notes how far the stage is, once a second at most.
func (w *watched) Step(what string, done, of int) {
	w.journal.state.Step, w.journal.state.Done, w.journal.state.Of = what, done, of
	if now := w.now(); now.Sub(w.journal.wrote) >= time.Second {
		w.journal.wrote = now
		w.note()
	}
	w.to.Step(what, done, of)
}

func (w *watched) note() {
	if err := w.journal.write(); err != nil {
		w.journal.log.Warn("state not written", slog.String("problem", err.Error()))
	}
}
