package words

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// UsableColumns head what Usable returns.
var UsableColumns = []string{"Began care", "Followed for a return", "Both sides measured on two days or more", "Dose known, followed from the landmark"}

// UsableGroups are the sites in the practice's order, the whole practice last;
// none where nobody began care.
func UsableGroups(r *disclosure.Released) []Group {
	var groups, whole []Group
	for _, g := range Groups(r, "return") {
		switch {
		case g.IsSite():
			groups = append(groups, g)
		case g.Whole():
			whole = append(whole, g)
		}
	}
	return append(groups, whole...)
}

// Usable are, for a site or the practice, the counts of the episodes that began
// and could be used for each question; a count that is not there is the zero
// value.
func Usable(r *disclosure.Released, g Group) []disclosure.Shown {
	period := g.period()
	ids := []string{
		result.ID(g.Picture, "began", ""),
		result.ID(g.Picture, "at_risk", ""),
		result.ID(result.PictureID("data", "", g.Site, "", "", "symmetry", period), "used", ""),
		result.ID(result.PictureID("data", "", g.Site, "", "", "dose", period), "used", ""),
	}
	out := make([]disclosure.Shown, len(ids))
	for i, id := range ids {
		out[i], _ = r.Lookup(id)
	}
	return out
}
