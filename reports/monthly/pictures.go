package monthly

import (
	"errors"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/figures"
	"evenlimb/reports/pages"
	"evenlimb/reports/words"
)

// drawAll draws the report's plots, puts their files into files, and returns
// them for the page.
func drawAll(r *disclosure.Released, files map[string][]byte) (pages.Pictures, error) {
	var pictures pages.Pictures
	var err error
	keep := func(plot figures.Plot, drawing error) (pages.Picture, error) {
		var nothing *figures.NothingShownError
		switch {
		case errors.As(drawing, &nothing):
			return pages.Picture{Absent: nothing.Reason}, nil
		case drawing != nil:
			return pages.Picture{}, drawing
		}
		files["plots/"+plot.Name+".svg"] = plot.SVG
		files["plots/"+plot.Name+".png"] = plot.PNG
		files["plots/"+plot.Name+".csv"] = plot.CSV
		return pages.Picture{Name: plot.Name, SVG: plot.SVG}, nil
	}
	if pictures.Overview, err = keep(figures.ReturnOverview(r)); err != nil {
		return pictures, err
	}
	if pictures.Flow, err = keep(figures.ReturnFlow(r, "", "")); err != nil {
		return pictures, err
	}
	pictures.Curves = map[string]pages.Picture{}
	for _, g := range words.Groups(r, "return") {
		if !g.IsType() {
			continue
		}
		if pictures.Curves[g.InjuryType], err = keep(figures.ReturnCurve(r, g.InjuryType)); err != nil {
			return pictures, err
		}
	}
	pictures.Symmetry = map[string]pages.Picture{}
	for _, injury := range r.Context().InjuryTypes {
		for _, g := range words.LeadingMeasures(r, injury.Code) {
			if pictures.Symmetry[g.Picture], err = keep(figures.SymmetryCurve(r, g)); err != nil {
				return pictures, err
			}
		}
	}
	pictures.Dose = map[string]pages.Picture{}
	for _, g := range words.Groups(r, "dose") {
		if !g.IsType() {
			continue
		}
		if pictures.Dose[g.Picture], err = keep(figures.DoseThirds(r, g)); err != nil {
			return pictures, err
		}
	}
	if _, ok := words.SafetyGroup(r); !ok {
		return pictures, nil
	}
	for _, draw := range []func(*disclosure.Released) (figures.Plot, error){figures.SafetyByType, figures.SafetyByKind, figures.SafetyBySite} {
		p, err := keep(draw(r))
		if err != nil {
			return pictures, err
		}
		pictures.Safety = append(pictures.Safety, p)
	}
	return pictures, nil
}
