package intake

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"

	"evenlimb/pipeline/intake/guard"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// keep archives a new file, if it is still what it was when it was listed, and
// returns how it is planned. While one core packs and hashes it, another reads
// its cells: when something in them looks as if it named a person, or they
// cannot be read to the end to tell, nothing of the file is kept.
func (r *run) keep(ctx context.Context, inbox *os.Root, d dropped, content map[warehouse.Content]string) (p warehouse.Planned, seen glance, err error) {
	file, err := inbox.Open(d.path)
	if err != nil {
		return p, seen, fmt.Errorf("%w: %w", errReading, err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if err := unchanged(file, d); err != nil {
		return p, seen, err
	}
	looked := make(chan error, 1)
	go func() {
		var err error
		seen, err = r.look(ctx, inbox, d)
		looked <- err
	}()
	packed, err := packFile(ctx, r.in.Dir, file)
	if wrong := <-looked; err != nil || wrong != nil {
		return p, seen, errors.Join(err, wrong, packed.discard())
	}
	if err := unchanged(file, d); err != nil {
		return p, seen, errors.Join(err, packed.discard())
	}
	p = warehouse.Planned{Sender: d.sender, Path: d.path, SHA256: packed.sum, Bytes: packed.bytes, Allowed: seen.allowed()}
	if seen.refusal.Code != "" {
		p.Refused, p.Rules = seen.refusal, r.rules(d.sender)
		return p, seen, packed.discard()
	}
	if _, taken := content[warehouse.Content{Sender: d.sender, SHA256: packed.sum}]; taken && archived(r.in.Dir, packed.sum) {
		return p, seen, packed.discard()
	}
	return p, seen, packed.keep(r.in.Dir)
}

// unchanged fails with errChanging when a file is not as it was when it was
// listed.
func unchanged(file *os.File, d dropped) error {
	now, err := file.Stat()
	if err != nil {
		return err
	}
	if now.Size() != d.state.Size() || !now.ModTime().Equal(d.state.ModTime()) {
		return errChanging
	}
	return nil
}

// glance is what the cells of a file say of the persons in it.
type glance struct {
	refusal warehouse.Problem
	passed  []guard.Suspicion // columns that the practice lets through
}

// allowed names the columns that the practice lets through.
func (g glance) allowed() []string {
	var list []string
	for _, s := range g.passed {
		list = append(list, s.Where())
	}
	return list
}

func (g glance) log(ctx context.Context, log *slog.Logger, path string) {
	for _, s := range g.passed {
		log.WarnContext(ctx, "the guard lets a column through that the settings allow", "path", path, "column", s.Column+1, "line", s.Line, "kind", string(s.Kind))
	}
}

// look reads all cells of a file before anything of it is kept.
func (r *run) look(ctx context.Context, inbox *os.Root, d dropped) (seen glance, err error) {
	in := source.Input{
		Open:    func() (io.ReadCloser, error) { return inbox.Open(d.path) },
		TempDir: filepath.Join(r.in.Dir, archiveFolder),
	}
	g := guard.New(r.guardRules(d.sender))
	err = r.feed(ctx, g, in, d)
	var refusal *source.Refusal
	switch {
	case g.Verdict() != nil:
		s := g.Verdict()
		seen.refusal = warehouse.Problem{Code: "identity", Words: s.Words(d.sender)}
	case errors.As(err, &refusal):
		seen.refusal = warehouse.Problem{Code: refusal.Code, Words: refusal.Words}
	case err != nil:
		return seen, fmt.Errorf("%w: %w", errReading, err)
	}
	seen.passed = g.Passed()
	return seen, nil
}

// feed shows the guard every cell of a file, until it has seen enough.
func (r *run) feed(ctx context.Context, g *guard.Guard, in source.Input, d dropped) error {
	// The cells are those that would be taken in.
	by := batchRules{practice: r.practice, layouts: r.layouts, received: r.today()}
	form, problem, err := recognise(in, warehouse.Planned{Sender: d.sender, Path: d.path}, by)
	if err != nil {
		return err
	}
	if len(form.sheets) == 0 {
		return &source.Refusal{Code: problem.Code, Words: problem.Words}
	}
	// What stands beside the tables would be kept with them.
	for _, open := range []func(source.Input, source.Form) (*source.File, error){source.Open, source.OpenAsides} {
		file, err := open(in, form.Form)
		if err != nil {
			return err
		}
		if err := errors.Join(show(ctx, g, file), file.Close()); err != nil || g.Refused() {
			return err
		}
	}
	return nil
}

// show feeds the guard every sheet of a file.
func show(ctx context.Context, g *guard.Guard, file *source.File) error {
	for _, sheet := range file.Sheets {
		headings, err := sheet.Headings()
		if err != nil || g.Headings(1, headings) != nil {
			return err
		}
		err = each(ctx, sheet, func(rec source.Record) {
			if rec.Fault != "" {
				g.Broken(rec.Line, rec.Cells)
			} else {
				g.Row(rec.Line, rec.Cells)
			}
		})
		if err != nil || g.Refused() {
			return err
		}
	}
	return nil
}

func (r *run) guardRules(sender string) guard.Rules {
	return guard.Rules{Sender: sender, MoreHeadings: r.practice.Guard.MoreHeadings, Allow: r.practice.Guard.Allow}
}

// rules stands for all that may change the mind of who refuses a file: the
// program, the settings of the guard and how the sender's files are read.
func (r *run) rules(sender string) string {
	var files []settings.LayoutFile
	for _, l := range r.layouts {
		if l.Sender == sender {
			files = append(files, l.File)
		}
	}
	text, err := json.Marshal([]any{r.in.Program, r.guardRules(sender), files})
	if err != nil {
		panic(fmt.Sprintf("the rules of the guard cannot be written down: %v", err)) // they are texts and numbers
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}
