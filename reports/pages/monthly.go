package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

//go:embed style.css *.tmpl
var files embed.FS

// Picture is a plot as it stands in a page.
type Picture struct {
	Name   string // of its files: NAME.svg, NAME.png, NAME.csv
	SVG    []byte // trusted: drawn by reports/figures
	Absent string // why there is none, a sentence; empty when there is one
}

// Pictures are the plots of a monthly report.
type Pictures struct {
	Overview   Picture            // all injury types side by side
	Flow       Picture            // what became of everybody in the practice
	Sites      Picture            // the sites' returns over those expected
	Curves     map[string]Picture // by injury type
	Stages     map[string]Picture // by injury type
	Symmetry   map[string]Picture // by the id of the picture
	Dose       map[string]Picture // likewise
	DoseCurves map[string]Picture // likewise
	DosePooled Picture
	Safety     []Picture

	Pain        Picture            // of the injury types beside each other
	Scores      map[string]Picture // of each injury type, by the id of the picture
	Progression Picture            // when half had taken a first step up, by injury type
	Tolerance   Picture            // bouts ended early, by band of pressure
}

// Monthly writes the page of the clinic director's monthly report.
func Monthly(r *disclosure.Released, pictures Pictures) ([]byte, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	c := r.Context()
	view := monthlyView{
		frame: frame{
			Title:    fmt.Sprintf("%s: report for %s", c.Practice, words.Month(c.Month)),
			Practice: c.Practice,
			MadeUp:   c.MadeUp,
			Inside:   r.Audience() == disclosure.Inside,
			Caution:  words.CautionInBrief,
		},
		Month:    words.Month(c.Month),
		Period:   words.Date(c.PeriodFrom) + " to " + words.Date(c.PeriodTo),
		Batch:    c.AsOfBatch,
		Received: words.Date(c.ReceivedOn),
		Program:  c.Program,
		Digest:   c.SettingsHash,
		Audience: words.Audience(r.Audience()),
		First:    words.First(r),
		Overview: pictures.Overview.view(),
		FlowPlot: pictures.Flow.view(),
		Endings:  endings(r),
		BySite:   bySite(r),
		Again:    recurrences(r),
		AgainSay: words.RecurrenceSentences(r),
		Within:   within(r),
		SitePlot: pictures.Sites.view(),
		Usable:   words.UsableSentences(r),
		Data:     append(filled(usableBySite(r), usableByType(r), reach(r), received(r), forms(r)), hiddenFigures(r)),
		Methods:  words.Methods(r),
		Settings: words.Settings(r),
		Cautions: words.Cautions(),
		Entries:  words.Dictionary(),
	}
	for _, g := range words.Groups(r, "return") {
		if !g.IsType() {
			continue
		}
		view.Types = append(view.Types, typeSection{
			Anchor:  "type-" + g.InjuryType,
			Label:   g.Label,
			Lead:    words.ReturnSentence(r, g),
			Plot:    pictures.Curves[g.InjuryType].view(),
			Details: words.ReturnDetails(r, g),
			Left:    filled(shares(r, g), times(r, g)),
			Right:   flow(r, g),
			Rules:   sensitivities(r, g),
			Stages:  pictures.Stages[g.InjuryType].view(),
			Steps:   filled(sinceInjury(r, g), steps(r, g)),
		})
	}
	for _, c := range []*chapter{scoresChapter(r, pictures), symmetryChapter(r, pictures), doseChapter(r, pictures), progressionChapter(r, pictures), toleranceChapter(r, pictures), safetyChapter(r, pictures)} {
		if c != nil {
			view.Chapters = append(view.Chapters, *c)
		}
	}
	return render("monthly.html.tmpl", view)
}

// frame is what every page has.
type frame struct {
	Title    string
	Practice string
	MadeUp   bool
	Inside   bool // smaller groups are shown
	Caution  string
}

// DoseAside stands over the contrasts of dose.
func (frame) DoseAside() string { return words.LandmarkSentence + " " + words.ManyIntervals }

// OneMoreAside stands over what could be used.
func (frame) OneMoreAside() string { return words.OneMoreMeaning }

// ContrastAside stands over differences between groups.
func (frame) ContrastAside() string { return words.ContrastAside }

// MadeUpText is the banner of a made-up practice.
func (frame) MadeUpText() string { return words.MadeUp }

// InsideText is the banner of a page that shows smaller groups.
func (frame) InsideText() string { return words.InsideOnly }

// Style is the one style sheet, inlined.
func (frame) Style() (template.CSS, error) {
	css, err := files.ReadFile("style.css")
	return template.CSS(css), err //nolint:gosec // our own file, compiled in
}

type monthlyView struct {
	frame
	Month, Period, Received string
	Batch                   int
	Program, Digest         string
	Audience                string
	First                   words.FirstPage
	Overview, FlowPlot      pictureView
	Types                   []typeSection
	Endings, BySite         table
	Again                   table
	AgainSay                []words.Sentence
	Within                  []table
	SitePlot                pictureView
	Chapters                []chapter
	Usable                  []words.Sentence
	Data                    []table
	Methods                 []words.Method
	Settings                []string
	Cautions                []string
	Entries                 []words.Entry
}

type typeSection struct {
	Anchor  string
	Label   string
	Lead    words.Sentence
	Plot    pictureView
	Details []words.Sentence
	Left    []table // beside each other where the page is wide enough
	Right   table
	Rules   table
	Stages  pictureView
	Steps   []table
}

type pictureView struct {
	SVG    template.HTML
	Name   string
	Absent string
}

func (p Picture) view() pictureView {
	return pictureView{SVG: template.HTML(p.SVG), Name: p.Name, Absent: p.Absent} //nolint:gosec // drawn by reports/figures, which escapes its text
}

func render(name string, view any) ([]byte, error) {
	t, err := template.ParseFS(files, "*.tmpl")
	if err != nil {
		return nil, fmt.Errorf("read the page templates: %w", err)
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, name, view); err != nil {
		return nil, fmt.Errorf("write the page: %w", err)
	}
	return out.Bytes(), nil
}
