package figures

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
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
		if p.Alt == "" || p.Title == "" || !strings.Contains(string(p.SVG), `role="img"`) {
			t.Errorf("%s has nothing to read out", name)
		}
	}
}

// drawnText is all the text of an SVG, lines joined by spaces.
func drawnText(t *testing.T, svg []byte) string {
	t.Helper()
	var words strings.Builder
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return words.String()
		}
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := token.(xml.CharData); ok && strings.TrimSpace(string(c)) != "" {
			words.WriteString(strings.TrimSpace(string(c)) + " ")
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
