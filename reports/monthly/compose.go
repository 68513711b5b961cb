// Package monthly puts the clinic director's monthly report together: the page,
// the workbook, the plots with their numbers, every figure as CSV, and the
// manifest. It takes released figures and gives bytes that depend on nothing
// else.
package monthly

import (
	"bytes"
	"fmt"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/pages"
	"evenlimb/reports/workbooks"
)

// Compose writes the report. The keys are the files' paths in the report's
// folder, with slashes: monthly.html, monthly.xlsx, plots/NAME.svg, .png and
// .csv, figures.csv, and manifest.json with the SHA-256 of all others.
//
// It returns an error when r did not come through the gate, or when a writer
// refuses what it is given, which is a fault of the program.
func Compose(r *disclosure.Released) (map[string][]byte, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	pictures, err := drawAll(r, files)
	if err != nil {
		return nil, err
	}
	page, err := pages.Monthly(r, pictures)
	if err != nil {
		return nil, err
	}
	files["monthly.html"] = page

	var book bytes.Buffer
	if err := workbooks.Write(&book, workbook(r)); err != nil {
		return nil, err
	}
	files["monthly.xlsx"] = book.Bytes()

	if files[FiguresFile], err = figuresCSV(r); err != nil {
		return nil, err
	}
	if files["manifest.json"], err = manifest(r, files); err != nil {
		return nil, fmt.Errorf("write the manifest: %w", err)
	}
	return files, nil
}
