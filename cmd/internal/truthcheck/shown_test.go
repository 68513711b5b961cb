package truthcheck

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/seeds/reference"
)

// leastShown is the share of a month's figures that the default practice must be
// shown.
const leastShown = 0.9

// named are the statistics that the methods of the report name for every group
// of a question; @ stands for any one week, and for a curve as a whole.
var named = struct {
	flow, course           []string // of the return: of every type and site; of every type
	sides, index, girth    []string // of every measure; of those of strength; of those of girth
	doseFlow, doseResponse []string
	safety                 []string // of every type and site
	kinds                  []string // of every kind of event
}{
	flow: strings.Fields("began at_target at_risk no_usable returned ended_otherwise in_care not_followed"),
	course: slices.Concat(strings.Fields("cumulative@ competing@ at_risk@ mean_weeks@ median_weeks lower_quartile_weeks upper_quartile_weeks visit_spacing_days"),
		atWeeks("share", 6, 12, 26), atWeeks("share_if_lost_never", 6, 12, 26), atWeeks("share_if_lost_return", 6, 12, 26),
		atWeeks("share_hold_0", 6, 12, 26), atWeeks("share_hold_28", 6, 12, 26), atWeeks("share_goal_met_returned", 6, 12, 26)),
	sides:    slices.Concat(strings.Fields("involved_curve@ uninvolved_curve@ change_known improved no_real_change worse"), atWeeks("measured", 6, 12), atWeeks("plain_mean", 6, 12)),
	index:    slices.Concat(strings.Fields("index_curve@ reached_90@w12"), atWeeks("typical_index", 6, 12), atWeeks("baseline_index", 6, 12)),
	girth:    append(slices.Concat(atWeeks("girth_difference", 6, 12), atWeeks("girth_percent", 6, 12)), "girth_curve@"),
	doseFlow: strings.Fields("began left_out analysed no_cuff_work some_cuff_work"),
	doseResponse: strings.Fields(`sets_per_week_lower_quartile sets_per_week_median sets_per_week_upper_quartile
		reps_per_week_lower_quartile reps_per_week_median reps_per_week_upper_quartile
		inflated_minutes_lower_quartile inflated_minutes_median inflated_minutes_upper_quartile
		pressure_minutes_lower_quartile pressure_minutes_median pressure_minutes_upper_quartile
		sessions_per_week_lower_quartile sessions_per_week_median sessions_per_week_upper_quartile plan_sets_share
		returned_low_third@ returned_middle_third@ returned_high_third@ thirds_contrast_raw@ thirds_contrast_standardised@`),
	safety: strings.Fields(`rate_all rate_all_midp rate_asked rate_asked_midp events events_suspected events_confirmed events_certainty_not_recorded
		sessions_attended sessions_asked asked_share`),
	kinds: strings.Fields("rate_all rate_all_midp rate_asked rate_asked_midp events"),
}

func atWeeks(statistic string, weeks ...int) []string {
	ids := make([]string, len(weeks))
	for i, week := range weeks {
		ids[i] = fmt.Sprintf("%s@w%d", statistic, week)
	}
	return ids
}

// wanted are the ids that a month must hold for the types and sites given, other
// types together among them; those with @ at the end are wanted at any week.
func wanted(types, sites []string) []string {
	var ids []string
	add := func(question, injury, site, measure string, lists ...[]string) {
		for _, statistic := range slices.Concat(lists...) {
			ids = append(ids, result.PictureID(question, injury, site, "", "", measure, "24m")+"/"+statistic)
		}
	}
	for _, injury := range types {
		add("return", injury, "", "", named.flow, named.course)
		add("safety", injury, "", "", named.safety)
		add("dose", injury, "", "", named.doseFlow)
		if injury != result.OtherTypes { // whose measures and landmarks differ
			add("dose", injury, "", "", named.doseResponse)
			add("symmetry", injury, "", "", atWeeks("returned_already", 6, 12))
		}
	}
	for _, site := range sites {
		add("return", "", site, "", named.flow)
		add("safety", "", site, "", named.safety)
		for _, question := range []string{"symmetry", "dose"} {
			add("data", "", site, question, strings.Fields("began used not_used"))
		}
	}
	return ids
}

// wantedOf are the ids wanted of a picture of a measure or of a kind of event.
func wantedOf(f disclosure.Shown) []string {
	var lists [][]string
	switch kind, _ := reference.Cell("measures", f.Measure, "kind"); {
	case f.Question == "symmetry" && kind == "strength":
		lists = [][]string{named.sides, named.index}
	case f.Question == "symmetry" && kind == "girth":
		lists = [][]string{named.sides, named.girth}
	case f.Question == "safety" && f.Stratum != "":
		lists = [][]string{named.kinds}
	}
	var ids []string
	for _, statistic := range slices.Concat(lists...) {
		ids = append(ids, f.Picture()+"/"+statistic)
	}
	return ids
}

// checkShown counts the figures of a month as a report that circulates shows
// them: a curve once, and what is named for a group and is not there as hidden.
func checkShown(t *testing.T, set result.Set, practice *settings.Practice) {
	t.Helper()
	floors := practice.SmallCounts
	r, err := disclosure.Release(disclosure.Input{
		Figures: set, Audience: disclosure.Circulating,
		Floors: disclosure.Floors{Circulating: floors.Circulating, Site: floors.Site, Curve: floors.Curve, Inside: floors.Inside},
	})
	if err != nil {
		t.Fatal(err)
	}
	var types, sites, ids []string
	measures := map[string][]string{} // kinds of measure told, by type
	held := map[string]bool{}
	for _, f := range r.Figures() {
		_, rest, _ := strings.Cut(f.ID, "/")
		stem, _, positioned := strings.Cut(rest, "@")
		held[f.ID] = true
		if positioned {
			held[f.Picture()+"/"+stem+"@"] = true
		}
		if f.InjuryType != "" && !slices.Contains(types, f.InjuryType) {
			types = append(types, f.InjuryType)
		}
		if f.Site != "" && !slices.Contains(sites, f.Site) {
			sites = append(sites, f.Site)
		}
		if f.Question == "symmetry" && f.InjuryType != "" && f.Measure != "" {
			kind, _ := reference.Cell("measures", f.Measure, "kind")
			measures[f.InjuryType] = append(measures[f.InjuryType], kind)
		}
		for _, id := range wantedOf(f) {
			if !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	if len(types) < 10 || len(sites) != 6 {
		t.Errorf("the month tells of the types %q and the sites %q", types, sites)
	}
	for _, injury := range types {
		if injury != result.OtherTypes && (!slices.Contains(measures[injury], "girth") || !slices.Contains(measures[injury], "strength")) {
			t.Errorf("%s has no girth or no strength", injury)
		}
	}
	missing := 0
	for _, id := range slices.Concat(wanted(types, sites), ids) {
		if !held[id] {
			missing++
		}
	}
	shown, hidden, withheld := r.Counts()
	all := shown + hidden + withheld + missing
	t.Logf("%d of %d figures are shown (%.1f %%): %d hidden, %d withheld, %d named and not there", shown, all, 100*float64(shown)/float64(all), hidden, withheld, missing)
	if float64(shown) < leastShown*float64(all) {
		t.Errorf("only %d of %d figures are shown", shown, all)
	}
}
