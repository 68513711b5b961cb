package pages

import (
	"bytes"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func monthly(t *testing.T, r *disclosure.Released) string {
	t.Helper()
	svg := []byte(`<svg role="img" aria-labelledby="a"><title id="a">A picture</title></svg>`)
	page, err := Monthly(r, Pictures{
		Overview: Picture{Name: "overview", SVG: svg},
		Flow:     Picture{Absent: "Nobody began care."},
		Curves:   map[string]Picture{"calf_strain": {Name: "calf", SVG: svg}},
		Symmetry: map[string]Picture{"symmetry.calf_strain.strength_plantarflexion.24m": {Name: "sides", SVG: svg}},
		Safety:   []Picture{{Name: "kinds", SVG: svg}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

func TestMonthlySaysWhatItMust(t *testing.T) {
	page := html.UnescapeString(monthly(t, sample.Month(t)))
	for _, want := range append([]string{
		"<h1>June 2026</h1>", "Sample Lane Physiotherapy", "batch 9, received 21 July 2026", words.MadeUp,
		"Of 20 people who begin care for Achilles tendinopathy, about 7 are back at their target by week 12 (the data fit 6 to 9).",
		"return.achilles_tendinopathy.24m/share@w12",
		"Distal biceps tendon repair: not shown (too few people).",
		"fewer than 10", "12 May 2026", "60,988", "109,254",
		"No picture: Nobody began care.", "plots/overview.svg",
		"Calf strain, plantarflexion force, seated: at week 12 the involved side is typically at 88\u00a0% of the other (the data fit 86 to 90).",
		words.LandmarkSentence, "Who could be followed from the landmark", "+15\u00a0points", "dose and return are not compared. More than half had returned",
		"132 adverse events are on record in 24,310 attended sessions", "none seen", "up to 11.9", "plots/sides.svg", "plots/kinds.svg",
		"Change since baseline against the error of measuring, episodes", "Why the other side is shown too",
		"A return counts once it has held for 14 days.", "0.1.0+0f1e2d3c4b5a", "not reached",
	}, words.Cautions()...) {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, entry := range words.Dictionary() {
		if !strings.Contains(page, entry.Meaning) {
			t.Errorf("the dictionary on the page lacks %s", entry.Statistic)
		}
	}
}

// TestTheMonthBeforeStandsBeside looks at a report after another, and at a first.
func TestTheMonthBeforeStandsBeside(t *testing.T) {
	page := monthly(t, sample.WithBefore(t))
	for _, want := range []string{
		`<tr data-figure="return.calf_strain.24m/share@w12"><th scope="row">Week 12</th><td>80` + "\u00a0" + `%</td><td>74 to 86</td><td>0.75 as printed</td>`,
		`<td>6.43 as printed</td>`, `<td>` + words.NotStated + `</td>`,
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not hold %s", want)
		}
	}
	if strings.Contains(page, words.FirstReport) {
		t.Error("a report after another calls itself the first")
	}
	if first := monthly(t, sample.Month(t)); !strings.Contains(first, `<td>`+words.FirstReport+`</td>`) {
		t.Error("a first report does not say so beside its figures")
	}
}

func TestHiddenTypeHasNoTableOfDashes(t *testing.T) {
	page := monthly(t, sample.Month(t))
	_, section, found := strings.Cut(page, `id="type-distal_biceps_repair"`)
	section, _, _ = strings.Cut(section, "</section>")
	if !found || !strings.Contains(section, "What became of everybody") {
		t.Fatalf("section %q", section)
	}
	for _, caption := range []string{"Share back at their target", "Time to return", "What the share would be by other rules"} {
		if strings.Contains(section, caption) {
			t.Errorf("a type of which nothing is shown has the table %q", caption)
		}
		if !strings.Contains(page, caption) {
			t.Errorf("no type has the table %q", caption)
		}
	}
}

// TestAQuestionWithoutFiguresHasNoSection takes all figures of a question away.
func TestAQuestionWithoutFiguresHasNoSection(t *testing.T) {
	for _, question := range []string{"symmetry", "dose", "safety"} {
		set := sample.Set()
		set.Figures = slices.DeleteFunc(set.Figures, func(f result.Figure) bool { return f.Question == question })
		set.Totals = slices.DeleteFunc(set.Totals, func(total result.Total) bool { return strings.HasPrefix(total.Whole, question) })
		page := monthly(t, sample.Release(t, set, sample.Context()))
		if strings.Contains(page, `id="`+question+`"`) || strings.Contains(page, `href="#`+question+`"`) {
			t.Errorf("%s has no figures and a section", question)
		}
		if all := monthly(t, sample.Month(t)); !strings.Contains(all, `id="`+question+`"`) {
			t.Errorf("%s has figures and no section", question)
		}
	}
}

// TestNoColumnOfDashes looks at rates by kind, which have no sessions of their own.
func TestNoColumnOfDashes(t *testing.T) {
	_, rest, found := strings.Cut(monthly(t, sample.Month(t)), `<th scope="col">Kind of event</th>`)
	head, _, _ := strings.Cut(rest, "</tr>")
	if want := `<th scope="col">Events</th><th scope="col">Per 1,000</th><th scope="col">Exact limits</th><th scope="col">A month before</th><th scope="col">Mid-P limits</th>`; !found || !strings.HasPrefix(head, want) {
		t.Errorf("the table by kind has the heads %s", head)
	}
	full := table{Head: []string{"", "a", "b"}, Rows: []row{{Cells: []string{words.None, "1"}}, {Cells: []string{"2", words.None}}}}
	if got := full.withoutEmptyColumns(); len(got.Head) != 3 || len(got.Rows[0].Cells) != 2 {
		t.Errorf("a column with one number is left out: %+v", got)
	}
}

func TestEmptyMonthSaysSo(t *testing.T) {
	page := monthly(t, sample.Empty(t))
	for _, want := range []string{"no episode of care", "Nothing has been received from North Road, Mill Yard and The Quay.", "nothing received"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, `id="return"`) {
		t.Error("an empty month has a chapter on return to activity")
	}
}

func TestRealPracticeHasNoBanner(t *testing.T) {
	c := sample.Context()
	c.MadeUp = false
	if page := monthly(t, sample.Release(t, sample.Set(), c)); strings.Contains(page, words.MadeUp) {
		t.Error("the page calls a real practice made up")
	}
}

func TestInsideSaysSo(t *testing.T) {
	r, err := disclosure.Release(disclosure.Input{Figures: sample.Set(), Context: sample.Context(), Audience: disclosure.Inside, Floors: sample.Floors})
	if err != nil {
		t.Fatal(err)
	}
	page := monthly(t, r)
	if !strings.Contains(page, words.InsideOnly) || !strings.Contains(page, "fewer than 5") || strings.Contains(page, "fewer than 10") {
		t.Error("a page for the inside does not say so, or has the floors of another audience")
	}
	if strings.Contains(monthly(t, sample.Month(t)), words.InsideOnly) {
		t.Error("a page that may circulate says that it may not")
	}
}

func TestTextIsEscaped(t *testing.T) {
	c := sample.Context()
	c.Practice = `Smith & Co <script>alert(1)</script>`
	if page := monthly(t, sample.Release(t, sample.Set(), c)); strings.Contains(page, "<script") {
		t.Error("a practice's name reaches the page as markup")
	}
}

func TestWithoutTheGateNoPage(t *testing.T) {
	if _, err := Monthly(&disclosure.Released{}, Pictures{}); err == nil {
		t.Error("figures that did not come through the gate make a page")
	}
}

// TestPageIsSoundHTML walks the parsed page: nothing fetched, ids unique, links
// lead somewhere, table heads scoped, headings without a step left out.
func TestPageIsSoundHTML(t *testing.T) {
	for name, page := range map[string]string{"full": monthly(t, sample.Month(t)), "empty": monthly(t, sample.Empty(t))} {
		root, err := html.Parse(strings.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		ids, links, level := map[string]bool{}, []string{}, 0
		for n := range root.Descendants() {
			if n.Type != html.ElementNode {
				continue
			}
			attr := map[string]string{}
			for _, a := range n.Attr {
				attr[a.Key] = a.Val
			}
			if id := attr["id"]; id != "" && n.Data != "title" {
				if ids[id] {
					t.Errorf("%s: the id %q stands twice", name, id)
				}
				ids[id] = true
			}
			switch n.Data {
			case "script", "link", "img", "iframe", "object":
				t.Errorf("%s: <%s> in a page that must stand alone", name, n.Data)
			case "html":
				if attr["lang"] != "en" {
					t.Errorf("%s: language %q", name, attr["lang"])
				}
			case "th":
				if attr["scope"] == "" {
					t.Errorf("%s: a table head without scope", name)
				}
			case "a":
				links = append(links, attr["href"])
			case "h1", "h2", "h3", "h4":
				now := int(n.Data[1] - '0')
				if now > level+1 {
					t.Errorf("%s: h%d follows h%d", name, now, level)
				}
				level = now
			case "svg":
				if attr["role"] != "img" || attr["aria-labelledby"] == "" {
					t.Errorf("%s: a picture without a text for who cannot see it", name)
				}
			}
		}
		for _, link := range links {
			if target, ok := strings.CutPrefix(link, "#"); !ok || !ids[target] {
				t.Errorf("%s: the link %q leads nowhere in the page", name, link)
			}
		}
		if len(links) < 5 || level == 0 {
			t.Errorf("%s: %d links, heading level %d: not the page that was meant", name, len(links), level)
		}
	}
}

// TestContrast computes the contrast of the sheet's inks on white by the
// formula of WCAG 2.
func TestContrast(t *testing.T) {
	css, err := files.ReadFile("style.css")
	if err != nil {
		t.Fatal(err)
	}
	inks := regexp.MustCompile(`--(ink|quiet|blue): #([0-9a-f]{6});`).FindAllSubmatch(css, -1)
	if len(inks) != 3 {
		t.Fatalf("%d inks found", len(inks))
	}
	for _, m := range inks {
		rgb, err := strconv.ParseUint(string(m[2]), 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		luminance := 0.0
		for i, weight := range []float64{0.0722, 0.7152, 0.2126} {
			c := float64(rgb>>(8*i)&0xff) / 255
			if c <= 0.03928 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			luminance += weight * c
		}
		if contrast := 1.05 / (luminance + 0.05); contrast < 4.5 {
			t.Errorf("%s on white: contrast %.2f", m[1], contrast)
		}
	}
	if bytes.Contains(css, []byte("url(")) {
		t.Error("the style sheet fetches something")
	}
}

func TestIndexIsNewestFirst(t *testing.T) {
	month := func(m time.Month) time.Time { return time.Date(2026, m, 1, 0, 0, 0, 0, time.UTC) }
	page, err := Index("Sample Lane Physiotherapy", true, []Issue{
		{Folder: "2026-05", Month: month(5), Revision: 1, Batch: 6, ReceivedOn: time.Date(2026, 6, 21, 0, 0, 0, 0, time.UTC)},
		{Folder: "2026-06", Month: month(6), Revision: 1, Batch: 9},
		{Folder: "2026-05/r2", Month: month(5), Revision: 2, Batch: 9},
	})
	if err != nil {
		t.Fatal(err)
	}
	var at []int
	for _, want := range []string{`href="2026-06/monthly.html">June 2026<`, `href="2026-05/r2/monthly.html">May 2026, issue 2<`, `href="2026-05/monthly.html">May 2026</a> (a newer issue exists)`, "batch 6, received 21 June 2026"} {
		i := strings.Index(string(page), want)
		if i < 0 || (len(at) > 0 && i < at[len(at)-1]) {
			t.Errorf("%q stands at %d, after %v", want, i, at)
		}
		at = append(at, i)
	}
	empty, err := Index("Sample Lane Physiotherapy", false, nil)
	if err != nil || !strings.Contains(string(empty), "No report has been published yet.") {
		t.Errorf("no reports: %v", err)
	}
}
