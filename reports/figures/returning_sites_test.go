package figures

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	month "evenlimb/reports/internal/sample"
)

// Below 10 sites each has its row, in the practice's order, too few people said
// so.
func TestSitesAreDots(t *testing.T) {
	p, err := SiteReturns(month.Month(t))
	if err != nil {
		t.Fatal(err)
	}
	faults, err := Check(p.SVG)
	if err != nil || len(faults) > 0 {
		t.Errorf("%q, %v", faults, err)
	}
	said := drawnText(t, p.SVG)
	north, mill := strings.Index(said, "North Road 1."), strings.Index(said, "Mill Yard")
	if !strings.Contains(said, "this is no ranking") || !strings.Contains(said, "not shown (too few)") || mill < 0 || north > mill {
		t.Error(said)
	}
	var nothing *NothingShownError
	if _, err := SiteReturns(month.Empty(t)); !errors.As(err, &nothing) {
		t.Errorf("%v", err)
	}
}

// sites are as many sites with a funnel; the last lies beyond its limits.
func sites(t *testing.T, n int) *disclosure.Released {
	t.Helper()
	c, set := month.Context(), result.Set{}
	c.Sites = nil
	for i := range n {
		code := fmt.Sprintf("s%02d", i)
		c.Sites = append(c.Sites, result.Site{Code: code, Label: "Site " + strings.ToUpper(code)})
		expected, ratio, people := 20+10*float64(i), 1.02, 90
		if i == n-1 {
			ratio = 0.5
		}
		low, high := 1-3/float64(i+5), 1+3/float64(i+5)
		one, level := 1.0, 0.998
		for statistic, v := range map[string]*float64{"observed_over_expected": &ratio, "funnel_limits": &one} {
			set.Figures = append(set.Figures, result.Figure{
				ID: "groups.site=" + code + ".24m/" + statistic, Question: "groups", Site: code, Statistic: statistic, Unit: "ratio", Value: v, Low: &low, High: &high, Level: level,
				Persons: &people, Exposure: &expected, ExposureUnit: "expected returns", Status: result.Final,
			})
		}
	}
	return month.Release(t, set, c)
}

// From 10 sites on only the one beyond the limits is named.
func TestSitesAreAFunnel(t *testing.T) {
	p, err := SiteReturns(sites(t, 12))
	if err != nil {
		t.Fatal(err)
	}
	faults, err := Check(p.SVG)
	if err != nil || len(faults) > 0 {
		t.Errorf("%q, %v", faults, err)
	}
	if said := drawnText(t, p.SVG); strings.Count(said, "Site S") != 2 || !strings.Contains(p.Title, "Site S11") {
		t.Errorf("%s: %s", p.Title, said)
	}
}
