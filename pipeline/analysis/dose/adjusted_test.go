package dose

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/warehouse"
)

// alike are n people of each of whom all is known at the start: how many sets, and
// the day of the return, below 0 for none, are given by number. What is known
// differs from one to the next and goes with neither.
func alike(n int, of func(i int) (sets float64, back int)) Input {
	var episodes []warehouse.DoseEpisode
	var covariates []warehouse.DoseCovariates
	for i := range n {
		sets, back := of(i)
		severity := severities[(i/2)%3]
		episodes = append(episodes, episode(i+1, sets, severity, back))
		covariates = append(covariates, warehouse.DoseCovariates{
			EpisodeKey: i + 1, PersonKey: i + 1, Severity: severity, Complete: true,
			AgeBand: []string{"18-24", "35-44", "90+"}[(i/6)%3], Sex: []string{"female", "male", "other"}[(i/5)%3], OnsetDays: ref(7 * ((i * 5) % 11)),
			ActivityLevel: activities[(i*7)%4], TargetLadder: []string{"lower_limb", "work"}[(i/7)%2], TargetShare: ref(float64((i*3)%8) / 7),
			BaselinePain: ref(float64((i * 11) % 10)), Clinician: ref(i % 12),
		})
	}
	in := input(episodes)
	in.Covariates = covariates
	in.Rules.ReferenceSets, in.Rules.LeastEffective, in.Rules.MostImbalance, in.Rules.LeastClinicians = 15, 30, 99, 10
	return in
}

// spreadOut are doses from 4 to 33 sets in the window, 2 to 16.5 a week, that go
// with nothing known; every third is back, those with more a little more often.
func spreadOut(i int) (sets float64, back int) {
	sets = float64(4 + (i*17)%30)
	if i%3 == 0 || (i%7 == 0 && sets > 18) {
		return sets, 40 + i%30
	}
	return sets, -1
}

// Twenty did some work, fifteen of them are back; twenty did none, ten are back.
// Nobody is censored before: 15/20 - 10/20.
func TestSomeOrNoneByHand(t *testing.T) {
	in := alike(60, func(i int) (float64, int) {
		back := -1
		switch {
		case i < 20 && i < 15, i >= 20 && i < 30:
			back = 50
		case i >= 40: // nobody's business: back before the landmark
			back = 3
		}
		return float64(yesInt(i < 20) * 12), back
	})
	in.Rules.GonePercent = 100
	f := analyse(t, in)
	for statistic, want := range map[string]float64{"returned_some@w26": 0.75, "returned_none@w26": 0.5, "any_contrast_raw@w26": 0.25} {
		if got := value(t, f, statistic); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s = %v, want %v", statistic, got, want)
		}
	}
}

func yesInt(is bool) int {
	if is {
		return 1
	}
	return 0
}

// Each number is met on one side of it and missed on the other; the reason says it.
func TestRefusalsOfTheAdjustedComparisons(t *testing.T) {
	half := func(none int) func(i int) (float64, int) {
		return func(i int) (float64, int) {
			sets, back := spreadOut(i)
			if i < none {
				sets = 0
			}
			return sets, back
		}
	}
	backOf := func(n int) func(i int) (float64, int) {
		return func(i int) (float64, int) {
			sets, _ := spreadOut(i)
			if i < n {
				return sets, 60
			}
			return sets, -1
		}
	}
	for _, c := range []struct {
		name, statistic string
		told, refused   Input
		reason          string
	}{
		{"without work", "any_contrast_standardised@w26", alike(100, half(20)), alike(100, half(19)), "fewer than 20 none"},
		{"with all known", "quartiles_contrast_standardised@w26", alike(51, spreadOut), alike(50, spreadOut), "fewer than 51 people all is known"},
		{"returned", "quartiles_contrast_standardised@w26", alike(90, backOf(5)), alike(90, backOf(4)), "Fewer than 5 of those"},
	} {
		told, refused := analyse(t, c.told)[c.statistic], analyse(t, c.refused)[c.statistic]
		if told.Value == nil {
			t.Errorf("%s: refused on the number: %q", c.name, told.Reason)
		}
		if refused.Value != nil || !strings.Contains(refused.Reason, c.reason) {
			t.Errorf("%s: one less is not refused so: %q", c.name, refused.Reason)
		}
	}
}

// Somebody of whom something is not known is left out, and counted as such.
func TestOnlyThoseOfWhomAllIsKnown(t *testing.T) {
	in := alike(80, spreadOut)
	for i := range 10 {
		in.Covariates[i].Complete = false
	}
	f := analyse(t, in)["quartiles_contrast_standardised@w26"]
	if f.Value == nil || *f.Persons != 70 || *f.Episodes != 70 || *f.Missing != 10 {
		t.Errorf("%+v", f)
	}
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range set.Sources {
		if strings.HasSuffix(s.FigureID, "/quartiles_contrast_standardised@w26") && !strings.Contains(s.Predicate, "published.dose_covariates where complete") {
			t.Errorf("rows %q", s.Predicate)
		}
	}
}

