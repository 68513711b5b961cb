package practice

import (
	"strconv"

	"evenlimb/seeds/reference"
)

// injury holds the parameters of one injury type. Rates are per week.
type injury struct {
	code     string
	share    float64 // relative number of index episodes
	median   float64 // days to the target for a moderate case at a usual dose
	shape    float64 // Weibull shape of the progress needed
	surgery  float64
	again    float64 // new injury to the same structure
	giveUp   float64 // decision not to return
	mayNot   float64 // may not continue
	atTarget float64 // share already at the target at start
	both     float64 // share with both sides involved
	falls14  float64 // share of returns lost again within 14 days
	falls28  float64 // share lost again from day 15 to 27
	recurs   float64 // new episodes per year after the quiet time

	strength  string  // the measure of strength
	level     float64 // typical value of the uninvolved side
	deficit   float64 // log deficit of the involved side at start
	girth     string
	around    float64 // typical girth of the uninvolved side, cm
	thinner   float64 // cm by which the involved side is thinner at start
	score     string
	exercises []string // with the cuff, by order of choice
	others    []string // without

	// From the reference tables.
	region   string
	kind     string
	landmark int // days
	target   string
	gap      int
}

// injuries is the made-up practice's own mix; the last type is rare on purpose.
var injuries = []injury{
	{
		code: "calf_strain", share: 0.165, median: 40, shape: 2.0, surgery: 0.0002, again: 0.003, giveUp: 0.002, mayNot: 0.001,
		atTarget: 0.03, falls14: 0.05, falls28: 0.03, recurs: 0.16,
		strength: "strength_plantarflexion", level: 1150, deficit: 0.34, girth: "girth_calf", around: 37, thinner: 0.9, score: "lefs",
		exercises: []string{"heel_raise_standing", "heel_raise_seated", "calf_press", "leg_press"}, others: []string{"balance_reach", "step_up", "bridge"},
	},
	{
		code: "lateral_elbow_tendinopathy", share: 0.155, median: 112, shape: 1.7, surgery: 0.002, again: 0.001, giveUp: 0.004, mayNot: 0.001,
		atTarget: 0.10, both: 0.04, falls14: 0.05, falls28: 0.03, recurs: 0.14,
		strength: "strength_grip", level: 38, deficit: 0.38, girth: "girth_forearm", around: 27.5, thinner: 0.5, score: "quickdash",
		exercises: []string{"wrist_extension", "grip_squeeze", "wrist_flexion", "elbow_flexion"}, others: []string{"forearm_rotation", "row", "shoulder_external_rotation"},
	},
	{
		code: "achilles_tendinopathy", share: 0.115, median: 126, shape: 1.8, surgery: 0.001, again: 0.0015, giveUp: 0.004, mayNot: 0.001,
		atTarget: 0.12, both: 0.06, falls14: 0.05, falls28: 0.03, recurs: 0.15,
		strength: "strength_plantarflexion", level: 1120, deficit: 0.30, girth: "girth_calf", around: 36.5, thinner: 0.9, score: "visa_a",
		exercises: []string{"heel_raise_standing", "heel_raise_seated", "calf_press", "leg_press"}, others: []string{"balance_reach", "split_squat", "bridge"},
	},
	{
		code: "ankle_lateral_sprain", share: 0.105, median: 42, shape: 1.8, surgery: 0.0004, again: 0.004, giveUp: 0.002, mayNot: 0.001,
		atTarget: 0.03, falls14: 0.05, falls28: 0.03, recurs: 0.18,
		strength: "strength_plantarflexion", level: 1100, deficit: 0.28, girth: "girth_calf", around: 36.5, thinner: 0.7, score: "faam_sport",
		exercises: []string{"heel_raise_seated", "heel_raise_standing", "leg_press", "calf_press"}, others: []string{"balance_reach", "step_up", "hip_hinge"},
	},
	{
		code: "hamstring_strain", share: 0.10, median: 36, shape: 2.0, surgery: 0.0003, again: 0.004, giveUp: 0.001, mayNot: 0.001,
		atTarget: 0.02, falls14: 0.06, falls28: 0.03, recurs: 0.18,
		strength: "strength_knee_flexion", level: 270, deficit: 0.36, girth: "girth_thigh_15", around: 54, thinner: 1.1, score: "lefs",
		exercises: []string{"leg_curl", "bridge", "hip_hinge", "leg_press"}, others: []string{"step_up", "balance_reach", "split_squat"},
	},
	{
		code: "rotator_cuff_tendinopathy", share: 0.10, median: 119, shape: 1.7, surgery: 0.0025, again: 0.001, giveUp: 0.005, mayNot: 0.001,
		atTarget: 0.09, both: 0.04, falls14: 0.05, falls28: 0.03, recurs: 0.13,
		strength: "strength_shoulder_external_rotation", level: 110, deficit: 0.36, girth: "girth_arm", around: 31, thinner: 0.8, score: "dash",
		exercises: []string{"elbow_flexion", "elbow_extension", "row", "overhead_press"}, others: []string{"shoulder_external_rotation", "wrist_extension", "forearm_rotation"},
	},
	{
		code: "anterior_cruciate_reconstruction", share: 0.08, median: 252, shape: 2.8, surgery: 0.001, again: 0.0015, giveUp: 0.003, mayNot: 0.0005,
		atTarget: 0, falls14: 0.04, falls28: 0.03, recurs: 0.08,
		strength: "strength_knee_extension", level: 430, deficit: 0.60, girth: "girth_thigh_10", around: 49, thinner: 2.6, score: "ikdc_subjective",
		exercises: []string{"knee_extension", "leg_press", "split_squat", "step_up"}, others: []string{"bridge", "balance_reach", "hip_hinge"},
	},
	{
		code: "patellar_tendinopathy", share: 0.065, median: 126, shape: 1.8, surgery: 0.001, again: 0.001, giveUp: 0.004, mayNot: 0.001,
		atTarget: 0.12, both: 0.06, falls14: 0.05, falls28: 0.03, recurs: 0.14,
		strength: "strength_knee_extension", level: 450, deficit: 0.30, girth: "girth_thigh_10", around: 49, thinner: 1.1, score: "visa_p",
		exercises: []string{"knee_extension", "leg_press", "split_squat", "step_up"}, others: []string{"balance_reach", "hip_hinge", "bridge"},
	},
	{
		code: "knee_collateral_sprain", share: 0.06, median: 63, shape: 1.9, surgery: 0.001, again: 0.002, giveUp: 0.002, mayNot: 0.001,
		atTarget: 0.02, falls14: 0.05, falls28: 0.03, recurs: 0.10,
		strength: "strength_knee_extension", level: 430, deficit: 0.38, girth: "girth_thigh_10", around: 49, thinner: 1.5, score: "lefs",
		exercises: []string{"knee_extension", "leg_press", "sit_to_stand", "step_up"}, others: []string{"bridge", "balance_reach", "hip_hinge"},
	},
	{
		code: "distal_radius_fixation", share: 0.0525, median: 98, shape: 2.0, surgery: 0.001, again: 0.0005, giveUp: 0.002, mayNot: 0.0005,
		atTarget: 0, falls14: 0.04, falls28: 0.02, recurs: 0.03,
		strength: "strength_grip", level: 34, deficit: 0.70, girth: "girth_forearm", around: 26.5, thinner: 1.1, score: "dash",
		exercises: []string{"grip_squeeze", "wrist_extension", "wrist_flexion", "elbow_flexion"}, others: []string{"forearm_rotation", "elbow_extension", "row"},
	},
	{
		code: "distal_biceps_repair", share: 0.0025, median: 126, shape: 2.0, surgery: 0.001, again: 0.0005, giveUp: 0.002, mayNot: 0.0005,
		atTarget: 0, falls14: 0.04, falls28: 0.02, recurs: 0.02,
		strength: "strength_elbow_flexion", level: 240, deficit: 0.55, girth: "girth_arm", around: 33, thinner: 1.2, score: "dash",
		exercises: []string{"elbow_flexion", "grip_squeeze", "wrist_flexion", "row"}, others: []string{"forearm_rotation", "elbow_extension", "wrist_extension"},
	},
}

// injuryTable fills in what the reference tables say, so that landmarks and
// targets are the ones the practice's settings start from.
func injuryTable() []injury {
	table := make([]injury, len(injuries))
	copy(table, injuries)
	for i := range table {
		in := &table[i]
		cell := func(column string) string {
			text, _ := reference.Cell("injury_types", in.code, column)
			return text
		}
		in.region, in.kind, in.target = cell("region"), cell("kind"), cell("default_target_stage")
		in.landmark = whole(cell("landmark_days"))
		in.gap = whole(cell("contact_gap_days"))
	}
	return table
}

func whole(text string) int {
	n, err := strconv.Atoi(text)
	if err != nil {
		panic("reference table without a number: " + text) // the tables are compiled in and tested
	}
	return n
}

// stage is a place on a ladder of activity.
type stage struct {
	code   string
	ladder string
	rank   int
}

func stageTable() map[string][]stage {
	ladders := map[string][]stage{}
	for _, code := range reference.Codes("stages") {
		ladder, _ := reference.Cell("stages", code, "ladder")
		rank, _ := reference.Cell("stages", code, "rank")
		ladders[ladder] = append(ladders[ladder], stage{code, ladder, whole(rank)})
	}
	return ladders
}
