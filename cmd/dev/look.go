package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"evenlimb/reports/figures"
)

// runLook renders everything under a reports folder to pictures, as a reader would
// see it, and runs the checks that need no eye. It exits with 1 when a check
// found something or a program to render with is missing.
func runLook(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("look", flag.ContinueOnError)
	flags.SetOutput(stderr)
	out := flags.String("out", "", "folder for the pictures (default: a new temporary one)")
	flags.Usage = func() {
		fmt.Fprintln(stderr, "usage: go run ./cmd/dev look [--out DIR] FOLDER")
		flags.PrintDefaults()
	}
	folder, err := parseFolder(flags, args)
	if err != nil {
		fmt.Fprintf(stderr, "dev look: %v\n", err)
		flags.Usage()
		return 64
	}
	l, err := newLooker(folder, *out)
	if err != nil {
		fmt.Fprintf(stderr, "dev look: %v\n", err)
		return 1
	}
	err = l.run(ctx, stderr)
	if clearing := os.RemoveAll(l.scratch); err == nil {
		err = clearing
	}
	if err != nil {
		fmt.Fprintf(stderr, "dev look: %v\n", err)
		return 1
	}
	l.report(stdout)
	if len(l.faults)+len(l.missing) > 0 {
		return 1
	}
	return 0
}

// parseFolder takes the one folder, with the flags before or after it.
func parseFolder(flags *flag.FlagSet, args []string) (string, error) {
	if err := flags.Parse(args); err != nil {
		return "", err
	}
	folder := flags.Arg(0)
	if folder == "" {
		return "", errors.New("name the folder to look at")
	}
	if err := flags.Parse(flags.Args()[1:]); err != nil {
		return "", err
	}
	if flags.NArg() > 0 {
		return "", fmt.Errorf("%q is one argument too many", flags.Arg(0))
	}
	return folder, nil
}

// view is one picture made from a file.
type view struct {
	Source  string // path under the folder looked at
	As      string // how it was rendered
	Picture string // file name in the folder of pictures
}

type looker struct {
	folder, out string
	scratch     string // profiles and half-made files; removed at the end
	browser     browser
	soffice     string
	pdftoppm    string
	pdftotext   string

	views   []view
	faults  []string
	missing []string
}

// newLooker finds the programs and makes the folders.
func newLooker(folder, out string) (*looker, error) {
	info, err := os.Stat(folder)
	if err != nil {
		return nil, fmt.Errorf("%w: name a folder of reports", err)
	}
	if !info.IsDir() {
		return nil, fmt.Errorf("%s is not a folder: name a folder of reports", folder)
	}
	if folder, err = filepath.Abs(folder); err != nil {
		return nil, err
	}
	if out == "" {
		if out, err = os.MkdirTemp("", "evenlimb-look-"); err != nil {
			return nil, err
		}
	}
	if out, err = filepath.Abs(out); err != nil {
		return nil, err
	}
	if out == folder || strings.HasPrefix(out, folder+string(filepath.Separator)) {
		return nil, fmt.Errorf("pictures into %s would lie among the reports: name another folder with --out", out)
	}
	if err := os.MkdirAll(out, 0o700); err != nil {
		return nil, err
	}
	scratch, err := os.MkdirTemp("", "evenlimb-look-scratch-")
	if err != nil {
		return nil, err
	}
	l := &looker{folder: folder, out: out, scratch: scratch}
	l.browser = browser{path: l.program("chromium", "chromium", "chromium-browser"), scratch: scratch}
	l.soffice = l.program("libreoffice-calc", "soffice", "libreoffice")
	l.pdftoppm = l.program("poppler-utils", "pdftoppm")
	l.pdftotext = l.program("poppler-utils", "pdftotext")
	return l, nil
}

// program returns the path of the first name found, or notes the package.
func (l *looker) program(debian string, names ...string) string {
	for _, n := range names {
		if path, err := exec.LookPath(n); err == nil {
			return path
		}
	}
	note := fmt.Sprintf("%s is not installed: apt install %s", names[0], debian)
	l.missing = append(l.missing, note)
	return ""
}

func (l *looker) run(ctx context.Context, progress io.Writer) error {
	files, err := l.files()
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return fmt.Errorf("%s holds no page, workbook or plot: make the reports first", l.folder)
	}
	for i, f := range files {
		fmt.Fprintf(progress, "look: %d of %d, %s\n", i+1, len(files), f)
		var err error
		switch filepath.Ext(f) {
		case ".html":
			err = l.page(ctx, f)
		case ".xlsx":
			err = l.workbook(ctx, f)
		case ".svg":
			err = l.plot(ctx, f)
		case ".png":
			err = l.copy(f)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
	}
	return l.gallery(ctx)
}

// files lists what can be looked at, by path.
func (l *looker) files() ([]string, error) {
	var files []string
	err := filepath.WalkDir(l.folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !e.IsDir() && slices.Contains([]string{".html", ".xlsx", ".svg", ".png"}, filepath.Ext(path)) {
			relative, err := filepath.Rel(l.folder, path)
			if err != nil {
				return err
			}
			files = append(files, relative)
		}
		return nil
	})
	slices.Sort(files)
	return files, err
}

