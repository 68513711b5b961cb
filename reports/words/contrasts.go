package words

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// contrastLabels name the groups that are compared, in the order told.
var contrastLabels = []struct{ stratum, label string }{
	{"severity_moderate", "Moderate, less mild"},
	{"severity_severe", "Severe, less mild"},
	{"sex_male", "Male, less female"},
	{"age_35_to_54", "35 to 54, less under 35"},
	{"age_55_and_over", "55 and over, less under 35"},
}

// Contrast is a group of people set against another, or a site against all
// others.
type Contrast struct {
	Label   string
	Picture string
}

// Contrasts are those of the report: severity, sex and age, then sites in the
// practice's order, never by result.
func Contrasts(r *disclosure.Released) []Contrast {
	period := ""
	for _, g := range Groups(r, "return") {
		if g.Whole() {
			period = g.period()
		}
	}
	var list []Contrast
	add := func(label, site, stratum string) {
		picture := result.PictureID("groups", "", site, "", stratum, "", period)
		if slices.ContainsFunc(r.Picture(picture), func(f disclosure.Shown) bool { return strings.HasSuffix(f.Statistic, "_raw") }) {
			list = append(list, Contrast{label, picture})
		}
	}
	for _, c := range contrastLabels {
		add(c.label, "", c.stratum)
	}
	for _, s := range r.Context().Sites {
		add(s.Label+", less the other sites", s.Code, "")
	}
	return list
}

// The statistics of a contrast, in the order told.
var contrastStatistics = []string{"share_difference_raw", "share_difference_standardised", "mean_difference_raw", "mean_difference_standardised", "hazard_ratio"}

// Figures are the contrast's figures, in the order told; one that is not there is
// the zero value.
func (c Contrast) Figures(r *disclosure.Released) []disclosure.Shown {
	out := make([]disclosure.Shown, len(contrastStatistics))
	for _, f := range r.Picture(c.Picture) {
		if i := slices.Index(contrastStatistics, f.Statistic); i >= 0 {
			out[i] = f
		}
	}
	return out
}

// ContrastWeek is the week by which a contrast is told; 0 where none stands.
func (c Contrast) ContrastWeek(r *disclosure.Released) float64 {
	for _, f := range c.Figures(r) {
		if f.X != nil {
			return *f.X
		}
	}
	return 0
}

// SiteRatio is a site's returns over those expected of its people.
type SiteRatio struct {
	Label  string
	Ratio  disclosure.Shown
	Funnel disclosure.Shown // its limits where there are sites enough; else the zero value
}

// SiteRatios are those of the sites that have one, in the practice's order.
func SiteRatios(r *disclosure.Released) []SiteRatio {
	var list []SiteRatio
	for _, s := range r.Context().Sites {
		one := SiteRatio{Label: s.Label}
		for _, f := range r.Figures() {
			if f.Question != "groups" || f.Site != s.Code {
				continue
			}
			switch f.Statistic {
			case "observed_over_expected":
				one.Ratio = f
			case "funnel_limits":
				one.Funnel = f
			}
		}
		if one.Ratio.ID != "" {
			list = append(list, one)
		}
	}
	return list
}

// StandsOut says that the site lies beyond the limits of the funnel.
func (s SiteRatio) StandsOut() bool {
	v, f := s.Ratio.Value, s.Funnel
	return v != nil && f.Low != nil && f.High != nil && (*v < *f.Low || *v > *f.High)
}

// SiteSentence says how the sites' returns lie beside those expected.
func SiteSentence(list []SiteRatio) Sentence {
	var apart, out []string
	var figures []disclosure.Shown
	judged := 0
	for _, s := range list {
		f := s.Ratio
		if f.Value == nil || f.Low == nil || f.High == nil {
			continue
		}
		judged++
		figures = append(figures, f)
		if *f.Low > 1 || *f.High < 1 {
			apart = append(apart, s.Label)
		}
		if s.StandsOut() {
			out = append(out, s.Label)
		}
	}
	text := fmt.Sprintf("Returns on record at %d %s, over those that the other sites let one expect of people like theirs", judged, Plural(judged, "site", "sites"))
	switch funnel := len(list) > 0 && list[0].Funnel.ID != ""; {
	case judged == 0:
		return Sentence{Text: "Returns of the sites against those expected: none is shown."}
	case funnel && len(out) == 0:
		return say(text+": none lies beyond what chance and the usual spread between sites leave.", figures...)
	case funnel:
		return say(text+": beyond what chance and the usual spread between sites leave lies "+Join(out)+".", figures...)
	case len(apart) == 0:
		return say(text+": at each the data fit 1, as many as expected.", figures...)
	default:
		return say(text+": at "+Join(apart)+" the data do not fit 1, as many as expected; at the others they do.", figures...)
	}
}

// ContrastAside stands over differences between groups.
const ContrastAside = "Groups differ in more than what they are named for: injury, severity, age, site, and much that is not on record. Raw: as they came. Standardised: as if both had the same mix of injury types, severities, sexes, ages and sites. A difference is not the effect of anything."

// groupsMethod tells how groups and sites are compared.
var groupsMethod = Method{
	"Groups and sites within the practice",
	"By severity, sex, age and site the share back and the mean weeks not yet back differ by so much, to the longest horizon at which every group still has enough people at risk. The standardised difference comes from a model of the outcome (least squares on pseudo-values, which stand in for outcomes not watched long enough) that adds up injury type, severity, sex, age and site; its interval from 1,000 draws of persons. People of whom one of these is not on record are left out and counted. The hazard ratio (Cox) stands beside as a description. A site's returns are set over those that a model of the other sites alone lets one expect of its people; limits are exact. Below 10 sites their spread cannot be judged and each is shown by itself, in the practice's order; from 10 on one is called out of the ordinary beyond 99.8 % limits that allow for the usual spread. How returns are recorded differs between sites too, so this is no ranking.",
}
