package monthly

import (
	"errors"
	"runtime"
	"sync"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/figures"
	"evenlimb/reports/pages"
	"evenlimb/reports/words"
)

// drawing is one plot to draw and where the page keeps it.
type drawing struct {
	draw func() (figures.Plot, error)
	put  func(pages.Picture)

	plot figures.Plot
	err  error
}

// drawAll draws the report's plots, puts their files into files, and returns
// them for the page. The plots are drawn side by side; nothing of one depends
// on another.
func drawAll(r *disclosure.Released, files map[string][]byte) (pages.Pictures, error) {
	pictures := pages.Pictures{Curves: map[string]pages.Picture{}, Scores: map[string]pages.Picture{}, Stages: map[string]pages.Picture{}, Symmetry: map[string]pages.Picture{}, Dose: map[string]pages.Picture{}, DoseCurves: map[string]pages.Picture{}}
	all := planned(r, &pictures)
	var drawn sync.WaitGroup
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	for _, d := range all {
		drawn.Go(func() {
			free <- struct{}{}
			d.plot, d.err = d.draw()
			<-free
		})
	}
	drawn.Wait()
	for _, d := range all {
		var nothing *figures.NothingShownError
		switch {
		case errors.As(d.err, &nothing):
			d.put(pages.Picture{Absent: nothing.Reason})
			continue
		case d.err != nil:
			return pictures, d.err
		}
		files["plots/"+d.plot.Name+".svg"] = d.plot.SVG
		files["plots/"+d.plot.Name+".png"] = d.plot.PNG
		files["plots/"+d.plot.Name+".csv"] = d.plot.CSV
		d.put(pages.Picture{Name: d.plot.Name, SVG: d.plot.SVG})
	}
	return pictures, nil
}

// planned lists the plots of a report in the order of its page.
func planned(r *disclosure.Released, pictures *pages.Pictures) []*drawing {
	var all []*drawing
	add := func(draw func() (figures.Plot, error), put func(pages.Picture)) {
		all = append(all, &drawing{draw: draw, put: put})
	}
	add(func() (figures.Plot, error) { return figures.ReturnOverview(r) }, func(p pages.Picture) { pictures.Overview = p })
	add(func() (figures.Plot, error) { return figures.ReturnFlow(r, "", "") }, func(p pages.Picture) { pictures.Flow = p })
	add(func() (figures.Plot, error) { return figures.SiteReturns(r) }, func(p pages.Picture) { pictures.Sites = p })
	for _, g := range words.Groups(r, "return") {
		if g.IsType() {
			add(func() (figures.Plot, error) { return figures.ReturnCurve(r, g.InjuryType) }, func(p pages.Picture) { pictures.Curves[g.InjuryType] = p })
			add(func() (figures.Plot, error) { return figures.ReturnStages(r, g.InjuryType) }, func(p pages.Picture) { pictures.Stages[g.InjuryType] = p })
		}
	}
	for _, injury := range r.Context().InjuryTypes {
		for _, g := range words.LeadingMeasures(r, injury.Code) {
			add(func() (figures.Plot, error) { return figures.SymmetryCurve(r, g) }, func(p pages.Picture) { pictures.Symmetry[g.Picture] = p })
		}
	}
	for _, g := range words.Groups(r, "dose") {
		if g.IsType() && !g.IsOther() {
			add(func() (figures.Plot, error) { return figures.DoseThirds(r, g) }, func(p pages.Picture) { pictures.Dose[g.Picture] = p })
			add(func() (figures.Plot, error) { return figures.DoseCurve(r, g) }, func(p pages.Picture) { pictures.DoseCurves[g.Picture] = p })
		}
	}
	add(func() (figures.Plot, error) { return figures.DosePooled(r) }, func(p pages.Picture) { pictures.DosePooled = p })
	add(func() (figures.Plot, error) { return figures.PainByType(r) }, func(p pages.Picture) { pictures.Pain = p })
	for _, injury := range words.ScoreOrder(r) {
		if g, ok := words.LeadingScore(r, injury.Code); ok {
			add(func() (figures.Plot, error) { return figures.ScoreCurve(r, g) }, func(p pages.Picture) { pictures.Scores[g.Picture] = p })
		}
	}
	add(func() (figures.Plot, error) { return figures.FirstStep(r) }, func(p pages.Picture) { pictures.Progression = p })
	add(func() (figures.Plot, error) { return figures.ToleranceByBand(r) }, func(p pages.Picture) { pictures.Tolerance = p })
	if _, ok := words.SafetyGroup(r); !ok {
		return all
	}
	for _, draw := range []func(*disclosure.Released) (figures.Plot, error){figures.SafetyByType, figures.SafetyByKind, figures.SafetyBySite} {
		add(func() (figures.Plot, error) { return draw(r) }, func(p pages.Picture) { pictures.Safety = append(pictures.Safety, p) })
	}
	return all
}
