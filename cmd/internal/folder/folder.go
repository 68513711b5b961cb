// Package folder knows where everything lies in a practice folder, and writes
// there so that a reader never meets half a file.
package folder

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Dir is a practice folder.
type Dir string

// Settings is the practice's settings file.
func (d Dir) Settings() string { return d.at("practice.toml") }

// Layouts is where it is said how the files of senders are read.
func (d Dir) Layouts() string { return d.at("layouts") }

// Inbox is where senders drop their files.
func (d Dir) Inbox() string { return d.at("inbox") }

// Archive is where every file taken in is kept.
func (d Dir) Archive() string { return d.at("archive") }

// Quarantine is where rejected rows are listed.
func (d Dir) Quarantine() string { return d.at("quarantine") }

// Landing is the append-only store.
func (d Dir) Landing() string { return d.at("landing.duckdb") }

// Warehouse is what the last night derived.
func (d Dir) Warehouse() string { return d.at("warehouse.duckdb") }

// Next is the warehouse while it is built.
func (d Dir) Next() string { return d.at("warehouse.next.duckdb") }

// Reports is what may circulate.
func (d Dir) Reports() string { return d.at("reports") }

// PersonLevel is where single persons' rows are written on request.
func (d Dir) PersonLevel() string { return d.at("person_level") }

// Log is where each run leaves its log.
func (d Dir) Log() string { return d.at("log") }

// State is how far the run is that holds the folder.
func (d Dir) State() string { return filepath.Join(d.Log(), "state.json") }

func (d Dir) at(name string) string { return filepath.Join(string(d), name) }

// InboxOf is where a sender drops its files.
func (d Dir) InboxOf(sender string) string { return filepath.Join(d.Inbox(), sender) }

// Private modes: only the owner reads what a practice folder holds.
const (
	FileMode   fs.FileMode = 0o600
	FolderMode fs.FileMode = 0o700
)

// WriteFile writes data to a temporary name beside path and renames it, so that
// path holds the old text or the new one whole. Missing folders are made.
func WriteFile(path string, data []byte) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), FolderMode); err != nil {
		return fmt.Errorf("make the folder of %s: %w", filepath.Base(path), err)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("write %s: %w", filepath.Base(path), err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("write %s: %w", filepath.Base(path), err), os.Remove(tmp.Name()))
		}
	}()
	_, err = tmp.Write(data)
	if err == nil {
		err = tmp.Sync()
	}
	if closing := tmp.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
