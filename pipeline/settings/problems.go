package settings

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing that is wrong in a settings file.
type Problem struct {
	Line   int // from 1
	Column int // in characters, from 1
	Text   string
}

// Problems is all that is wrong in one settings file, in the order of the file.
type Problems struct { //nolint:errname // it is a list of problems, each with its place
	File string
	List []Problem
}

// Error gives each problem a line of its own, with its place in the file.
func (p *Problems) Error() string {
	lines := make([]string, len(p.List))
	for i, one := range p.List {
		lines[i] = fmt.Sprintf("%s:%d:%d: %s", p.File, one.Line, one.Column, one.Text)
	}
	return strings.Join(lines, "\n")
}

func (p *Problems) add(at position, format string, args ...any) {
	p.List = append(p.List, Problem{Line: at.line, Column: at.column, Text: fmt.Sprintf(format, args...)})
}

func (p *Problems) sort() {
	slices.SortStableFunc(p.List, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
}

// Near returns the word of known that is most like the given one, or "" when
// none is like it: more than two letters and more than a third of all would
// have to change. Of two equally near the first wins.
func Near(word string, known []string) string {
	best, nearest := max(2, len(word)/3), ""
	for _, k := range known {
		if gap := len(word) - len(k); gap > best || -gap > best {
			continue
		}
		if d := Distance(strings.ToLower(word), strings.ToLower(k)); d <= best && (nearest == "" || d < best) {
			best, nearest = d, k
		}
	}
	return nearest
}

// Distance counts the letters to insert, delete, replace or swap with their
// neighbour to make one word the other.
func Distance(a, b string) int {
	from, to := []rune(a), []rune(b)
	before, row := make([]int, len(to)+1), make([]int, len(to)+1)
	var earlier []int
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(from); i++ {
		earlier, before, row = before, row, make([]int, len(to)+1)
		row[0] = i
		for j := 1; j <= len(to); j++ {
			change := 1
			if from[i-1] == to[j-1] {
				change = 0
			}
			row[j] = min(before[j]+1, row[j-1]+1, before[j-1]+change)
			if i > 1 && j > 1 && from[i-1] == to[j-2] && from[i-2] == to[j-1] {
				row[j] = min(row[j], earlier[j-2]+1)
			}
		}
	}
	return row[len(to)]
}

// hint is the end of a message about a word that is not known.
func hint(word string, known []string) string {
	if near := Near(word, known); near != "" {
		return fmt.Sprintf("; did you mean %q?", near)
	}
	return "; known are " + strings.Join(known, ", ")
}
