package progression

import (
	"math"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
)

var start = time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)

// made is a period of June 2026 in which figures of two persons are told.
func made() Input {
	return Input{
		Month: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), WindowMonths: 24, Bands: settings.Tolerance{PressureBands: []int{40, 60, 80}},
		InjuryTypes: []string{"calf_strain", "meniscal_repair"}, Floor: 2, Batch: 3,
	}
}

func figures(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		byID[f.ID] = f
	}
	if len(set.Sources) != len(byID) || len(byID) != len(set.Figures) {
		t.Errorf("%d figures, %d ids, %d sources", len(set.Figures), len(byID), len(set.Sources))
	}
	return byID
}

func closeTo(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-12 {
		t.Errorf("%s is %s, want %v", what, text(got), want)
	}
}

func day(n int) *int { return &n }

// Three persons, one with two episodes: of 20 visits compared, 5 with a step up.
func steps() []warehouse.ProgressSum {
	return []warehouse.ProgressSum{
		{EpisodeKey: 1, PersonKey: 7, InjuryType: "calf_strain", StartDate: start, Level: warehouse.Moves{Compared: 8, Up: 2}, Load: warehouse.Moves{Compared: 4, Up: 1, Down: 1}, Steps: warehouse.Moves{Compared: 8, Up: 2, Down: 1}, AfterPain: 3, BackAfterPain: 1, KeptUp: 2, Stalled: 1, FirstStepDay: day(14), LastDay: 40},
		{EpisodeKey: 2, PersonKey: 7, InjuryType: "calf_strain", StartDate: start, Level: warehouse.Moves{Compared: 2, Up: 1}, Steps: warehouse.Moves{Compared: 2, Up: 1}, FirstStepDay: day(28), LastDay: 35},
		{EpisodeKey: 3, PersonKey: 8, InjuryType: "calf_strain", StartDate: start, Level: warehouse.Moves{Compared: 10, Up: 2, Down: 1}, Steps: warehouse.Moves{Compared: 10, Up: 2, Down: 3}, AfterPain: 4, BackAfterPain: 2, KeptUp: 2, Stalled: 2, FirstStepDay: day(84), LastDay: 90},
		{EpisodeKey: 4, PersonKey: 9, InjuryType: "meniscal_repair", StartDate: start, LastDay: 0},
	}
}

func TestMovesByHand(t *testing.T) {
	in := made()
	in.Progress = steps()
	f := figures(t, in)
	up := f["progression.calf_strain.24m/level_up"]
	closeTo(t, "level up", up.Value, 5.0/20)
	if *up.Persons != 2 || *up.Episodes != 3 || *up.Exposure != 20 || up.ExposureUnit != "visits" || up.Unit != "share" {
		t.Errorf("%+v", up)
	}
	// Person 7: 3 of 10, person 8: 2 of 10; scores 0.5 and -0.5.
	closeTo(t, "its error", up.StdError, math.Sqrt(0.5*2)/20)
	e, err := rates.ShareByPerson([]int{3, 2}, []int{10, 10}, level)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "its lower limit", up.Low, e.Low)
	closeTo(t, "its upper limit", up.High, e.High)
	closeTo(t, "level down", f["progression.calf_strain.24m/level_down"].Value, 1.0/20)
	closeTo(t, "step back", f["progression.24m/step_back"].Value, 4.0/20)
	closeTo(t, "back after pain", f["progression.24m/back_after_pain"].Value, 3.0/7)
	closeTo(t, "back otherwise", f["progression.24m/back_otherwise"].Value, 1.0/13)
	closeTo(t, "stalled", f["progression.24m/stalled"].Value, 3.0/4)
	if g := f["progression.24m/stalled"]; g.ExposureUnit != "exercises" || *g.Episodes != 2 {
		t.Errorf("%+v", g)
	}
	for id, why := range map[string]string{
		"progression.calf_strain.24m/load_up":     "one person's load was compared",
		"progression.calf_strain.24m/range_up":    "nobody's range was compared",
		"progression.meniscal_repair.24m/step_up": "one person had the injury",
	} {
		if _, ok := f[id]; ok {
			t.Errorf("%s is told, and %s", id, why)
		}
	}
}

