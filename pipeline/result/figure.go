// Package result holds the row that every published number is, the identifiers
// by which it is found again, and what is said beside it. It computes nothing.
package result

import (
	"fmt"
	"strings"
	"time"
)

// Status says whether a figure stands.
type Status string

// The states of a figure. A withheld figure has no value because its method
// refused; a hidden one has a value that the gate does not let circulate.
const (
	Final       Status = "final"
	Provisional Status = "provisional"
	Withheld    Status = "withheld"
	Hidden      Status = "hidden"
)

// Figure is one published number: a row of results.figures.
//
// Pointers are nil where the quantity does not exist for the figure; a count
// of zero is a pointer to zero. Values and limits are in Unit, X in XUnit.
type Figure struct {
	ID         string // PICTURE/statistic or PICTURE/statistic@x
	Question   string // return, symmetry, dose, scores, progression, plan, tolerance, safety, data
	Measure    string
	InjuryType string
	Site       string
	Cohort     string
	Stratum    string

	PeriodFrom time.Time // first day of the period, a date at midnight UTC
	PeriodTo   time.Time // last day of the period
	X          *float64
	XUnit      string
	Statistic  string

	Value    *float64
	Low      *float64
	High     *float64
	Level    float64 // two-sided confidence level; 0 where there is no interval
	StdError *float64

	Persons      *int // persons the figure rests on
	Episodes     *int
	Events       *int // persons with the outcome, or adverse events
	Exposure     *float64
	ExposureUnit string
	Missing      *int // episodes left out because a needed value was missing

	Unit          string
	Method        string
	MethodVersion string
	Status        Status
	Reason        string   // why it is withheld or hidden, a sentence
	Warnings      []string // footnotes

	AsOfBatch  int
	InputsHash string // SHA-256 of the rows it was computed from, hex
}

// OtherTypes stands in place of an injury type for all of those together that
// too few people had to be told on their own.
const OtherTypes = "other_types"

// Picture returns the part of the id that names the picture.
func (f Figure) Picture() string {
	picture, _, _ := strings.Cut(f.ID, "/")
	return picture
}

// PictureID joins the dimensions of a picture in the order question, injury
// type, site, cohort, stratum, measure, period, leaving out the empty ones.
// Periods are named ("24m"), never dated, so that the same figure has the same
// id next month.
func PictureID(question, injuryType, site, cohort, stratum, measure, period string) string {
	var parts []string
	for _, p := range []struct{ prefix, value string }{
		{"", question},
		{"", injuryType},
		{"site=", site},
		{"cohort=", cohort},
		{"by=", stratum},
		{"", measure},
		{"", period},
	} {
		if p.value != "" {
			parts = append(parts, p.prefix+p.value)
		}
	}
	return strings.Join(parts, ".")
}

// ID joins a picture, a statistic and, where the figure is a point of a
// curve, its position: ID("return.calf_strain.24m", "share", "w6").
func ID(picture, statistic, x string) string {
	if x == "" {
		return picture + "/" + statistic
	}
	return picture + "/" + statistic + "@" + x
}

// SplitID takes an id apart. The statistic and x are empty for a picture.
func SplitID(id string) (picture, statistic, x string, err error) {
	picture, rest, found := strings.Cut(id, "/")
	if picture == "" || (found && rest == "") {
		return "", "", "", fmt.Errorf("figure id %q: wanted PICTURE or PICTURE/statistic or PICTURE/statistic@x", id)
	}
	statistic, x, _ = strings.Cut(rest, "@")
	return picture, statistic, x, nil
}

// Source is a row of results.figure_sources: the published rows behind a
// figure. Predicate is an SQL condition on Table made by the program from
// codes and dates it has checked; several rows of one figure are joined by or.
type Source struct {
	FigureID  string
	Table     string
	Predicate string
}

// Total is a row of results.figure_totals: Part is one of the figures that sum
// to Whole. The gate needs it to keep a hidden count from being subtracted back.
type Total struct {
	Whole string
	Part  string
}

// Set is what one analysis returns.
type Set struct {
	Figures []Figure
	Sources []Source
	Totals  []Total
}

// Append adds the figures of other to s.
func (s *Set) Append(other Set) {
	s.Figures = append(s.Figures, other.Figures...)
	s.Sources = append(s.Sources, other.Sources...)
	s.Totals = append(s.Totals, other.Totals...)
}
