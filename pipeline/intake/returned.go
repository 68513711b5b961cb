package intake

import (
	"errors"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
)

// reasonHeadings stand before the sender's own headings in a quarantine file.
var reasonHeadings = []string{"_line", "_reasons", "_words"}

// comesBack says whether a file is one from quarantine, corrected and dropped
// again as it is.
func comesBack(sheets []sheet) bool {
	n := len(reasonHeadings)
	return len(sheets) == 1 && len(sheets[0].headings) > n && slices.Equal(sheets[0].headings[:n], reasonHeadings)
}

// withoutReasons is the form with the sender's own headings, under the name of
// the sheet that the rows stood on.
func (f form) withoutReasons(in source.Input) (form, error) {
	f.returned = true
	s := f.sheets[0]
	s.headings = asSent(s.headings[len(reasonHeadings):])
	var err error
	s.name, err = sheetBefore(in, f.Form)
	f.sheets = []sheet{s}
	return f, err
}

// sheetBefore reads from the first row of a file from quarantine the name of the
// sheet on which it stood; empty where it stood on none.
func sheetBefore(in source.Input, by source.Form) (name string, err error) {
	file, err := source.Open(in, by)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if _, err := file.Sheets[0].Headings(); err != nil {
		return "", err
	}
	rec, ok, err := file.Sheets[0].Next()
	if err != nil || !ok || len(rec.Cells) == 0 {
		return "", err
	}
	place := asSent(rec.Cells[:1])[0]
	return place[:max(strings.LastIndex(place, "!"), 0)], nil
}

// everyName are the layouts without the names of files that they match, since a
// quarantine file has a name of its own.
func everyName(layouts []*settings.Layout) []*settings.Layout {
	var list []*settings.Layout
	for _, l := range layouts {
		every := *l
		every.File.Match = nil
		list = append(list, &every)
	}
	return list
}

// quarantineName is the beginning of the name of a quarantine file, in which the
// number of the file stands whose rows it holds.
var quarantineName = regexp.MustCompile(`^[0-9]{4,}-([0-9]{1,9})_`)

// asBefore keeps, of several layouts that fit a file from quarantine, the one by
// which its rows were read before, where its name still says which file that was.
func asBefore(fits []form, below string, r batchRules) []form {
	found := quarantineName.FindStringSubmatch(path.Base(below))
	if found == nil || r.readBy == nil {
		return fits
	}
	file, err := strconv.Atoi(found[1])
	if err != nil {
		return fits
	}
	before, _, _ := strings.Cut(r.readBy(file), " ")
	for _, f := range fits {
		if f.layout.Path == before {
			return []form{f}
		}
	}
	return fits
}

// formulaSigns begin what a spreadsheet takes for a formula.
const formulaSigns = "=+-@\t\r"

// harmless puts an apostrophe before cells that a spreadsheet would take for a
// formula, and one more before those that look as if it had been done already.
// Numbers stay as they are.
func harmless(cells []string) []string {
	out := make([]string, len(cells))
	for i, text := range cells {
		out[i] = text
		if _, _, isNumber := parseNumber(text); !isNumber && guarded(text) {
			out[i] = "'" + text
		}
	}
	return out
}

// asSent takes the apostrophes of harmless away.
func asSent(cells []string) []string {
	out := make([]string, len(cells))
	for i, text := range cells {
		out[i] = text
		if strings.HasPrefix(text, "'") && guarded(text) {
			out[i] = text[1:]
		}
	}
	return out
}

// guarded says whether a text is a formula behind any number of apostrophes.
func guarded(text string) bool {
	bare := strings.TrimLeft(text, "'")
	return bare != "" && strings.ContainsRune(formulaSigns, rune(bare[0]))
}
