package warehouse

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"database/sql/driver"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// Publication is one report as it was published: an entry of the register. The
// gate and the comparison with last time read it, so history is an input.
type Publication struct {
	Number         int // counts up; 0 in one not yet registered
	Report         string
	Period         string // such as 2026-03
	Revision       int    // from 1
	Batch          int
	Audience       string
	Folder         string // inside the practice folder, with slashes
	ManifestSHA256 string
	Renamed        bool // its files are known to stand in Folder
	Files          []PublishedFile
	Figures        []PublishedFigure
}

// PublishedFile is one file of a report.
type PublishedFile struct {
	Name   string // below the report's folder, with slashes
	SHA256 string
}

// PublishedFigure is one figure as its readers saw it.
type PublishedFigure struct {
	ID             string
	Shown          string   // the value in words, or what stood in its place
	Value          *float64 // nil where it was not shown
	Low            *float64
	High           *float64
	Persons        *int
	Status         string
	DefinitionHash string
}

// The states of a publication. It is registered when its files lie complete
// under a temporary name, and published when they have been renamed.
const (
	registered = "registered"
	published  = "published"
)

// Register notes a publication whose files lie complete under a temporary
// name, and returns its number. The caller renames them and then calls
// MarkRenamed; after a cut between the two, Unfinished returns the entry.
func (l *Landing) Register(ctx context.Context, p Publication) (number int, err error) {
	err = inTransaction(ctx, l.db, func(tx *sql.Tx, raw driver.Conn) error {
		const next = "select coalesce(max(publication), 0) + 1 from publications"
		if err := tx.QueryRowContext(ctx, next).Scan(&number); err != nil {
			return err
		}
		var twice bool
		const same = "select count(*) > 0 from publications where report = ? and period = ? and revision = ? and audience = ?"
		if err := tx.QueryRowContext(ctx, same, p.Report, p.Period, p.Revision, p.Audience).Scan(&twice); err != nil {
			return err
		}
		if twice {
			return fmt.Errorf("revision %d is in the register already", p.Revision)
		}
		if _, err := tx.ExecContext(ctx, "insert into publications values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			number, p.Report, p.Period, p.Revision, p.Batch, p.Audience, p.Folder, p.ManifestSHA256, registered); err != nil {
			return err
		}
		if err := appendAll(raw, "", "publication_files", p.Files, func(f PublishedFile) []any {
			return []any{number, f.Name, f.SHA256}
		}); err != nil {
			return err
		}
		return appendAll(raw, "", "publication_figures", p.Figures, func(f PublishedFigure) []any {
			return []any{number, f.ID, f.Shown, f.Value, f.Low, f.High, f.Persons, f.Status, f.DefinitionHash}
		})
	})
	if err != nil {
		return 0, fmt.Errorf("register %s %s: %w", p.Report, p.Period, err)
	}
	return number, nil
}

// MarkRenamed notes that the files of a publication stand in their folder.
func (l *Landing) MarkRenamed(ctx context.Context, number int) error {
	if _, err := l.db.ExecContext(ctx, "update publications set state = ? where publication = ?", published, number); err != nil {
		return fmt.Errorf("register: mark publication %d: %w", number, err)
	}
	return nil
}

// Publications returns the register without its figures, oldest first: the
// entries before the given number, or all where it is 0.
func (l *Landing) Publications(ctx context.Context, before int) ([]Publication, error) {
	const query = `select publication, report, period, revision, batch, audience, folder, manifest_sha256, state
		from publications where ? = 0 or publication < ? order by publication`
	list, err := collect(ctx, l.db, func(rows *sql.Rows, p *Publication) error {
		var state string
		err := rows.Scan(&p.Number, &p.Report, &p.Period, &p.Revision, &p.Batch, &p.Audience, &p.Folder, &p.ManifestSHA256, &state)
		p.Renamed = state == published
		return err
	}, query, before, before)
	if err != nil {
		return nil, fmt.Errorf("read the register: %w", err)
	}
	files, err := collect(ctx, l.db, func(rows *sql.Rows, f *numbered[PublishedFile]) error {
		return rows.Scan(&f.number, &f.of.Name, &f.of.SHA256)
	}, "select publication, name, sha256 from publication_files order by publication, name")
	if err != nil {
		return nil, fmt.Errorf("read the register: %w", err)
	}
	place := map[int]int{}
	for i, p := range list {
		place[p.Number] = i
	}
	for _, f := range files {
		if i, ok := place[f.number]; ok {
			list[i].Files = append(list[i].Files, f.of)
		}
	}
	return list, nil
}

// numbered is a part of the publication of that number.
type numbered[T any] struct {
	number int
	of     T
}

// FiguresOf returns the figures of one publication, in order of their ids.
func (l *Landing) FiguresOf(ctx context.Context, number int) ([]PublishedFigure, error) {
	const query = `select figure_id, shown, value, low, high, persons, status, definition_hash
		from publication_figures where publication = ? order by figure_id`
	figures, err := collect(ctx, l.db, func(rows *sql.Rows, f *PublishedFigure) error {
		return rows.Scan(&f.ID, &f.Shown, &f.Value, &f.Low, &f.High, &f.Persons, &f.Status, &f.DefinitionHash)
	}, query, number)
	if err != nil {
		return nil, fmt.Errorf("read the figures of publication %d: %w", number, err)
	}
	return figures, nil
}

// Unfinished returns the publications that were registered but not marked as
// renamed: a night was cut off in between.
func (l *Landing) Unfinished(ctx context.Context) ([]Publication, error) {
	all, err := l.Publications(ctx, 0)
	if err != nil {
		return nil, err
	}
	var left []Publication
	for _, p := range all {
		if !p.Renamed {
			left = append(left, p)
		}
	}
	return left, nil
}

// StandsIn reports whether the folder holds every file of the publication with
// the bytes that were registered.
func (p Publication) StandsIn(folder string) (bool, error) {
	for _, f := range p.Files {
		sum, err := sha256File(filepath.Join(folder, filepath.FromSlash(f.Name)))
		if errors.Is(err, os.ErrNotExist) {
			return false, nil
		}
		if err != nil {
			return false, fmt.Errorf("compare %s with the register: %w", f.Name, err)
		}
		if sum != f.SHA256 {
			return false, nil
		}
	}
	return true, nil
}

func sha256File(path string) (sum string, err error) {
	file, err := os.Open(path) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	hash := sha256.New()
	if _, err := io.Copy(hash, file); err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}
