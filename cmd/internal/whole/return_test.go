package whole

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/testkit"
)

// flowParts are counted of every group, flowReasons of the whole practice alone;
// both by their names in R.
var (
	flowParts   = []string{"began", "at_risk", "at_target", "no_usable", "returned", "ended_otherwise", "in_care", "not_followed"}
	flowReasons = map[string]string{
		"lost": "lost", "left_otherwise": "left_otherwise", "returned_provisional": "returned_provisional",
		"surgery": "ended.surgery", "new_injury": "ended.new_injury", "not_returning": "ended.not_returning",
		"may_not_continue": "ended.may_not_continue", "died": "ended.died",
	}
)

func TestReturnsAreThoseOfR(t *testing.T) {
	p := built(t)
	a := testkit.Reference(t, "whole/return")
	flow := func(picture, path string) {
		for _, statistic := range flowParts {
			p.counts(t, result.ID(picture, statistic, ""), a.Float(path+".flow."+statistic))
		}
	}
	all := result.PictureID("return", "", "", "", "", "", "24m")
	flow(all, "practice")
	for name, statistic := range flowReasons {
		p.counts(t, result.ID(all, statistic, ""), a.Float("practice.reasons."+name))
	}
	for _, site := range slices.Sorted(maps.Keys(senderOf)) {
		flow(result.PictureID("return", "", site, "", "", "", "24m"), site)
	}
	for _, injury := range types {
		picture := result.PictureID("return", injury, "", "", "", "", "24m")
		flow(picture, injury)
		weeks, horizons := weeksTo(26, 1), []int{6, 12, 26}
		p.points(t, a, picture, "cumulative", injury+".cumulative", weeks, ofCurves, ofCurves)
		p.points(t, a, picture, "competing", injury+".competing", weeks, ofCurves, ofCurves)
		risk := a.Floats(injury + ".at_risk")
		for i, week := range weeks {
			p.counts(t, result.ID(picture, "at_risk", fmt.Sprintf("w%d", week)), risk[i])
		}
		for path, statistic := range map[string]string{
			"share": "share", "lost_never": "share_if_lost_never", "lost_return": "share_if_lost_return",
			"hold_0": "share_hold_0", "hold_28": "share_hold_28", "goal_met": "share_goal_met_returned",
		} {
			p.points(t, a, picture, statistic, injury+"."+path, horizons, ofCurves, ofCurves)
		}
		share := p.figure(t, result.ID(picture, "share", "w6"))
		testkit.AlmostEqual(t, picture+" persons", float64(*share.Persons), a.Float(injury+".persons"), 0)
		testkit.AlmostEqual(t, picture+" episodes", float64(*share.Episodes), a.Float(injury+".episodes"), 0)
		quantiles, low, high := a.Floats(injury+".quantiles"), a.Floats(injury+".quantiles_low"), a.Floats(injury+".quantiles_high")
		for i, statistic := range []string{"lower_quartile_weeks", "median_weeks", "upper_quartile_weeks"} {
			id := result.ID(picture, statistic, "")
			f := p.figure(t, id)
			near(t, id, f.Value, quantiles[i], ofCurves)
			near(t, id+" low", f.Low, low[i], ofCurves)
			near(t, id+" high", f.High, high[i], ofCurves)
		}
		id := result.ID(picture, "mean_weeks", fmt.Sprintf("w%g", a.Float(injury+".mean_week")))
		f := p.figure(t, id)
		near(t, id, f.Value, a.Float(injury+".mean"), ofCurves)
		near(t, id+" error", f.StdError, a.Float(injury+".mean_se"), ofCurves)
		p.counts(t, result.ID(picture, "visit_spacing_days", ""), a.Float(injury+".spacing"))
	}
}
