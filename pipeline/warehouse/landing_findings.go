package warehouse

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
)

// FileFindingsUpTo returns what was odd about the rows of all files of the
// batches up to one, by file.
func (l *Landing) FileFindingsUpTo(ctx context.Context, batch int) (map[int][]FileFinding, error) {
	type ofFile struct {
		file    int
		finding FileFinding
	}
	const query = "select file, code, row_count, words from file_findings where batch <= ? order by file, code, words"
	list, err := collect(ctx, l.db, func(rows *sql.Rows, f *ofFile) error {
		return rows.Scan(&f.file, &f.finding.Code, &f.finding.Count, &f.finding.Words)
	}, query, batch)
	if err != nil {
		return nil, fmt.Errorf("read the findings of the files: %w", err)
	}
	found := map[int][]FileFinding{}
	for _, f := range list {
		found[f.file] = append(found[f.file], f.finding)
	}
	return found, nil
}

// Fingerprint names a finding by what was found about what, so that it is
// recognised the next time.
func Fingerprint(check, subject string) string {
	sum := sha256.Sum256([]byte(check + "\x00" + subject))
	return hex.EncodeToString(sum[:])
}