// Too many with one dose leave no curve, said so.
func TestNoCurveOfOneDose(t *testing.T) {
	in := alike(90, func(i int) (float64, int) {
		sets, back := spreadOut(i)
		if i%3 > 0 {
			sets = 12
		}
		return sets, back
	})
	f := analyse(t, in)
	if got := f["quartiles_contrast_standardised@w26"]; !strings.Contains(got.Reason, "hardly varies") && !strings.Contains(got.Reason, "same amount") {
		t.Errorf("%+v", got)
	}
	if _, drawn := f["dose_curve@s6"]; drawn {
		t.Error("a curve all the same")
	}
}

// Nine clinicians: the standardised contrast says that it cannot be judged; twelve:
// the wider of the two intervals leads and the other stands beside it.
func TestTheWiderIntervalLeads(t *testing.T) {
	in := alike(90, spreadOut)
	f := analyse(t, in)
	lead, beside := f["quartiles_contrast_standardised@w26"], f["quartiles_contrast_beside@w26"]
	if *lead.High-*lead.Low < *beside.High-*beside.Low || math.Abs(*lead.Value-*beside.Value) > 1e-9 {
		t.Errorf("%v to %v leads before %v to %v", *lead.Low, *lead.High, *beside.Low, *beside.High)
	}
	if strings.Contains(lead.Method, "cluster") == strings.Contains(beside.Method, "cluster") {
		t.Errorf("%q and %q", lead.Method, beside.Method)
	}
	for i := range in.Covariates {
		in.Covariates[i].Clinician = ref(i % 9)
	}
	f = analyse(t, in)
	if lead = f["quartiles_contrast_standardised@w26"]; !slices.ContainsFunc(lead.Warnings, func(w string) bool {
		return w == "Whether clinicians differ cannot be judged: that takes 10 of them, each with most of somebody's sessions."
	}) {
		t.Errorf("%q", lead.Warnings)
	}
	if _, there := f["quartiles_contrast_beside@w26"]; there {
		t.Error("an interval beside it all the same")
	}
}

// The sentence on what the landmark leaves stands beside every figure that sets a
// response against a dose.
func TestTheCautionStandsBesideEveryComparison(t *testing.T) {
	for id, f := range analyse(t, alike(90, spreadOut)) {
		compares := strings.Contains(id, "contrast") || strings.HasPrefix(id, "quartiles_") || strings.HasPrefix(id, "dose_curve") || strings.HasPrefix(id, "e_value") || strings.HasPrefix(id, "returned_")
		if compares && !slices.Contains(f.Warnings, caution) {
			t.Errorf("%s stands alone", id)
		}
	}
}

// A share at the lower dose of 5 % is enough for a ratio, less is not. By hand: a
// ratio of 2 has an e-value of 2 + sqrt(2); its limit of 1.5 one of 1.5 + sqrt(0.75).
func TestStrengthByHand(t *testing.T) {
	for _, low := range []float64{0.05, 0.0499} {
		m := &maker{in: alike(60, spreadOut), covariates: map[int]warehouse.DoseCovariates{}}
		m.period = newPeriod(m.in)
		for _, c := range m.in.Covariates {
			m.covariates[c.EpisodeKey] = c
		}
		l := lines{m: m, g: m.group("calf_strain", []string{"calf_strain"}), begin: func(statistic string) result.Figure { return result.Figure{Statistic: statistic} }}
		rows, _ := m.withCovariates(l.g.rows)
		l.strength(m.sample(rows, 100), &adjust.Amount{Low: low, Ratio: adjust.Contrast{HasInterval: true, Estimate: stats.Estimate{Value: 2, Low: 1.5, High: 3}}})
		if (len(m.set.Figures) > 0) != (low >= 0.05) {
			t.Fatalf("low share %v: %d figures", low, len(m.set.Figures))
		}
		if low < 0.05 {
			continue
		}
		if point, limit := *m.set.Figures[0].Value, *m.set.Figures[1].Value; math.Abs(point-2-math.Sqrt2) > 1e-12 || math.Abs(limit-1.5-math.Sqrt(0.75)) > 1e-12 {
			t.Errorf("%v and %v", point, limit)
		}
	}
}

// Two types lean on one another; alone there is nothing to lean on.
func TestTypesLeanOnOneAnother(t *testing.T) {
	in := alike(180, spreadOut)
	for i := range in.Episodes {
		if i >= 90 {
			in.Episodes[i].InjuryType = "hamstring_strain"
		}
	}
	in.InjuryTypes = append(in.InjuryTypes, "hamstring_strain")
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]float64{}
	for _, f := range set.Figures {
		if strings.HasPrefix(f.Statistic, "quartiles_contrast_") && f.Value != nil {
			values[f.InjuryType+"/"+f.Statistic] = *f.Value
		}
	}
	mean := values["/quartiles_contrast_pooled"]
	for _, code := range in.InjuryTypes {
		own, leaning := values[code+"/quartiles_contrast_standardised"], values[code+"/quartiles_contrast_shrunken"]
		if math.Abs(leaning-mean) > math.Abs(own-mean) {
			t.Errorf("%s: %v leans away to %v, the mean is %v", code, own, leaning, mean)
		}
	}
	if _, pooled := analyse(t, alike(90, spreadOut))["dose.24m/quartiles_contrast_pooled"]; pooled {
		t.Error("one type is pooled with itself")
	}
}

