package dose

import (
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
)

// TestFlowToTheLandmark puts one person into each place of the flow, on both
// sides of the landmark.
func TestFlowToTheLandmark(t *testing.T) {
	change := func(key int, of func(e *warehouse.DoseEpisode)) warehouse.DoseEpisode {
		e := episode(key, 12, "mild", -1)
		of(&e)
		return e
	}
	end := func(day int) func(e *warehouse.DoseEpisode) {
		return func(e *warehouse.DoseEpisode) { e.EndDay = ref(day) }
	}
	out := func(day int, reason string) func(e *warehouse.DoseEpisode) {
		return func(e *warehouse.DoseEpisode) { e.OutDay, e.OutReason = day, reason }
	}
	all := []warehouse.DoseEpisode{
		episode(1, 12, "mild", 13), episode(2, 12, "mild", 14),
		change(3, end(13)), change(4, end(14)),
		change(5, out(13, "gap")), change(6, out(14, "gap")),
		change(7, out(13, "transferred")), change(8, out(14, "transferred")),
		change(9, func(e *warehouse.DoseEpisode) { e.StartDate = lastDay.AddDate(0, 0, -13) }),
		change(10, func(e *warehouse.DoseEpisode) { e.StartDate = lastDay.AddDate(0, 0, -14) }),
		change(11, func(e *warehouse.DoseEpisode) { e.AtTarget = true }),
		change(12, func(e *warehouse.DoseEpisode) { e.Unusable = "no_target" }),
		change(13, func(e *warehouse.DoseEpisode) { e.Sets, e.MissingReason = nil, "session_without_bouts" }),
		change(14, func(e *warehouse.DoseEpisode) { e.Sets = ref(0.0) }),
		change(15, func(e *warehouse.DoseEpisode) { e.StartDate = firstDay.AddDate(0, 0, -1) }),
		change(16, func(e *warehouse.DoseEpisode) { e.StartDate = lastDay.AddDate(0, 0, 1) }),
	}
	set, err := Analyse(t.Context(), input(all))
	if err != nil {
		t.Fatal(err)
	}
	f := analyse(t, input(all))
	for statistic, want := range map[string]float64{
		"dose.24m/left_out.returned": 1, "dose.24m/left_out.ended_otherwise": 1, "dose.24m/left_out.lost": 1, "dose.24m/left_out.left_otherwise": 1,
		"dose.24m/left_out.in_care": 1, "dose.24m/left_out.at_target": 1, "dose.24m/left_out.no_usable": 1, "dose.24m/left_out.dose_unknown": 1,
		"began": 14, "left_out": 8, "analysed": 6, "no_cuff_work": 1, "some_cuff_work": 5,
	} {
		if got := value(t, f, statistic); got != want {
			t.Errorf("%s is %v, wanted %v", statistic, got, want)
		}
	}
	values, sums := map[string]float64{}, map[[2]string]float64{} // by whole, and whether by type
	for _, figure := range set.Figures {
		if figure.Value != nil {
			values[figure.ID] = *figure.Value
		}
	}
	for _, total := range set.Totals {
		by := "within"
		if strings.Contains(total.Part, "calf_strain") && !strings.Contains(total.Whole, "calf_strain") {
			by = "by type"
		}
		sums[[2]string{total.Whole, by}] += values[total.Part]
	}
	if len(sums) != 2+3+5 { // the steps of the type, the same with the reasons of the practice, each step by type
		t.Errorf("%d wholes, wanted 10", len(sums))
	}
	for whole, sum := range sums {
		if sum != values[whole[0]] {
			t.Errorf("the parts of %q sum to %v, it is %v", whole, sum, values[whole[0]])
		}
	}
}

// TestRareTypesHaveTheirFlowAlone has one person of another type.
func TestRareTypesHaveTheirFlowAlone(t *testing.T) {
	in := input(twentyFour())
	few := episode(25, 9, "mild", -1)
	few.InjuryType = "distal_biceps_repair"
	in.Episodes = append(in.Episodes, few)
	in.InjuryTypes, in.TypeFloor = append(in.InjuryTypes, "distal_biceps_repair"), 2
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range set.Figures {
		if f.InjuryType != "calf_strain" && f.InjuryType != "" {
			got = append(got, f.ID)
		}
	}
	if len(got) != 5 || got[0] != "dose.other_types.24m/began" {
		t.Errorf("of the rare type: %q", got)
	}
	if got := value(t, analyse(t, in), "dose.24m/began"); got != 25 {
		t.Errorf("the practice counts %v", got)
	}
}
