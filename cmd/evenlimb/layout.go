package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/intake/propose"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
)

// layoutAsked is what a call of the layout command asks for.
type layoutAsked struct {
	sender string
	name   string // of the draft
	stdout bool
	sheet  bool
	layout string // the one to try
	rows   int
}

func layoutCommand() command {
	asked := layoutAsked{rows: 3}
	return command{
		name:  "layout",
		args:  "propose|try FILE",
		about: "drafts a layout for a file that nobody has described, or tries a file",
		long: `layout propose FILE drafts how a file stands for rows of the export tables, from its
headings (their spelling, the units in them) and its cells (dates, ranges, codes).
Every line of the draft is a guess with its reason behind it. It is written into
layouts/ and holds from no day yet: a person looks at it, tries it, and writes the
day from which on it holds. With --sheet the draft is a workbook in which columns,
units and codes are chosen from lists; layout propose with that workbook as its FILE
turns it into a layout.

layout try FILE shows what a night would make of a file: the first rows as they would
load, how many would be kept and how many not, and why. It changes nothing. With
--layout it is tried by that layout alone, whatever its first day.

Both refuse a file that looks as if it named persons.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&asked.sender, "sender", "", "the `sender` of the file; needed where it does not lie under inbox/SENDER/")
			set.StringVar(&asked.name, "name", "", "propose: the `name` of the draft in layouts/; default the sender")
			set.BoolVar(&asked.stdout, "stdout", false, "propose: print the draft instead of writing it into layouts/")
			set.BoolVar(&asked.sheet, "sheet", false, "propose: write the draft as a workbook with lists to choose from")
			set.StringVar(&asked.layout, "layout", "", "try: the layout `file` to try")
			set.IntVar(&asked.rows, "rows", asked.rows, "try: `how many` rows of each table to show")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			if err := c.practice(); err != nil {
				return exitPractice, err
			}
			file, err := fileAsked(c, asked)
			if err != nil {
				return exitOf(err), err
			}
			switch c.args[0] {
			case "propose":
				return proposeLayout(ctx, c, file, asked)
			case "try":
				return tryLayout(ctx, c, file, asked)
			default:
				return exitUsage, &usageError{fmt.Sprintf("`evenlimb layout` can propose and try, not %q; run `evenlimb layout --help`", c.args[0])}
			}
		},
	}
}

// sentFile is a file as a sender would have sent it.
type sentFile struct {
	path     string
	sender   string
	below    string // below the sender's folder
	practice *settings.Practice
	layouts  []*settings.Layout
}

func fileAsked(c *call, asked layoutAsked) (sentFile, error) {
	f := sentFile{path: c.args[1], sender: asked.sender, below: filepath.Base(c.args[1])}
	if info, err := os.Stat(f.path); err != nil || info.IsDir() {
		return f, &usageError{fmt.Sprintf("there is no file %s; name the file as it was sent", f.path)}
	}
	if inbox, err := filepath.Abs(c.dir.Inbox()); err == nil {
		at, _ := filepath.Abs(f.path)
		if below, err := filepath.Rel(inbox, at); err == nil && filepath.IsLocal(below) {
			sender, rest, _ := strings.Cut(filepath.ToSlash(below), "/")
			if f.sender == "" {
				f.sender = sender
			}
			if rest != "" && f.sender == sender {
				f.below = rest
			}
		}
	}
	files, err := settings.Files(string(c.dir))
	if err != nil {
		return f, &practiceError{err}
	}
	for _, one := range files {
		if one.Path == settings.PracticeFile {
			f.practice, err = settings.Parse(one.Text, one.Path)
		}
	}
	if err == nil {
		f.layouts, err = settings.Layouts(files, f.practice)
	}
	if err != nil {
		return f, &practiceError{err}
	}
	return f, nil
}

// input opens the file as the intake would.
func (f sentFile) input() source.Input {
	return source.Input{Open: func() (io.ReadCloser, error) { return os.Open(f.path) }, TempDir: os.TempDir()}
}

func (f sentFile) needsSender() error {
	if f.sender == "" {
		return &usageError{"say with --sender whose file it is; senders are named in practice.toml"}
	}
	for _, s := range f.practice.Senders() {
		if s == f.sender {
			return nil
		}
	}
	return &usageError{fmt.Sprintf("no site of practice.toml names the sender %q; senders are %s", f.sender, strings.Join(f.practice.Senders(), ", "))}
}

// sampled is how many rows of a sheet a draft looks at.
const sampled = 2000

func proposeLayout(ctx context.Context, c *call, f sentFile, asked layoutAsked) (exit, error) {
	draft, back, err := readDraft(f.path)
	switch {
	case err != nil:
		return exitFailed, err
	case back && f.sender == "":
		f.sender = draft.Sender
	}
	if err := f.needsSender(); err != nil {
		return exitOf(err), err
	}
	if !back {
		if draft, err = draftOf(ctx, c, f); err != nil {
			return exitOf(err), err
		}
	}
	data, kind := draft.TOML(), ".toml"
	if _, err := settings.ParseLayout(data, "the draft", f.practice); err != nil {
		if back {
			return exitPractice, &practiceError{fmt.Errorf("what stands in the workbook makes no layout: %w", err)}
		}
		return exitFailed, fmt.Errorf("the draft is not a layout: %w; this is a fault of the program, please report it", err)
	}
	if asked.sheet {
		if data, err = draft.Workbook(f.practice); err != nil {
			return exitFailed, err
		}
		kind = ".xlsx"
	}
	if asked.stdout {
		_, err := c.stdout.Write(data)
		return exitDone, err
	}
	name := asked.name
	if name == "" {
		name = f.sender
	}
	if !fileName.MatchString(name) {
		return exitUsage, &usageError{fmt.Sprintf("%q cannot be the name of a layout; use letters, digits, - and _", name)}
	}
	path := filepath.Join(c.dir.Layouts(), name+kind)
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		return exitUsage, &usageError{fmt.Sprintf("%s is there already; choose another name with --name", path)}
	}
	if err := folder.WriteFile(path, data); err != nil {
		return exitFailed, err
	}
	tried := f.path
	if back {
		tried = "FILE" // nobody knows any more which it was
	}
	return exitDone, sayDraft(c, f.sender, tried, draft, path, asked.sheet)
}

var fileName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

// readDraft reads a workbook that a draft was written into; back is false for
// any other file.
func readDraft(path string) (draft propose.Draft, back bool, err error) {
	if !strings.EqualFold(filepath.Ext(path), ".xlsx") {
		return draft, false, nil
	}
	file, err := os.Open(path) //nolint:gosec // a file that the caller named
	if err != nil {
		return draft, false, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	draft, err = propose.ReadWorkbook(file)
	if errors.Is(err, propose.ErrNoDraft) {
		return draft, false, nil
	}
	return draft, err == nil, err
}

// draftOf drafts a layout for a file that names nobody.
func draftOf(ctx context.Context, c *call, f sentFile) (propose.Draft, error) {
	trial, err := intake.Try(ctx, intake.TryInput{File: f.input(), Sender: f.sender, Below: f.below, Practice: f.practice, Now: c.now()})
	if err != nil {
		return propose.Draft{}, err
	}
	if trial.Problem.Code == "identity" || trial.Form == "" {
		return propose.Draft{}, errors.New(trial.Problem.Words)
	}
	form, err := source.Detect(f.input(), source.Wish{})
	if err != nil {
		return propose.Draft{}, err
	}
	sheets, err := sampleOf(f.input(), form)
	if err != nil {
		return propose.Draft{}, err
	}
	return propose.New(propose.Input{Sender: f.sender, File: f.below, Sheets: sheets, Practice: f.practice})
}

// sampleOf reads the headings and the first rows of every sheet.
func sampleOf(in source.Input, form source.Form) (sheets []propose.Sheet, err error) {
	file, err := source.Open(in, form)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	for _, s := range file.Sheets {
		one := propose.Sheet{Name: s.Name}
		if one.Headings, err = s.Headings(); err != nil {
			return nil, err
		}
		for len(one.Rows) < sampled {
			rec, ok, err := s.Next()
			if err != nil {
				return nil, err
			}
			if !ok {
				break
			}
			if rec.Fault == "" && len(rec.Cells) == len(one.Headings) {
				one.Rows = append(one.Rows, rec.Cells)
			}
		}
		sheets = append(sheets, one)
	}
	return sheets, nil
}

func sayDraft(c *call, sender, tried string, d propose.Draft, path string, sheet bool) error {
	found, unread, absent := 0, 0, 0
	for _, t := range d.Tables {
		found, unread, absent = found+len(t.Columns), unread+len(t.Unread), absent+len(t.Absent)
	}
	if c.json {
		return writeJSON(c.stdout, map[string]any{"layout": path, "columns": found, "not_read": unread, "missing": absent})
	}
	w := c.stdout
	fmt.Fprintf(w, "%s: a draft with %s; %s found no column.\n", path, counted(found, "column", "columns"), counted(unread, "heading", "headings"))
	if absent > 0 {
		fmt.Fprintf(w, "%s that a table needs found no heading: look for %q in it.\n", counted(absent, "column", "columns"), propose.NoHeading)
	}
	var err error
	if sheet {
		_, err = fmt.Fprintf(w, "Go over it, and turn it into a layout with\n  evenlimb layout propose %s --practice %s\n", path, c.dir)
	} else {
		_, err = fmt.Fprintf(w, "Every line is a guess. Go over it, try it with\n  evenlimb layout try %s --sender %s --layout %s --practice %s\nand write the first day on which it holds after from.\n", tried, sender, path, c.dir)
	}
	return err
}
