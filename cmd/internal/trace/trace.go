// Package trace follows a figure to the lines of the files it was made from,
// and reads those lines back out of the archive.
package trace

import (
	"context"

	"evenlimb/pipeline/warehouse"
)

// Found is everything behind a figure.
type Found struct {
	Figure  string
	Sources []warehouse.SourceTable
	Files   []File
	Lines   []warehouse.SourceLine
}

// File is a file behind a figure and how many of its lines are.
type File struct {
	Path   string `json:"path"` // below inbox/
	Batch  int    `json:"batch"`
	SHA256 string `json:"sha256"`
	Lines  int    `json:"lines"`
}

// Follow finds the rows, files and lines behind a figure of the warehouse.
func Follow(ctx context.Context, wh *warehouse.Warehouse, figureID string) (Found, error) {
	sources, err := wh.Sources(ctx, figureID)
	if err != nil {
		return Found{}, err
	}
	lines, err := wh.SourceLines(ctx, figureID)
	if err != nil {
		return Found{}, err
	}
	found := Found{Figure: figureID, Sources: sources, Lines: lines}
	place := map[string]int{}
	for _, l := range lines {
		i, ok := place[l.Path+"\x00"+l.SHA256]
		if !ok {
			i = len(found.Files)
			place[l.Path+"\x00"+l.SHA256] = i
			found.Files = append(found.Files, File{Path: l.Path, Batch: l.Batch, SHA256: l.SHA256})
		}
		found.Files[i].Lines++
	}
	sortFiles(found.Files)
	return found, nil
}