func TestFirstStepByHand(t *testing.T) {
	in := made()
	in.Progress = append(steps(), warehouse.ProgressSum{EpisodeKey: 6, PersonKey: 11, InjuryType: "meniscal_repair", StartDate: start, LastDay: 20}, warehouse.ProgressSum{EpisodeKey: 5, PersonKey: 10, InjuryType: "calf_strain", StartDate: start, LastDay: 50})
	f := figures(t, in)
	// Of four: steps on days 14 and 28, one watched to day 50, a step on day 84.
	// 3/4 after 14, 1/2 after 28, 0 after 84.
	closeTo(t, "by week 4", f["progression.calf_strain.24m/first_step@w4"].Value, 0.5)
	if g, ok := f["progression.calf_strain.24m/first_step@w12"]; ok {
		t.Errorf("told at a week at which one is still at risk: %+v", g)
	}
	median := f["progression.calf_strain.24m/first_step_median_weeks"]
	closeTo(t, "median", median.Value, (28+84)/2.0/7) // level at a half from day 28 to 84
	if *median.Persons != 3 || *median.Episodes != 4 {
		t.Errorf("%+v", median)
	}
	curves, err := survival.AalenJohansen(survival.Data{Time: []float64{14, 28, 84, 50}, Event: []int{1, 1, 1, 0}, Person: []int{7, 7, 8, 10}}, 1, survival.Options{})
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "its lower limit", f["progression.calf_strain.24m/first_step@w4"].Low, curves[1].At(28).Low)
	none := f["progression.meniscal_repair.24m/first_step_median_weeks"]
	if none.Status != result.Withheld || none.Reason != "Not reached: by the end of follow-up 0 % had taken one." {
		t.Errorf("%+v", none)
	}
}

func number0(x float64) *float64 { return &x }

// follow makes an episode that is watched past its landmark.
func follow(key int) warehouse.DoseEpisode {
	return warehouse.DoseEpisode{EpisodeKey: key, PersonKey: key, StartDate: start, LandmarkDay: 14, Sets: number0(1), FollowDays: day(400), OutDay: 400, OutReason: "in_care"}
}

func TestPlansByHand(t *testing.T) {
	in := made()
	gone := follow(4)
	gone.ReturnDay = day(10)
	in.Doses = []warehouse.DoseEpisode{follow(1), follow(2), follow(3), gone}
	in.Plans = []warehouse.PlanDelivery{
		{EpisodeKey: 1, PersonKey: 1, InjuryType: "calf_strain", PlannedSessions: number0(4), Sessions: day(3), PlannedSets: number0(16), Sets: number0(9), PressureBouts: 2, PlannedPressure: number0(100), AppliedPressure: number0(110), TimedBouts: 1, PlannedSeconds: number0(240), InflatedMinutes: number0(6)},
		{EpisodeKey: 2, PersonKey: 2, InjuryType: "calf_strain", PlannedSessions: number0(6), Sessions: day(6), PlannedSets: number0(18), Sets: number0(18), PressureBouts: 1, PlannedPressure: number0(50), AppliedPressure: number0(40), TimedBouts: 2, PlannedSeconds: number0(360), InflatedMinutes: number0(5)},
		{EpisodeKey: 3, PersonKey: 3, InjuryType: "calf_strain", Sessions: day(5)},
		{EpisodeKey: 4, PersonKey: 4, InjuryType: "calf_strain", PlannedSessions: number0(4), Sessions: day(0), PlannedSets: number0(16), Sets: number0(0)},
	}
	f := figures(t, in)
	sessions := f["plan.calf_strain.24m/sessions_share"]
	closeTo(t, "sessions", sessions.Value, 9.0/10) // who had returned before the landmark is not among them
	if *sessions.Persons != 2 || *sessions.Episodes != 2 {
		t.Errorf("%+v", sessions)
	}
	// 3 sessions at 4 sets, 6 at 3: 30 intended.
	closeTo(t, "sets", f["plan.calf_strain.24m/sets_share"].Value, 27.0/30)
	pressure := f["plan.24m/pressure_share"]
	closeTo(t, "pressure", pressure.Value, 1)
	// Scores 10 and -10.
	closeTo(t, "its error", pressure.StdError, math.Sqrt(200*2)/150)
	closeTo(t, "minutes", f["plan.24m/minutes_share"].Value, 11.0/10)
}

