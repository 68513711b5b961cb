package figures

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
)

// pictures draws every kind of picture for a range of practices, the awkward
// ones too.
func pictures(t *testing.T) map[string]Plot {
	t.Helper()
	plots := map[string]Plot{}
	put := func(name string, p Plot, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		plots[name] = p
	}
	cases := map[string]func(*sample){
		"plain":        func(*sample) {},
		"nobody back":  func(s *sample) { s.ceiling, s.competing = 0, 0 },
		"all back":     func(s *sample) { s.ceiling, s.competing, s.speed, s.half = 1, 0, 0.5, 0 },
		"crossing":     func(s *sample) { s.ceiling, s.competing = 0.41, 0.4 },
		"all at floor": func(s *sample) { s.ceiling, s.competing, s.half = 0.01, 0.012, 0.004 },
		"short":        func(s *sample) { s.weeks = 7 },
		"long":         func(s *sample) { s.weeks = 52 },
		"two weeks":    func(s *sample) { s.weeks = 1 },
		"long words":   func(s *sample) { s.label = strings.Repeat("Reconstruction after a rare injury ", 4) },
		"thousands":    func(s *sample) { s.people = 123456 },
	}
	for name, change := range cases {
		s := calf()
		change(&s)
		r := gate(t, s)
		p, err := ReturnCurve(r, s.code)
		put("curve "+name, p, err)
		if s.label == calf().label && s.people == calf().people {
			continue // the curve alone is another
		}
		p, err = ReturnFlow(r, s.code, "")
		put("flow "+name, p, err)
		p, err = ReturnOverview(r)
		put("overview "+name, p, err)
	}
	p, err := ReturnOverview(gate(t, nine()...))
	put("overview nine", p, err)
	p, err = ReturnFlow(gate(t, calf()), calf().code, "")
	put("flow plain", p, err)
	return plots
}

func TestPicturesPassTheirChecks(t *testing.T) {
	for name, p := range pictures(t) {
		faults, err := Check(p.SVG)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, f := range faults {
			t.Errorf("%s: %s", name, f)
		}
		for _, words := range []string{Caution, "Figure return.", "batch 9", "1 July 2024", "made-up practice"} {
			if !strings.Contains(drawnText(t, p.SVG), words) {
				t.Errorf("%s does not say %q", name, words)
			}
		}
		if got := contentsOf(t, p.SVG).Desc; got != p.Alt {
			t.Errorf("%s is described as %q, not %q", name, got, p.Alt)
		}
		if p.Alt == "" || p.Title == "" || !strings.Contains(string(p.SVG), `role="img"`) {
			t.Errorf("%s has nothing to read out", name)
		}
	}
}

// contents is what an SVG holds, as its elements come.
type contents struct {
	Desc  string   `xml:"desc"`
	Texts []string `xml:"g>text"`
	Paths []struct {
		D     string `xml:"d,attr"`
		Style string `xml:"style,attr"`
	} `xml:"g>path"`
}

func contentsOf(t *testing.T, svg []byte) contents {
	t.Helper()
	var c contents
	if err := xml.Unmarshal(svg, &c); err != nil {
		t.Fatal(err)
	}
	return c
}

// drawnText is all the text to be seen in an SVG, lines joined by spaces.
func drawnText(t *testing.T, svg []byte) string {
	t.Helper()
	return strings.Join(contentsOf(t, svg).Texts, " ")
}

// corners are the places that the paths in an ink go through, a path each.
func corners(t *testing.T, svg []byte, use string, ink color.RGBA) [][][2]float64 {
	t.Helper()
	var out [][][2]float64
	for _, p := range contentsOf(t, svg).Paths {
		if declaration(p.Style, use) != fmt.Sprintf("#%02X%02X%02X", ink.R, ink.G, ink.B) {
			continue
		}
		var path [][2]float64
		for _, step := range strings.FieldsFunc(p.D, func(r rune) bool { return strings.ContainsRune("MLZ", r) }) {
			var at [2]float64
			if _, err := fmt.Sscanf(step, "%g,%g", &at[0], &at[1]); err != nil {
				t.Fatalf("path %q: %v", p.D, err)
			}
			path = append(path, at)
		}
		out = append(out, path)
	}
	return out
}

