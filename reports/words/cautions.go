package words

import "evenlimb/pipeline/disclosure"

// Cautions are what every report carries, in the order in which they are
// printed.
func Cautions() []string {
	return []string{
		"The figures describe routine care as it was recorded. They are not proof of what caused what, and they are not a prescription.",
		"Exercise with restricted blood flow has contraindications and can harm.",
		"Decisions belong to licensed clinicians, under local rules, the device's instructions and current guidance.",
		"The data are pseudonymised personal health data: a stable key with dates and a site stays personal.",
	}
}

// CautionInBrief is the caution for the head of a page, in one line.
const CautionInBrief = "Routine records: not proof of cause, not a prescription. Decisions belong to licensed clinicians."

// MadeUp is what every page of a made-up practice says.
const MadeUp = "Made-up practice: nobody in these figures exists."

// InsideOnly is what every page says that shows smaller groups.
const InsideOnly = "Inside the practice only: smaller groups are shown. Not to be passed on."

// Audience says who may read.
func Audience(a disclosure.Audience) string {
	if a == disclosure.Inside {
		return "The practice's own leadership and clinicians."
	}
	return "May circulate: small counts are hidden."
}