// plot checks an SVG and renders it as a browser does.
func (l *looker) plot(ctx context.Context, f string) error {
	svg, err := os.ReadFile(filepath.Join(l.folder, f))
	if err != nil {
		return err
	}
	faults, err := figures.Check(svg)
	if err != nil {
		return err
	}
	for _, fault := range faults {
		l.fault(f, fault)
	}
	stem := strings.TrimSuffix(f, ".svg")
	for _, beside := range []string{stem + ".png", stem + ".csv"} {
		if _, err := os.Stat(filepath.Join(l.folder, beside)); err != nil {
			l.fault(f, "without "+filepath.Base(beside)+" beside it")
		}
	}
	if l.browser.path == "" {
		return nil
	}
	picture := l.name(f, "")
	_, err = l.browser.shoot(ctx, filepath.Join(l.folder, f), plotWidth, filepath.Join(l.out, picture))
	l.saw(f, "SVG", picture)
	return err
}

// plotWidth is the column that plots stand in on a wide screen, in pixels.
const plotWidth = 640

func (l *looker) copy(f string) error {
	data, err := os.ReadFile(filepath.Join(l.folder, f))
	if err != nil {
		return err
	}
	picture := l.name(f, "")
	l.saw(f, "PNG", picture)
	return os.WriteFile(filepath.Join(l.out, picture), data, 0o600)
}

// workbook renders every sheet as it would print.
func (l *looker) workbook(ctx context.Context, f string) error {
	if l.soffice == "" {
		return nil
	}
	if err := command60(ctx, l.soffice, "--headless", "-env:UserInstallation="+fileURL(filepath.Join(l.scratch, "office")),
		"--convert-to", "pdf", "--outdir", l.scratch, filepath.Join(l.folder, f)); err != nil {
		return err
	}
	pdf := filepath.Join(l.scratch, strings.TrimSuffix(filepath.Base(f), ".xlsx")+".pdf")
	if l.pdftotext != "" {
		text := filepath.Join(l.scratch, "sheets.txt")
		if err := command60(ctx, l.pdftotext, pdf, text); err != nil {
			return err
		}
		words, err := os.ReadFile(filepath.Clean(text))
		if err != nil {
			return err
		}
		for _, sign := range []string{"###", "#REF!", "#NAME?", "#VALUE!", "Err:5"} {
			if strings.Contains(string(words), sign) {
				l.fault(f, "a cell prints "+sign)
			}
		}
	}
	return l.printed(ctx, f, "sheets", pdf)
}

// page renders a page at the widths it is read at, and as printed.
func (l *looker) page(ctx context.Context, f string) error {
	if l.browser.path == "" {
		return nil
	}
	path := filepath.Join(l.folder, f)
	for _, screen := range []struct {
		as    string
		width int
	}{{"phone", 390}, {"desktop", 1280}} {
		picture := l.name(f, screen.as)
		faults, err := l.browser.shoot(ctx, path, screen.width, filepath.Join(l.out, picture))
		if err != nil {
			return err
		}
		for _, fault := range faults {
			l.fault(f, screen.as+": "+fault)
		}
		l.saw(f, fmt.Sprintf("%s, %d pixels", screen.as, screen.width), picture)
	}
	pdf := filepath.Join(l.scratch, "page.pdf")
	if err := l.browser.print(ctx, path, pdf); err != nil {
		return err
	}
	return l.printed(ctx, f, "print", pdf)
}

// printed turns the pages of a PDF into pictures.
func (l *looker) printed(ctx context.Context, f, as, pdf string) error {
	if l.pdftoppm == "" {
		return nil
	}
	prefix := filepath.Join(l.out, strings.TrimSuffix(l.name(f, as), ".png"))
	if err := command60(ctx, l.pdftoppm, "-r", "80", "-png", pdf, prefix); err != nil {
		return err
	}
	pages, err := filepath.Glob(prefix + "-*.png")
	if err != nil {
		return err
	}
	slices.Sort(pages)
	for i, p := range pages {
		l.saw(f, fmt.Sprintf("%s, page %d of %d", as, i+1, len(pages)), filepath.Base(p))
	}
	return os.Remove(pdf)
}

func (l *looker) saw(source, as, picture string) {
	l.views = append(l.views, view{Source: source, As: as, Picture: picture})
}

func (l *looker) fault(source, what string) {
	l.faults = append(l.faults, source+": "+what)
}

// name is a flat name for the picture of a file.
func (l *looker) name(f, as string) string {
	name := strings.ReplaceAll(f, string(filepath.Separator), "__")
	if as != "" {
		name += "." + as
	}
	return name + ".png"
}

func (l *looker) report(w io.Writer) {
	fmt.Fprintf(w, "%d pictures in %s\n", len(l.views), l.out)
	if l.browser.path != "" {
		fmt.Fprintf(w, "all of them on one sheet: %s and %s (in grey); larger in %s\n", contactSheet, contactSheetGrey, galleryPage)
	}
	for _, m := range l.missing {
		fmt.Fprintf(w, "not rendered: %s\n", m)
	}
	for _, f := range l.faults {
		fmt.Fprintf(w, "fault: %s\n", f)
	}
	if len(l.faults) == 0 {
		fmt.Fprintln(w, "the checks found no fault")
	}
}