func TestPlansThatAllHeld(t *testing.T) {
	in := made()
	for key := 1; key <= 2; key++ {
		in.Doses = append(in.Doses, follow(key))
		in.Plans = append(in.Plans, warehouse.PlanDelivery{EpisodeKey: key, PersonKey: key, PlannedSessions: number0(4), Sessions: day(4)})
	}
	g := figures(t, in)["plan.24m/sessions_share"]
	closeTo(t, "sessions", g.Value, 1)
	if g.Low != nil || g.High != nil || g.StdError != nil || g.Level != 0 || len(g.Warnings) != 1 {
		t.Errorf("%+v", g)
	}
}

func TestToleranceByHand(t *testing.T) {
	in := made()
	in.Tolerance = []warehouse.ToleranceSum{
		{PersonKey: 1, Exercise: "leg_press", Band: 0, Bouts: 10, EndedEarly: 0, Sessions: 2, Settled: 1},
		{PersonKey: 2, Exercise: "leg_press", Band: 0, Bouts: 10, EndedEarly: 0, Sessions: 2, Settled: 2},
		{PersonKey: 1, Exercise: "leg_press", Band: 3, Bouts: 6, EndedEarly: 2, Sessions: 1, Settled: 1},
		{PersonKey: 2, Exercise: "leg_press", Band: 3, Bouts: 4, EndedEarly: 0},
		{PersonKey: 2, Exercise: "step_up", Band: 3, Bouts: 5, EndedEarly: 1, Sessions: 3, Settled: 2},
	}
	f := figures(t, in)
	g := f["tolerance.by=60_to_80.leg_press.24m/ended_early"]
	closeTo(t, "ended early", g.Value, 200)
	if *g.Persons != 2 || g.Episodes != nil || *g.Exposure != 10 || g.ExposureUnit != "bouts" || g.Stratum != "60_to_80" || g.Measure != "leg_press" {
		t.Errorf("%+v", g)
	}
	closeTo(t, "of all exercises", f["tolerance.by=60_to_80.24m/ended_early"].Value, 200)
	closeTo(t, "settled", f["tolerance.by=60_to_80.24m/settled"].Value, 3.0/4)
	if _, ok := f["tolerance.by=60_to_80.leg_press.24m/settled"]; ok {
		t.Error("told of one person")
	}
	none := f["tolerance.by=without_cuff.leg_press.24m/ended_early"]
	// As if two persons had none of two: 1 - 1/(1 + t^2/2), t(1) = 12.7062.
	closeTo(t, "none ended, the limit", none.High, 1000*(1-1/(1+12.706204736174698*12.706204736174698/2)))
	if none.Value != nil || none.Low != nil || none.Status != result.Final || !strings.HasPrefix(none.Reason, "None in 20 bouts: up to 9") {
		t.Errorf("none of 20 bouts of two persons: %+v", none)
	}
	if _, ok := f["tolerance.by=under_40.24m/ended_early"]; ok {
		t.Error("a band that nobody worked in is told")
	}
}

func TestBandCodes(t *testing.T) {
	for band, want := range []string{"without_cuff", "under_40", "40_to_60", "60_to_80", "80_and_over"} {
		if got := bandCode([]int{40, 60, 80}, band); got != want {
			t.Errorf("band %d is %s, want %s", band, got, want)
		}
	}
	if got := bandCode([]int{50}, 2); got != "50_and_over" {
		t.Error(got)
	}
}

func TestNothingIsTold(t *testing.T) {
	if f := figures(t, made()); len(f) != 0 {
		t.Errorf("%d figures of nobody", len(f))
	}
	if _, err := Analyse(Input{}); err == nil {
		t.Error("no month, and no error")
	}
}
