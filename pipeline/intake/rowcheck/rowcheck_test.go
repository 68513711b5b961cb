package rowcheck_test

import (
	"database/sql/driver"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/rowcheck"
)

// made makes a row of a table from cells written as column=text.
func made(t *testing.T, table string, cells string) (rowcheck.Checker, []driver.Value) {
	t.Helper()
	def, ok := export.Find(table)
	if !ok {
		t.Fatalf("no table %s", table)
	}
	values := make([]driver.Value, len(def.Columns))
	for _, cell := range strings.Fields(cells) {
		name, text, _ := strings.Cut(cell, "=")
		at := slices.IndexFunc(def.Columns, func(c export.Column) bool { return c.Name == name })
		if at < 0 {
			t.Fatalf("no column %s in %s", name, table)
		}
		values[at] = value(t, def.Columns[at].Type, text)
	}
	return *rowcheck.For(def), values
}

func value(t *testing.T, as export.Type, text string) driver.Value {
	t.Helper()
	switch as {
	case export.Integer, export.Decimal:
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if as == export.Integer {
			return int32(v)
		}
		return int64(math.Round(v * 10_000))
	case export.Boolean:
		return text == "true"
	case export.Date:
		day, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return day
	default:
		return text
	}
}

// bothSides shows each rule a row that just breaks it and one that just does not.
var bothSides = []struct{ rule, breaks, keeps string }{
	{"bouts.pressure_percent:not_the_share", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=75.1", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=75"},
	{"bouts.pressure_percent:not_the_share", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=24.9", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=25"},
	{"bouts.pressure_percent:not_quite_the_share", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=55.1", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=55"},
	{"bouts.pressure_percent:not_quite_the_share", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=44.9", "applied_pressure_mmhg=100 occlusion_pressure_mmhg=200 pressure_percent=45"},
	{"bouts.applied_pressure_mmhg:far_above_full_pressure", "applied_pressure_mmhg=300.1 occlusion_pressure_mmhg=200", "applied_pressure_mmhg=300 occlusion_pressure_mmhg=200"},
	{"bouts.applied_pressure_mmhg:above_full_pressure", "exercise=leg_press applied_pressure_mmhg=200.1 occlusion_pressure_mmhg=200", "exercise=leg_press applied_pressure_mmhg=200 occlusion_pressure_mmhg=200"},
	{"bouts.applied_pressure_mmhg:above_full_pressure", "exercise=leg_press applied_pressure_mmhg=220 occlusion_pressure_mmhg=200", "exercise=passive_cuff applied_pressure_mmhg=220 occlusion_pressure_mmhg=200"},
	{"bouts.applied_pressure_mmhg:too_low_for_a_cuff", "applied_pressure_mmhg=19.9", "applied_pressure_mmhg=20"},
	{"bouts.applied_pressure_mmhg:too_low_for_a_cuff", "applied_pressure_mmhg=0.1", "applied_pressure_mmhg=0"},
	{"bouts.occlusion_pressure_mmhg:impossible_on_this_limb", "exercise=leg_press cuff_width_cm=10 occlusion_pressure_mmhg=500.1", "exercise=leg_press cuff_width_cm=9.9 occlusion_pressure_mmhg=500.1"},
	{"bouts.occlusion_pressure_mmhg:impossible_on_this_limb", "exercise=leg_press cuff_width_cm=10 occlusion_pressure_mmhg=59.9", "exercise=leg_press cuff_width_cm=10 occlusion_pressure_mmhg=60"},
	{"bouts.occlusion_pressure_mmhg:unusual_on_this_limb", "exercise=leg_press cuff_width_cm=11 occlusion_pressure_mmhg=300.1", "exercise=leg_press cuff_width_cm=11 occlusion_pressure_mmhg=300"},
	{"bouts.occlusion_pressure_mmhg:unusual_on_this_limb", "exercise=leg_press cuff_width_cm=11 occlusion_pressure_mmhg=109.9", "exercise=leg_press cuff_width_cm=11 occlusion_pressure_mmhg=110"},
	{"bouts.occlusion_pressure_mmhg:impossible_on_this_limb_arm", "exercise=row cuff_width_cm=6 occlusion_pressure_mmhg=400.1", "exercise=row cuff_width_cm=6 occlusion_pressure_mmhg=400"},
	{"bouts.occlusion_pressure_mmhg:unusual_on_this_limb_arm", "exercise=row cuff_width_cm=6 occlusion_pressure_mmhg=260.1", "exercise=row cuff_width_cm=6 occlusion_pressure_mmhg=260"},
	// 75 repetitions of 2 s and three rests of 30 s: 240 s are 4 minutes; half as much again 6, half 2.
	{"bouts.inflated_minutes:not_the_work_and_rests", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=6.1", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=6"},
	{"bouts.inflated_minutes:not_the_work_and_rests", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=1.9", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=2"},
	// Without the rests 150 s are 2.5 minutes; half as much again 3.75.
	{"bouts.inflated_minutes:not_the_work_and_rests", "mode=intermittent sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=3.8", "mode=intermittent sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=3.75"},
	{"bouts.inflated_minutes:not_the_work_and_rests", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=20", "mode=passive sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=20"},
	{"bouts.inflated_minutes:long_without_a_break", "mode=continuous inflated_minutes=10.1", "mode=continuous inflated_minutes=10"},
	{"bouts.inflated_minutes:long_without_a_break", "mode=continuous inflated_minutes=12", "mode=intermittent inflated_minutes=12"},
	{"bouts.cuff_inflated:inflated_though_not", "cuff_inflated=false inflated_minutes=0.1", "cuff_inflated=false inflated_minutes=0"},
	{"bouts.cuff_inflated:pressure_though_not", "cuff_inflated=false applied_pressure_mmhg=100", "cuff_inflated=true applied_pressure_mmhg=100"},
	{"bouts.reps:not_the_sum", "reps=74 reps_by_set=30/15/15/15", "reps=75 reps_by_set=30/15/15/15"},
	{"bouts.sets:not_the_number", "sets=3 reps_by_set=30/15/15/15", "sets=4 reps_by_set=30/15/15/15"},
	{"bouts.reps:fewer_than_sets", "sets=4 reps=3", "sets=4 reps=4"},
	{"bouts.reps:fewer_than_sets", "sets=4 reps=3", "sets=4 reps=0"},
	{"bouts.reps_by_set:too_many_in_a_set", "reps_by_set=30/151", "reps_by_set=30/150"},
	{"bouts.reps_by_set:many_in_a_set", "reps_by_set=51/15", "reps_by_set=50/15"},
	{"bouts.load_percent_1rm:beyond_the_maximum", "load_percent_1rm=100.1 reps=60", "load_percent_1rm=100 reps=60"},
	{"bouts.load_percent_1rm:beyond_the_maximum", "load_percent_1rm=120 reps=60", "load_percent_1rm=120 reps=59"},
	{"bouts.load_percent_1rm:looks_like_a_share_of_1", "load_percent_1rm=1", "load_percent_1rm=1.1"},
	{"bouts.pressure_percent:looks_like_a_share_of_1", "pressure_percent=0.6", "pressure_percent=0"},
	{"bouts.mode:passive_with_repetitions", "mode=passive reps=1", "mode=passive reps=0"},
	{"plans.load_percent_1rm:looks_like_a_share_of_1", "load_percent_1rm=0.3", "load_percent_1rm=30"},
	{"plans.pressure_percent:looks_like_a_share_of_1", "pressure_percent=0.5", "pressure_percent=50"},
	{"plans.cuff_inflated:pressure_though_not", "cuff_inflated=false pressure_percent=50", "cuff_inflated=false pressure_percent=0"},
	{"sessions.diastolic_mmhg:not_below_systolic", "systolic_mmhg=120 diastolic_mmhg=120", "systolic_mmhg=120 diastolic_mmhg=119"},
	{"sessions.diastolic_mmhg:close_to_systolic", "systolic_mmhg=120 diastolic_mmhg=106", "systolic_mmhg=120 diastolic_mmhg=105"},
	{"sessions.attendance:recorded_though_absent", "attendance=missed minutes=30", "attendance=missed minutes=0"},
	{"sessions.cancelled_by:not_cancelled", "attendance=missed cancelled_by=person", "attendance=cancelled cancelled_by=person"},
	{"sessions.stop_reason:not_stopped", "stopped_early=false stop_reason=pain", "stopped_early=true stop_reason=pain"},
	{"episodes.recurrence_of:its_own", "episode_id=e1 recurrence_of=e1", "episode_id=e1 recurrence_of=e2"},
	{"episodes.end_date:ends_before_start", "start_date=2026-01-02 end_date=2026-01-01", "start_date=2026-01-02 end_date=2026-01-02"},
	{"episodes.start_date:starts_before_onset", "start_date=2026-01-01 onset_date=2026-01-02", "start_date=2026-01-02 onset_date=2026-01-02"},
	{"episodes.start_date:starts_before_referral", "start_date=2026-01-01 referred_date=2026-01-02", "start_date=2026-01-02 referred_date=2026-01-02"},
	{"episodes.surgery_date:before_onset", "surgery_date=2026-01-01 onset_date=2026-01-02", "surgery_date=2026-01-02 onset_date=2026-01-02"},
	{"episodes.end_date:ends_before_screening", "end_date=2026-01-01 screened_on=2026-01-02", "end_date=2026-01-02 screened_on=2026-01-02"},
	{"episodes.worse_side:not_bilateral", "side=left worse_side=left", "side=bilateral worse_side=left"},
	{"episodes.target_stage:another_ladder", "injury_type=calf_strain target_stage=arm_daily_use", "injury_type=calf_strain target_stage=usual_work"},
	{"episodes.target_stage:another_ladder", "injury_type=calf_strain target_stage=arm_daily_use", "injury_type=rotator_cuff_tendinopathy target_stage=arm_daily_use"},
	{"episodes.stage_at_start:another_ladder", "injury_type=rotator_cuff_tendinopathy stage_at_start=walking", "injury_type=calf_strain stage_at_start=walking"},
	{"measurements.value:looks_like_inches", "measure=girth_thigh_10 value=22", "measure=girth_thigh_10 value=30"},
	{"measurements.value:looks_like_inches", "measure=girth_thigh_10 value=22", "measure=girth_thigh_10 value=22 unit=[in_i]"},
	{"measurements.value:looks_like_millimetres", "measure=girth_calf value=360", "measure=girth_calf value=36 unit=cm"},
	{"measurements.value:looks_like_metres", "measure=girth_calf value=0.36", "measure=girth_calf value=36"},
	{"measurements.value:looks_like_pounds", "measure=body_mass value=161", "measure=body_mass value=160"},
	{"measurements.value:looks_like_newtons", "measure=strength_grip value=300", "measure=strength_grip value=30"},
	{"measurements.value:looks_like_kilograms", "measure=strength_knee_extension value=40", "measure=strength_knee_extension value=400"},
	{"measurements.value:looks_like_pounds_of_force", "measure=strength_knee_extension value=49.9", "measure=strength_knee_extension value=50"},
	{"measurements.value:looks_like_milliseconds", "measure=hop_timed_6m value=2100", "measure=hop_timed_6m value=2.1"},
	{"measurements.side:missing_for_a_limb", "measure=girth_calf side=none", "measure=lefs side=none"},
	{"milestones.not_yet_on:not_before_reached", "not_yet_on=2026-01-02 reached_on=2026-01-02", "not_yet_on=2026-01-01 reached_on=2026-01-02"},
	{"followups.reached:answered_though_not_stage", "reached=false stage=walking", "reached=true stage=walking"},
	{"followups.reached:answered_though_not_symptoms", "reached=false symptoms_since=true", "reached=true symptoms_since=true"},
	{"adverse_events.aware_date:before_onset", "aware_date=2026-01-01 onset_date=2026-01-02", "aware_date=2026-01-02 onset_date=2026-01-02"},
	{"adverse_events.reported_date:before_aware", "reported_date=2026-01-01 aware_date=2026-01-02", "reported_date=2026-01-02 aware_date=2026-01-02"},
	{"adverse_events.resolved_date:before_onset", "resolved_date=2026-01-01 onset_date=2026-01-02", "resolved_date=2026-01-02 onset_date=2026-01-02"},
	{"adverse_events.grade:fatal_below_5", "grade=4 outcome=fatal", "grade=5 outcome=fatal"},
	{"adverse_events.grade:grade_5_not_fatal", "grade=5 outcome=recovered", "grade=5 outcome=fatal"},
	{"adverse_events.serious:grade_4_not_serious", "grade=4 serious=false", "grade=3 serious=false"},
	{"adverse_events.serious:criteria_though_not", "serious=false serious_criteria=death", "serious=true serious_criteria=death"},
	{"adverse_events.resolved_date:resolved_though_not", "resolved_date=2026-01-02 outcome=not_recovered", "resolved_date=2026-01-02 outcome=recovered"},
}

func TestBothSides(t *testing.T) {
	shown := map[string]bool{}
	for _, c := range bothSides {
		table, _, _ := strings.Cut(c.rule, ".")
		shown[c.rule] = true
		for _, side := range []struct {
			cells string
			want  bool
		}{{c.breaks, true}, {c.keeps, false}} {
			checker, values := made(t, table, side.cells)
			found := false
			for _, f := range checker.Check(values) {
				found = found || table+"."+f.Column+":"+f.Code == c.rule
				if f.Words == "" || f.About == "" || strings.HasSuffix(f.Words, ".") || strings.Contains(f.Words, "%!") {
					t.Errorf("%s of %q says %q", f.Code, side.cells, f.Words)
				}
			}
			if found != side.want {
				t.Errorf("%s of %q: found %t, want %t", c.rule, side.cells, found, side.want)
			}
		}
	}
	for _, r := range rowcheck.Rules() {
		if id := r.Table + "." + r.Column + ":" + r.Code; !shown[id] {
			t.Errorf("%s is shown no row on either side", id)
		}
		if r.Source == "" || r.About == "" {
			t.Errorf("%s.%s:%s has no source or words", r.Table, r.Column, r.Code)
		}
		if r.Table == "adverse_events" && r.Reject {
			t.Errorf("%s rejects rows of adverse_events", r.Code)
		}
	}
}

// TestColumnsExist holds what the rules name against the tables, and shows every
// rule a row without any cell, on which none has anything to say.
func TestColumnsExist(t *testing.T) {
	for _, r := range rowcheck.Rules() {
		def, ok := export.Find(r.Table)
		if !ok {
			t.Fatalf("no table %s", r.Table)
		}
		if _, ok := def.Column(r.Column); !ok {
			t.Errorf("no column %s in %s", r.Column, r.Table)
		}
	}
	for _, def := range export.Tables() {
		if found := rowcheck.For(def).Check(make([]driver.Value, len(def.Columns))); len(found) > 0 {
			t.Errorf("%s: an empty row has findings %v", def.Name, found)
		}
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct{ table, cells, want string }{
		{"bouts", "applied_pressure_mmhg=90 occlusion_pressure_mmhg=150 pressure_percent=90", "90 % stated, but 90 of 150 mmHg are 60 %"},
		{"bouts", "mode=continuous sets=4 reps=75 seconds_per_rep=2 rest_seconds=30 inflated_minutes=9", "9 minutes inflated, but the work and its rests come to 4.0"},
		{"sessions", "systolic_mmhg=80 diastolic_mmhg=120", "80/120: the diastolic pressure must lie below the systolic"},
		{"measurements", "measure=girth_thigh_10 value=22", "22 cm are unusual for girth_thigh_10; 22 inches would be 55.88 cm"},
		{"bouts", "applied_pressure_mmhg=12", "12 mmHg hold no cuff; 12 kPa would be 90 mmHg"},
	} {
		checker, values := made(t, c.table, c.cells)
		found := checker.Check(values)
		if len(found) == 0 || found[0].Words != c.want {
			t.Errorf("%s: %v, want %q", c.cells, found, c.want)
		}
	}
}

func TestSlip(t *testing.T) {
	for _, c := range []struct {
		measure string
		value   int64
		want    string
	}{
		{"girth_calf", 14 * 10_000, "if it is in inches, it is 35.56 cm"},
		{"girth_calf", 360 * 10_000, "if it is in millimetres, it is 36 cm"},
		{"girth_calf", 5000 * 10_000, ""},
		{"no_such_measure", 1, ""},
	} {
		if got := rowcheck.Slip(c.measure, c.value); got != c.want {
			t.Errorf("%s %d: %q, want %q", c.measure, c.value, got, c.want)
		}
	}
}

// BenchmarkCheck checks a row of the widest table, fully filled and in order.
func BenchmarkCheck(b *testing.B) {
	def, _ := export.Find("bouts")
	values := make([]driver.Value, len(def.Columns))
	for name, v := range map[string]driver.Value{
		"exercise": "leg_press", "sets": int32(4), "reps": int32(75), "reps_by_set": "30/15/15/15", "seconds_per_rep": int64(20_000), "rest_seconds": int64(300_000), "mode": "continuous",
		"load_percent_1rm": int64(300_000), "cuff_inflated": true, "occlusion_pressure_mmhg": int64(2_000_000), "applied_pressure_mmhg": int64(1_200_000), "pressure_percent": int64(600_000), "cuff_width_cm": int64(110_000), "inflated_minutes": int64(40_000),
	} {
		values[slices.IndexFunc(def.Columns, func(c export.Column) bool { return c.Name == name })] = v
	}
	checker := rowcheck.For(def)
	if found := checker.Check(values); len(found) > 0 {
		b.Fatal(fmt.Sprint(found))
	}
	b.ReportAllocs()
	for b.Loop() {
		checker.Check(values)
	}
}
