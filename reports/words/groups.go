package words

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// Group is one picture of a report: the people that its figures are about.
type Group struct {
	Picture    string // "return.calf_strain.24m"
	InjuryType string
	Site       string
	Measure    string // as in the figures
	Label      string // "Calf strain", a site's name, or "The whole practice"
	From, To   time.Time
}

// Whole says that the group is not narrowed by injury type or site.
func (g Group) Whole() bool { return g.InjuryType == "" && g.Site == "" }

// IsType says that the group is an injury type in the whole practice.
func (g Group) IsType() bool { return g.InjuryType != "" && g.Site == "" }

// IsOther says that the group is all injury types together that too few people
// had to be told on their own.
func (g Group) IsOther() bool { return g.InjuryType == result.OtherTypes }

// IsSite says that the group is a site with all its injury types.
func (g Group) IsSite() bool { return g.InjuryType == "" && g.Site != "" }

// Groups returns the groups that have figures on the question: the whole
// practice, then injury types, then sites, both in the order of the practice's
// own lists and never by result. Groups by cohort or stratum are left out.
func Groups(r *disclosure.Released, question string) []Group {
	c := r.Context()
	var groups []Group
	seen := map[string]bool{}
	for _, f := range r.Figures() {
		if f.Question != question || f.Cohort != "" || f.Stratum != "" || seen[f.Picture()] {
			continue
		}
		seen[f.Picture()] = true
		groups = append(groups, Group{
			Picture: f.Picture(), InjuryType: f.InjuryType, Site: f.Site, Measure: f.Measure, Label: groupLabel(c, f),
			From: f.PeriodFrom, To: f.PeriodTo,
		})
	}
	slices.SortStableFunc(groups, func(a, b Group) int {
		return cmp.Or(
			cmp.Compare(siteOrder(c, a.Site), siteOrder(c, b.Site)),
			cmp.Compare(typeOrder(c, a.InjuryType), typeOrder(c, b.InjuryType)),
			cmp.Compare(a.Picture, b.Picture),
		)
	})
	return groups
}

func groupLabel(c result.Context, f disclosure.Shown) string {
	injury, site := InjuryLabel(c, f.InjuryType), SiteLabel(c, f.Site)
	switch {
	case injury != "" && site != "":
		return injury + ", " + site
	case injury != "":
		return injury
	case site != "":
		return site
	default:
		return "The whole practice"
	}
}

// InjuryLabel is the label of an injury type's code, the code itself where the
// practice has none.
func InjuryLabel(c result.Context, code string) string {
	if code == result.OtherTypes {
		return "Other injury types"
	}
	if i := typeOrder(c, code); i > 0 && i <= len(c.InjuryTypes) {
		return c.InjuryTypes[i-1].Label
	}
	return code
}

// SiteLabel is the label of a site's code, the code itself where the practice
// has none.
func SiteLabel(c result.Context, code string) string {
	if i := siteOrder(c, code); i > 0 && i <= len(c.Sites) {
		return c.Sites[i-1].Label
	}
	return code
}

// typeOrder is 0 for all types, then the place in the practice's list, from 1;
// what is not in the list comes last.
func typeOrder(c result.Context, code string) int {
	return order(code, slices.IndexFunc(c.InjuryTypes, func(l result.Label) bool { return l.Code == code }), len(c.InjuryTypes))
}

func siteOrder(c result.Context, code string) int {
	return order(code, slices.IndexFunc(c.Sites, func(s result.Site) bool { return s.Code == code }), len(c.Sites))
}

func order(code string, index, length int) int {
	switch {
	case code == "":
		return 0
	case index < 0:
		return length + 1
	default:
		return index + 1
	}
}

// Figure finds a statistic of the group; x is empty or a position as in the
// id: "w12".
func (g Group) Figure(r *disclosure.Released, statistic, x string) (disclosure.Shown, bool) {
	return r.Lookup(result.ID(g.Picture, statistic, x))
}

// Along returns the group's figures of one statistic along weeks, by week.
func (g Group) Along(r *disclosure.Released, statistic string) []disclosure.Shown {
	var found []disclosure.Shown
	for _, f := range r.Picture(g.Picture) {
		if f.Statistic == statistic && f.X != nil {
			found = append(found, f)
		}
	}
	return found
}

// OfType is the group of the same question, injury type and period without a
// measure.
func (g Group) OfType() Group {
	question, _, _ := strings.Cut(g.Picture, ".")
	g.Picture = result.PictureID(question, g.InjuryType, g.Site, "", "", "", g.period())
	g.Measure = ""
	return g
}

// period is the name of the group's period, such as 24m: the end of its id.
func (g Group) period() string { return g.Picture[strings.LastIndex(g.Picture, ".")+1:] }

// AtWeek is the position of a week in a figure's id: "w12".
func AtWeek(week float64) string { return "w" + strconv.FormatFloat(week, 'f', -1, 64) }

// ShareRules are the group's statistics of the share back, the reported one
// first, then the same by other rules, by name.
func ShareRules(r *disclosure.Released, g Group) []string {
	var rules []string
	for _, f := range r.Picture(g.Picture) {
		if (f.Statistic == "share" || strings.HasPrefix(f.Statistic, "share_")) && f.X != nil && !slices.Contains(rules, f.Statistic) {
			rules = append(rules, f.Statistic)
		}
	}
	return rules
}