// Every corner of the curve stands where its week and its share say, on the
// scale that the ends of the axes give.
func TestTheCurveIsDrawnToScale(t *testing.T) {
	s := calf()
	r := gate(t, s)
	p, err := ReturnCurve(r, s.code)
	if err != nil {
		t.Fatal(err)
	}
	var lead [][2]float64
	for _, path := range corners(t, p.SVG, "stroke", blue5) {
		if len(path) > len(lead) {
			lead = path
		}
	}
	if len(lead) != 2*s.weeks+1 {
		t.Fatalf("%d corners for %d weeks", len(lead), s.weeks)
	}
	var frame [][2]float64 // the ends of the grid's lines
	for _, path := range corners(t, p.SVG, "stroke", rule) {
		frame = append(frame, path...)
	}
	low, high := frame[0], frame[0]
	for _, at := range frame {
		for k := range at {
			low[k], high[k] = min(low[k], at[k]), max(high[k], at[k])
		}
	}
	for i, at := range lead {
		before, _ := r.Lookup(fmt.Sprintf("return.%s.24m/cumulative@w%d", s.code, i/2))
		week := float64((i + 1) / 2)
		x := low[0] + week/float64(s.weeks)*(high[0]-low[0])
		y := low[1] + *before.Value*(high[1]-low[1])
		if math.Abs(at[0]-x) > 0.02 || math.Abs(at[1]-y) > 0.02 {
			t.Errorf("corner %d stands at %v, wanted %g, %g", i, at, x, y)
		}
	}
}

func TestIntervalsAreDrawnToScale(t *testing.T) {
	samples := nine()
	r := gate(t, samples...)
	p, err := ReturnOverview(r)
	if err != nil {
		t.Fatal(err)
	}
	var grid []float64
	for _, path := range corners(t, p.SVG, "stroke", rule) {
		grid = append(grid, path[0][0])
	}
	zero, all := slices.Min(grid), slices.Max(grid)
	intervals := corners(t, p.SVG, "stroke", blue3)
	if len(intervals) != len(samples)-1 {
		t.Fatalf("%d intervals, wanted one for each type but the small one", len(intervals))
	}
	for _, s := range samples {
		shown, _ := r.Lookup("return." + s.code + ".24m/share@w12")
		if shown.Value == nil {
			continue
		}
		ends := intervals[0]
		intervals = intervals[1:]
		for k, limit := range []float64{*shown.Low, *shown.High} {
			if want := zero + limit*(all-zero); math.Abs(ends[k][0]-want) > 0.02 {
				t.Errorf("%s: a limit of %g stands at %g, wanted %g", s.code, limit, ends[k][0], want)
			}
		}
	}
}

func TestBarsAreAsLongAsTheirCounts(t *testing.T) {
	s := calf()
	r := gate(t, s)
	p, err := ReturnFlow(r, s.code, "")
	if err != nil {
		t.Fatal(err)
	}
	bar := func(statistic string, ink color.RGBA, nth int) float64 {
		path := corners(t, p.SVG, "fill", ink)[nth]
		shown, _ := r.Lookup("return." + s.code + ".24m/" + statistic)
		return (path[1][0] - path[0][0]) / *shown.Value
	}
	unit := bar("began", blue2, 0)
	for _, c := range []struct {
		statistic string
		ink       color.RGBA
		nth       int
	}{{"at_target", blue3, 0}, {"at_risk", blue3, 1}, {"returned", blue4, 0}, {"in_care", blue4, 3}} {
		if got := bar(c.statistic, c.ink, c.nth); math.Abs(got/unit-1) > 0.002 {
			t.Errorf("%s is drawn at %g a count, the whole at %g", c.statistic, got, unit)
		}
	}
}

func TestSameBytesEveryTime(t *testing.T) {
	r := gate(t, nine()...)
	first, err := ReturnOverview(r)
	if err != nil {
		t.Fatal(err)
	}
	results := make(chan Plot, 4)
	for range cap(results) {
		go func() {
			p, err := ReturnOverview(r)
			if err != nil {
				t.Error(err)
			}
			results <- p
		}()
	}
	for range cap(results) {
		p := <-results
		if !bytes.Equal(p.SVG, first.SVG) || !bytes.Equal(p.PNG, first.PNG) || !bytes.Equal(p.CSV, first.CSV) {
			t.Error("the same figures gave other bytes")
		}
	}
}

