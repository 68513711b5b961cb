package whole

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/testkit"
)

// measured are the measures of strength and girth that the practice takes, by
// injury type.
var measured = map[string][2]string{
	"calf_strain":                      {"strength_plantarflexion", "girth_calf"},
	"lateral_elbow_tendinopathy":       {"strength_grip", "girth_forearm"},
	"anterior_cruciate_reconstruction": {"strength_knee_extension", "girth_thigh_10"},
}

func TestSymmetryIsThatOfR(t *testing.T) {
	p := built(t)
	a := testkit.Reference(t, "whole/symmetry")
	for _, kind := range []string{"strength", "girth"} {
		picture := result.PictureID("symmetry", "", "", "", "", kind, "24m")
		for _, statistic := range []string{"began", "bilateral", "pairs", "no_pair"} {
			p.counts(t, result.ID(picture, statistic, ""), a.Float(kind+"."+statistic))
		}
	}
	for _, injury := range types {
		already := a.Floats(injury + "_returned_already")
		for i, week := range []int{6, 12, 26} {
			p.countsIfStated(t, result.ID(result.PictureID("symmetry", injury, "", "", "", "", "24m"), "returned_already", fmt.Sprintf("w%d", week)), week > 12, already[i])
		}
		for i, measure := range measured[injury] {
			picture := result.PictureID("symmetry", injury, "", "", "", measure, "24m")
			path := injury + "_" + measure
			p.beside(t, a, picture, path)
			typical, curve := "typical_index", "index_curve"
			if i == 1 {
				typical, curve = "girth_difference", "girth_curve"
			}
			horizons := []int{6, 12, 26}
			p.points(t, a, picture, typical, path+".typical", horizons, ofFixed, ofErrors)
			for statistic, of := range map[string]string{curve: "curve", "involved_curve": "involved", "uninvolved_curve": "uninvolved"} {
				weeks := whole(a.Floats(path + "." + of + "_weeks"))
				p.points(t, a, picture, statistic, path+"."+of, weeks, ofFixed, ofErrors)
				for _, beyond := range []int{weeks[0] - 2, weeks[len(weeks)-1] + 2} {
					if f, ok := p.figures[result.ID(picture, statistic, fmt.Sprintf("w%d", beyond))]; ok && f.Value != nil {
						t.Errorf("%s: %s reaches week %d, in R weeks %d to %d", picture, statistic, beyond, weeks[0], weeks[len(weeks)-1])
					}
				}
			}
			p.spread(t, a, picture, path+".spread", i == 0)
			f := p.figure(t, result.ID(picture, curve, fmt.Sprintf("w%d", whole(a.Floats(path + ".curve_weeks"))[0])))
			testkit.AlmostEqual(t, picture+" persons", float64(*f.Persons), a.Float(path+".persons"), 0)
			testkit.AlmostEqual(t, picture+" episodes", float64(*f.Episodes), a.Float(path+".episodes"), 0)
			if i == 0 {
				p.points(t, a, picture, "baseline_index", path+".baseline_index", horizons, ofFixed, ofErrors)
				for j, want := range a.Floats(path + ".reached_90") {
					id := result.ID(picture, "reached_90", fmt.Sprintf("w%d", []int{12, 26}[j]))
					near(t, id, p.value(id), want, ofErrors)
				}
			}
		}
	}
}

// beside compares what stands beside a model: counts and plain means.
func (p practiceNow) beside(t *testing.T, a *testkit.Answers, picture, path string) {
	t.Helper()
	horizons := []int{6, 12, 26}
	measured := a.Floats(path + ".measured")
	for i, week := range horizons {
		near(t, picture+" measured", p.value(result.ID(picture, "measured", fmt.Sprintf("w%d", week))), measured[i], 0)
	}
	p.points(t, a, picture, "plain_mean", path+".plain_mean", horizons, ofCurves, ofCurves)
	for _, statistic := range []string{
		"change_known", "improved", "worse", "no_real_change", "change_known_last", "improved_last", "worse_last", "no_real_change_last",
		"change_compared", "important_better", "important_worse", "not_important",
		"change_compared_last", "important_better_last", "important_worse_last", "not_important_last",
	} {
		near(t, picture+" "+statistic, p.value(result.ID(picture, statistic, "")), a.Float(path+"."+statistic), 0)
	}
	near(t, picture+" last visit", p.value(result.ID(picture, "last_visit_weeks", "")), a.Float(path+".last_visit_weeks"), exactly)
	if !strings.Contains(path, "_strength_") {
		return
	}
	for _, statistic := range []string{"judged_90", "clear_of_90", "undecided_90", "below_90"} {
		near(t, picture+" "+statistic, p.value(result.ID(picture, statistic, "")), a.Float(path+"."+statistic), 0)
	}
	near(t, picture+" error at 90", p.value(result.ID(picture, "error_at_90", "")), math.Round(10*a.Float(path+".error_at_90"))/10, exactly)
}

// spread compares the percentiles, which the pipeline tells rounded and up to the
// first week that lacks persons.
func (p practiceNow) spread(t *testing.T, a *testkit.Answers, picture, path string, percent bool) {
	t.Helper()
	tens := 10.0
	if percent {
		tens = 1
	}
	weeks := whole(a.Floats(path + ".weeks"))
	for statistic, of := range map[string]string{"spread_low": "p10", "spread_middle": "p50", "spread_high": "p90"} {
		over := false
		for i, want := range a.Floats(path + "." + of) {
			if over = over || math.IsNaN(want); over {
				want = math.NaN()
			}
			id := result.ID(picture, statistic, fmt.Sprintf("w%d", weeks[i]))
			near(t, id, p.value(id), math.Round(math.Round(1e6*want)/1e6*tens)/tens, exactly)
		}
	}
}

// value is that of a figure, nil where there is none.
func (p practiceNow) value(id string) *float64 { return p.figures[id].Value }

func whole(xs []float64) []int {
	var out []int
	for _, x := range xs {
		out = append(out, int(x))
	}
	return out
}
