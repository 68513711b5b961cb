package folder

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// stagedPrefix begins the names of folders that are being written.
const stagedPrefix = ".writing-"

// Staged is a set of files that lie complete under a temporary name beside the
// folder they are meant for.
type Staged struct {
	tmp    string
	target string
	names  []string
}

// Stage writes files (by slash-separated name) beside the folder target.
func Stage(target string, files map[string][]byte) (*Staged, error) {
	if err := os.MkdirAll(filepath.Dir(target), FolderMode); err != nil {
		return nil, fmt.Errorf("make %s: %w", filepath.Dir(target), err)
	}
	tmp, err := os.MkdirTemp(filepath.Dir(target), stagedPrefix)
	if err != nil {
		return nil, fmt.Errorf("write %s: %w", target, err)
	}
	s := &Staged{tmp: tmp, target: target}
	for name := range files {
		s.names = append(s.names, name)
	}
	slices.Sort(s.names)
	for _, name := range s.names {
		if err := WriteFile(filepath.Join(tmp, filepath.FromSlash(name)), files[name]); err != nil {
			return nil, s.Discard(err)
		}
	}
	return s, nil
}

// Commit puts the files in place: the whole folder at once where none stands
// yet, else file by file over what is there.
func (s *Staged) Commit() error {
	_, err := os.Stat(s.target)
	if errors.Is(err, os.ErrNotExist) {
		if err := os.Rename(s.tmp, s.target); err != nil {
			return s.Discard(fmt.Errorf("put %s in place: %w", s.target, err))
		}
		return nil
	}
	if err != nil {
		return s.Discard(fmt.Errorf("put %s in place: %w", s.target, err))
	}
	for _, name := range s.names {
		to := filepath.Join(s.target, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(to), FolderMode); err != nil {
			return s.Discard(fmt.Errorf("put %s in place: %w", to, err))
		}
		if err := os.Rename(filepath.Join(s.tmp, filepath.FromSlash(name)), to); err != nil {
			return s.Discard(fmt.Errorf("put %s in place: %w", to, err))
		}
	}
	return os.RemoveAll(s.tmp)
}

// Discard takes the staged files away and returns why, joined with what went
// wrong on the way.
func (s *Staged) Discard(why error) error { return errors.Join(why, os.RemoveAll(s.tmp)) }

// Sweep takes away what runs that were cut off left half written: staged
// folders below reports/, temporary files, and warehouses built in passing.
func (d Dir) Sweep() error {
	var failed error
	remove := func(path string) { failed = errors.Join(failed, os.RemoveAll(path)) }
	for _, pattern := range []string{".as-of-*", "warehouse.next.duckdb*"} {
		left, err := filepath.Glob(filepath.Join(string(d), pattern))
		failed = errors.Join(failed, err)
		for _, path := range left {
			remove(path)
		}
	}
	err := filepath.WalkDir(d.Reports(), func(path string, entry os.DirEntry, err error) error {
		if errors.Is(err, os.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		if !strings.HasPrefix(entry.Name(), stagedPrefix) {
			return nil
		}
		remove(path)
		return filepath.SkipDir
	})
	if failed = errors.Join(failed, err); failed != nil {
		return fmt.Errorf("take away what an earlier run left half written: %w", failed)
	}
	return nil
}