func TestPNGHasTwoPixelsForEachOfTheScreen(t *testing.T) {
	p, err := ReturnCurve(gate(t, calf()), "calf_strain")
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.DecodeConfig(bytes.NewReader(p.PNG))
	if err != nil {
		t.Fatal(err)
	}
	var svg struct {
		Width float64 `xml:"width,attr"`
	}
	if err := xml.Unmarshal(p.SVG, &svg); err != nil {
		t.Fatal(err)
	}
	if got, want := float64(img.Width), 2*svg.Width; math.Abs(got-want) > 2 {
		t.Errorf("PNG is %g pixels wide, SVG %g", got, svg.Width)
	}
}

// Every number in the table is the released one to twelve digits, and none
// that the gate hid is there.
func TestTableHoldsTheReleasedNumbers(t *testing.T) {
	s := calf()
	r := gate(t, s)
	p, err := ReturnCurve(r, s.code)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(p.CSV)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 + 27 + 27 + 4; len(rows) != want { // headings, two curves, numbers at risk at four weeks
		t.Errorf("%d rows, wanted %d", len(rows), want)
	}
	column := map[string]int{}
	for i, heading := range rows[0] {
		column[heading] = i
	}
	for _, row := range rows[1:] {
		shown, ok := r.Lookup(row[column["figure_id"]])
		if !ok {
			t.Fatalf("%s was not released", row[0])
		}
		for heading, want := range map[string]*float64{"value": shown.Value, "low": shown.Low, "high": shown.High, "x": shown.X} {
			cell := row[column[heading]]
			if want == nil {
				if cell != "" {
					t.Errorf("%s: %s is %q, not released", row[0], heading, cell)
				}
				continue
			}
			if got, err := strconv.ParseFloat(cell, 64); err != nil || math.Abs(got-*want) > 5e-12*math.Abs(*want) {
				t.Errorf("%s: %s is %q, released %g", row[0], heading, cell, *want)
			}
		}
	}
}

func TestSmallCountsAreWordsWithoutBars(t *testing.T) {
	s := calf() // 10 lost, 10 ended otherwise, 15 at target
	s.people, s.competing = 80, 0.05
	p, err := ReturnFlow(gate(t, s), s.code, "")
	if err != nil {
		t.Fatal(err)
	}
	if text := drawnText(t, p.SVG); !strings.Contains(text, "fewer than 10") {
		t.Errorf("no small count is named as such in %q", text)
	}
	if !strings.Contains(string(p.CSV), "fewer than 10") {
		t.Error("the table does not say that a count is small")
	}
}

func TestNothingShownIsAnErrorWithASentence(t *testing.T) {
	small := calf()
	small.people = 9
	hidden := gate(t, small)
	for name, draw := range map[string]func() (Plot, error){
		"curve":      func() (Plot, error) { return ReturnCurve(hidden, small.code) },
		"no figures": func() (Plot, error) { return ReturnCurve(hidden, "no_such_type") },
		"overview":   func() (Plot, error) { return ReturnOverview(hidden) },
		"no types":   func() (Plot, error) { return ReturnOverview(gate(t)) },
		"flow":       func() (Plot, error) { return ReturnFlow(hidden, small.code, "") },
		"no site":    func() (Plot, error) { return ReturnFlow(hidden, small.code, "nowhere") },
	} {
		p, err := draw()
		var nothing *NothingShownError
		if !errors.As(err, &nothing) {
			t.Errorf("%s: got %v, wanted a NothingShownError", name, err)
			continue
		}
		if len(nothing.Reason) < 10 || p.SVG != nil {
			t.Errorf("%s: reason %q", name, nothing.Reason)
		}
	}
}

func TestFiguresThatDidNotPassTheGateAreRefused(t *testing.T) {
	for _, r := range []*disclosure.Released{nil, {}} {
		if _, err := ReturnCurve(r, "calf_strain"); err == nil {
			t.Error("curve drawn")
		}
		if _, err := ReturnOverview(r); err == nil {
			t.Error("overview drawn")
		}
		if _, err := ReturnFlow(r, "calf_strain", ""); err == nil {
			t.Error("flow drawn")
		}
	}
}
