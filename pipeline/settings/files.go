package settings

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// PracticeFile is the settings file of a practice folder.
const PracticeFile = "practice.toml"

// layoutsFolder holds the layouts of a practice folder.
const layoutsFolder = "layouts"

// File is one settings file as it was read: practice.toml, a layout or a cohort.
type File struct {
	Path    string // inside the practice folder, with slashes
	Text    []byte
	Version string // what tells two versions apart, hex; see Versioned
}

// Files reads practice.toml, layouts/*.toml and cohorts/*.toml of a practice
// folder, in order of their paths. A practice file or layouts that cannot be
// understood are returned as *Problems.
func Files(dir string) ([]File, error) {
	paths := []string{PracticeFile}
	for _, folder := range []string{"cohorts", layoutsFolder} {
		entries, err := os.ReadDir(filepath.Join(dir, folder))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("read the settings folder %s: %w", folder, err)
		}
		for _, e := range entries {
			if e.Type().IsRegular() && filepath.Ext(e.Name()) == ".toml" {
				paths = append(paths, folder+"/"+e.Name())
			}
		}
	}
	slices.Sort(paths)
	var files []File
	for _, path := range paths {
		text, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(path))) //nolint:gosec // a path of the practice folder, chosen by its owner
		if err != nil {
			return nil, fmt.Errorf("read settings: %w", err)
		}
		file, err := Versioned(path, text)
		if err != nil {
			return nil, err
		}
		files = append(files, file)
	}
	practice, err := practiceOf(files)
	if err != nil {
		return nil, err
	}
	_, err = Layouts(files, practice)
	return files, err
}

func practiceOf(files []File) (*Practice, error) {
	i := slices.IndexFunc(files, func(f File) bool { return f.Path == PracticeFile })
	return Parse(files[i].Text, PracticeFile)
}

// Layouts reads the layouts among the files. What is wrong in any of them is
// returned together, as *Problems for each; see ParseLayout for the practice.
func Layouts(files []File, practice *Practice) ([]*Layout, error) {
	var layouts []*Layout
	var problems error
	for _, f := range files {
		if !strings.HasPrefix(f.Path, layoutsFolder+"/") {
			continue
		}
		l, err := ParseLayout(f.Text, f.Path, practice)
		problems = errors.Join(problems, err)
		layouts = append(layouts, l)
	}
	if problems != nil {
		return nil, problems
	}
	return layouts, nil
}

// Versioned gives a settings file its version. For practice.toml that is the
// digest of what it means, so that a comment or a word about the machine it
// runs on makes no new version; for the others it is the digest of the text.
func Versioned(path string, text []byte) (File, error) {
	if path == PracticeFile {
		p, err := Parse(text, path)
		if err != nil {
			return File{}, err
		}
		return File{Path: path, Text: text, Version: p.Digest()}, nil
	}
	sum := sha256.Sum256(text)
	return File{Path: path, Text: text, Version: hex.EncodeToString(sum[:])}, nil
}