// Of ten bouts one had no sets; of eight whose way is on record two were
// estimated; nobody's load is on record.
func TestRecordsByHand(t *testing.T) {
	in := alike(60, spreadOut)
	in.Records = []warehouse.DoseRecords{
		{EpisodeKey: 1, Bouts: 6, WithoutSets: 1, WithMethod: 5, Estimated: 2},
		{EpisodeKey: 2, Bouts: 4, WithMethod: 3},
		{EpisodeKey: 999, Bouts: 50, WithoutSets: 50},
	}
	f := analyse(t, in)
	if got := value(t, f, "sets_filled_in_share"); got != 0.1 {
		t.Errorf("filled in %v", got)
	}
	if got := f["pressure_estimated_share"]; *got.Value != 0.25 || *got.Persons != 2 {
		t.Errorf("estimated %v of %d", *got.Value, *got.Persons)
	}
	if _, there := f["body_weight_share"]; there {
		t.Error("a share of nothing on record")
	}
}

// Fifty-one people measured are told and fifty are not; the measure that most have
// is taken, and what was measured after the month is not known yet.
func TestMeasuresFromFiftyOneOn(t *testing.T) {
	for _, n := range []int{51, 50} {
		in := alike(90, spreadOut)
		in.ChangeWeek = 12
		for i := range 90 {
			r := warehouse.DoseResponse{EpisodeKey: i + 1, Kind: "strength", Measure: "strength_plantarflexion", Day: 84, Value: 80 + *in.Episodes[i].Sets + float64(i%7), Baseline: float64(60 + i%13)}
			if i >= n {
				r.Day = 9999
			}
			in.Responses = append(in.Responses, r)
			if i < 49 {
				r.Measure = "strength_knee_extension"
				in.Responses = append(in.Responses, r)
			}
		}
		f, told := analyse(t, in)["quartiles_index@w12"]
		if told != (n == 51) {
			t.Errorf("%d people: told is %v", n, told)
		}
		if told && (*f.Persons != 51 || *f.Low > 14 || *f.High < 13 || !strings.HasPrefix(f.Method, "strength_plantarflexion")) {
			t.Errorf("%+v: a quartile of dose is some %d sets", f, 14)
		}
	}
}

// What was there before does not change by what is known at the start.
func TestTheThirdsStandAsBefore(t *testing.T) {
	in := alike(90, spreadOut)
	with := analyse(t, in)
	in.Covariates = nil
	without := analyse(t, in)
	if len(with) <= len(without) {
		t.Fatalf("%d and %d figures", len(with), len(without))
	}
	for id, f := range without {
		if got := with[id]; fmt.Sprint(pointed(got)) != fmt.Sprint(pointed(f)) || got.InputsHash != f.InputsHash {
			t.Errorf("%s: %v, was %v", id, pointed(got), pointed(f))
		}
	}
}

func pointed(f result.Figure) []any {
	out := []any{f.Status, f.Method, f.Reason}
	for _, x := range []*float64{f.Value, f.Low, f.High, f.StdError} {
		if x != nil {
			out = append(out, *x)
		}
	}
	return out
}

// A covariate that changes changes the hash of what was compared over it.
func TestTheHashHoldsWhatWasKnown(t *testing.T) {
	in := alike(90, spreadOut)
	before := analyse(t, in)["quartiles_contrast_standardised@w26"].InputsHash
	in.Covariates[3].BaselinePain = ref(9.5)
	if after := analyse(t, in)["quartiles_contrast_standardised@w26"].InputsHash; after == before {
		t.Error("pain at the start is not in it")
	}
}

// An order of the rows changes nothing, and figures come in one order.
func TestAdjustedWhateverTheOrder(t *testing.T) {
	in := alike(90, spreadOut)
	want := analyse(t, in)
	first, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range first.Figures {
		if again.Figures[i].ID != f.ID || first.Sources[i] != again.Sources[i] {
			t.Fatalf("figure %d is %s, then %s", i, f.ID, again.Figures[i].ID)
		}
	}
	slices.Reverse(in.Episodes)
	slices.Reverse(in.Covariates)
	for id, f := range analyse(t, in) {
		if fmt.Sprint(pointed(f)) != fmt.Sprint(pointed(want[id])) {
			t.Errorf("%s: %v, was %v", id, pointed(f), pointed(want[id]))
		}
	}
}
