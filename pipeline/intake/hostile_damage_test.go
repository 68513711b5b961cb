package intake

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// fate is what must become of a row of a damaged file.
type fate int

const (
	loads fate = iota // exactly as it was written
	stays             // it must not load
	open              // it was damaged itself: it may load as it stands now, or not
)

// hostile is a damaged export, and what is known of it.
type hostile struct {
	name     string
	data     []byte
	rows     [][]string // as they must load
	fates    []fate     // of each row
	orNone   bool       // it may also be refused as a whole
	unjudged bool       // nothing in it tells what was damaged: a Parquet file has no checksums
}

const hostileRows = 14

// goodRows draws the rows of a file. No key stands in two files.
func goodRows(rng *rand.Rand, n int) [][]string {
	methods := []string{"", "tape", "tape, resting", "größer als zuvor", "two\nlines", `the "long" tape`, "médian, assis"}
	rows := make([][]string, hostileRows)
	for i := range rows {
		rows[i] = []string{
			fmt.Sprintf("m%04d-%02d", n, i), fmt.Sprintf("e%d", rng.IntN(500)), fmt.Sprintf("2025-%02d-%02d", 1+rng.IntN(12), 1+rng.IntN(28)),
			"body_mass", "none", fmt.Sprintf("%d.5", 60+rng.IntN(30)), methods[(i+n)%len(methods)],
		}
	}
	return rows
}

// makeHostile writes and damages an export.
func makeHostile(rng *rand.Rand, n int) (hostile, error) {
	rows := goodRows(rng, n)
	h := hostile{rows: rows, fates: make([]fate, len(rows))}
	format := renderers[n%len(renderers)]
	how := (n / len(renderers)) % 12
	switch how {
	case 0, 1: // two cells of a row change places
		row := rng.IntN(len(rows))
		rows[row][2], rows[row][4] = rows[row][4], rows[row][2]
		h.fates[row] = stays
	case 2: // a cell of one row stands in another
		a, b := rng.IntN(len(rows)), rng.IntN(len(rows))
		rows[a][5], rows[b][5] = rows[b][5], rows[a][5]
	case 3: // a cell is gone
		row := rng.IntN(len(rows))
		rows[row][[]int{1, 2, 3, 5}[rng.IntN(4)]] = ""
		h.fates[row] = stays
	}
	file, err := format.render(rows)
	if err != nil {
		return h, err
	}
	h.name, h.data = fmt.Sprintf("%04d_%d_%s", n, how, format.name), bytes.Clone(file.data)
	switch {
	case how < 4:
	case how < 7:
		h.flip(rng, file, format.name)
	case how < 9:
		h.cut(rng.IntN(len(h.data)), file)
	case how == 9 && file.rows != nil:
		h.insert(rng, file, [][]byte{{0}, {'"'}, []byte("\n"), {0xff}, []byte(",,"), bytes.Repeat([]byte("x"), 70_000)}[rng.IntN(6)])
	case how == 10:
		// Rubbish behind the rows: its lines are no rows.
		h.data = append(h.data, noise(rng, 200)...)
		h.orNone = true
		h.unjudged = format.name == "table.parquet"
		if file.rows != nil {
			h.openFrom(len(file.data), file)
		}
	case how == 11: // nothing of an export is left
		h.data = noise(rng, 1+rng.IntN(3000))
		if rng.IntN(3) == 0 {
			h.data = append(slices.Clone(file.data[:min(len(file.data), 6)]), h.data...)
		}
		h.all(stays)
	}
	return h, nil
}

func (h *hostile) all(f fate) {
	for i := range h.fates {
		h.fates[i] = f
	}
}

// flip turns over one bit.
func (h *hostile) flip(rng *rand.Rand, file sentFile, format string) {
	at := rng.IntN(len(h.data))
	h.data[at] ^= 1 << rng.IntN(8)
	if file.rows == nil {
		// A checksum notices, or the bit says nothing of the rows.
		h.orNone, h.unjudged = true, format == "table.parquet"
		return
	}
	h.touch(at, file)
	// A name that changes in one line of NDJSON is a heading that no table has.
	h.orNone = strings.HasSuffix(format, ".ndjson")
}

// touch opens the fate of the row that a byte belongs to, and of the next when
// the byte ends a line. Without its headings a file is none.
func (h *hostile) touch(at int, file sentFile) {
	for i, r := range file.rows {
		if at < r[0] || at >= r[1] {
			continue
		}
		if i == 0 {
			h.all(stays)
			return
		}
		h.fates[i-1] = open
		if at >= r[1]-4 && i < len(h.fates) {
			h.fates[i] = open
		}
	}
}

// cut ends the file early: the rows before are whole.
func (h *hostile) cut(at int, file sentFile) {
	h.data = h.data[:at]
	if file.rows == nil {
		h.all(stays)
		return
	}
	for i, r := range file.rows[1:] {
		switch {
		case at < file.rows[0][1]:
			h.fates[i] = stays
		case at <= r[0]:
			h.fates[i] = stays
		case at < r[1]:
			h.fates[i] = open
		}
	}
}

// insert puts bytes somewhere into the rows.
func (h *hostile) insert(rng *rand.Rand, file sentFile, what []byte) {
	row := 1 + rng.IntN(len(file.rows)-1)
	at := file.rows[row][0] + rng.IntN(file.rows[row][1]-file.rows[row][0])
	h.data = slices.Concat(h.data[:at], what, h.data[at:])
	h.touch(at, file)
	if strings.HasSuffix(h.name, ".txt") && len(what)%2 == 1 {
		h.openFrom(at, file) // every letter behind it is another one
	}
	h.orNone = strings.HasSuffix(h.name, ".ndjson")
}

// openFrom opens the fate of the rows that reach behind a place.
func (h *hostile) openFrom(at int, file sentFile) {
	for i, r := range file.rows[1:] {
		if r[1] > at-4 {
			h.fates[i] = open
		}
	}
}

func noise(rng *rand.Rand, size int) []byte {
	out := make([]byte, size)
	for i := range out {
		out[i] = byte(rng.IntN(256)) //nolint:gosec // below 256
	}
	return out
}
