package rowcheck

import (
	"fmt"
	"strconv"
	"strings"

	"evenlimb/seeds/reference"
)

var boutRules = []rule{
	{
		table: "bouts", column: "pressure_percent", code: "not_the_share", reject: true,
		about:  "the stated percentage is more than 25 points away from applied over full occlusion pressure",
		source: practiceSets,
		reads:  []string{"applied_pressure_mmhg", "occlusion_pressure_mmhg", "pressure_percent"},
		broken: func(r *row) bool { return shareOff(r) > 25*unit },
		words:  shareWords,
	},
	{
		table: "bouts", column: "pressure_percent", code: "not_quite_the_share",
		about:  "the stated percentage is more than 5 points away from applied over full occlusion pressure",
		source: practiceSets,
		reads:  []string{"applied_pressure_mmhg", "occlusion_pressure_mmhg", "pressure_percent"},
		broken: func(r *row) bool { return shareOff(r) > 5*unit && shareOff(r) <= 25*unit },
		words:  shareWords,
	},
	{
		table: "bouts", column: "applied_pressure_mmhg", code: "far_above_full_pressure", reject: true,
		about:  "the pressure applied is more than one and a half times full occlusion pressure",
		source: practiceSets,
		reads:  []string{"applied_pressure_mmhg", "occlusion_pressure_mmhg"},
		broken: func(r *row) bool { return 2*r.number(0) > 3*r.number(1) },
		words:  pressureWords,
	},
	{
		table: "bouts", column: "applied_pressure_mmhg", code: "above_full_pressure",
		about:  "the pressure applied in exercise is above full occlusion pressure",
		source: practiceSets,
		reads:  []string{"applied_pressure_mmhg", "occlusion_pressure_mmhg", "exercise"},
		broken: func(r *row) bool {
			return r.number(0) > r.number(1) && 2*r.number(0) <= 3*r.number(1) && r.exercise(2).class != "passive"
		},
		words: pressureWords,
	},
	{
		table: "bouts", column: "applied_pressure_mmhg", code: "too_low_for_a_cuff", reject: true,
		about:  "a pressure above 0 and below 20 mmHg holds no cuff; it may be in kPa",
		source: practiceSets,
		reads:  []string{"applied_pressure_mmhg"},
		broken: func(r *row) bool { return r.number(0) > 0 && r.number(0) < 20*unit },
		words: func(r *row) string {
			return fmt.Sprintf("%s mmHg hold no cuff; %s kPa would be %.0f mmHg", plain(r.number(0)), plain(r.number(0)), float64(r.number(0))/unit*7.50062)
		},
	},
	occlusion("lower_limb", true, 60, 110, 300, 500),
	occlusion("lower_limb", false, 60, 110, 300, 500),
	occlusion("upper_limb", true, 50, 90, 260, 400),
	occlusion("upper_limb", false, 50, 90, 260, 400),
	{
		table: "bouts", column: "inflated_minutes", code: "not_the_work_and_rests",
		about:  "the minutes inflated are more than half as much again, or as little, as repetitions, their seconds and the rests between sets come to",
		source: "time of work and rests; the half: " + practiceSets,
		reads:  []string{"inflated_minutes", "sets", "reps", "seconds_per_rep", "rest_seconds", "mode"},
		broken: func(r *row) bool {
			minutes, computed := float64(r.number(0)), boutSeconds(r)/60*unit
			return minutes > 0 && computed > 0 && (minutes > 1.5*computed || minutes < 0.5*computed)
		},
		words: func(r *row) string {
			return fmt.Sprintf("%s minutes inflated, but the work and its rests come to %.1f", plain(r.number(0)), boutSeconds(r)/60)
		},
	},
	{
		table: "bouts", column: "inflated_minutes", code: "long_without_a_break",
		about:  "the cuff was inflated for more than 10 minutes on end",
		source: practiceSets,
		reads:  []string{"inflated_minutes", "mode"},
		broken: func(r *row) bool { return r.text(1) == "continuous" && r.number(0) > 10*unit },
	},
	{
		table: "bouts", column: "cuff_inflated", code: "inflated_though_not",
		about:  "the cuff is said not to have been inflated, but minutes inflated are recorded",
		source: "the meaning of the columns",
		reads:  []string{"cuff_inflated", "inflated_minutes"},
		broken: func(r *row) bool { return !r.is(0) && r.number(1) > 0 },
	},
	{
		table: "bouts", column: "cuff_inflated", code: "pressure_though_not",
		about:  "the cuff is said not to have been inflated, but a pressure is recorded",
		source: "the meaning of the columns",
		reads:  []string{"cuff_inflated", "applied_pressure_mmhg"},
		broken: func(r *row) bool { return !r.is(0) && r.number(1) > 0 },
	},
	{
		table: "bouts", column: "reps", code: "not_the_sum",
		about:  "the repetitions are not the sum of the repetitions by set",
		source: "the meaning of the columns",
		reads:  []string{"reps", "reps_by_set"},
		broken: func(r *row) bool { return r.number(0) != r.sets(1).total*unit },
		words: func(r *row) string {
			return fmt.Sprintf("%s repetitions, but %s are %d", plain(r.number(0)), r.text(1), r.sets(1).total)
		},
	},
	{
		table: "bouts", column: "sets", code: "not_the_number",
		about:  "the sets are not as many as the repetitions by set name",
		source: "the meaning of the columns",
		reads:  []string{"sets", "reps_by_set"},
		broken: func(r *row) bool { return r.number(0) != r.sets(1).count*unit },
		words: func(r *row) string {
			return fmt.Sprintf("%s sets, but %s are %d", plain(r.number(0)), r.text(1), r.sets(1).count)
		},
	},
	{
		table: "bouts", column: "reps", code: "fewer_than_sets",
		about:  "there are fewer repetitions than sets",
		source: "the meaning of the columns",
		reads:  []string{"reps", "sets"},
		broken: func(r *row) bool { return r.number(0) > 0 && r.number(0) < r.number(1) },
	},
	{
		table: "bouts", column: "reps_by_set", code: "too_many_in_a_set", reject: true,
		about:  "a set has more than 150 repetitions",
		source: practiceSets,
		reads:  []string{"reps_by_set"},
		broken: func(r *row) bool { return r.sets(0).most > 150 },
	},
	{
		table: "bouts", column: "reps_by_set", code: "many_in_a_set",
		about:  "a set has more than 50 repetitions",
		source: practiceSets,
		reads:  []string{"reps_by_set"},
		broken: func(r *row) bool { m := r.sets(0).most; return m > 50 && m <= 150 },
	},
	{
		table: "bouts", column: "load_percent_1rm", code: "beyond_the_maximum", reject: true,
		about:  "more than the one-repetition maximum cannot be moved 60 times",
		source: "the meaning of the columns; the 60: " + practiceSets,
		reads:  []string{"load_percent_1rm", "reps"},
		broken: func(r *row) bool { return r.number(0) > 100*unit && r.number(1) >= 60*unit },
	},
	fraction("bouts", "load_percent_1rm"),
	fraction("bouts", "pressure_percent"),
	{
		table: "bouts", column: "mode", code: "passive_with_repetitions",
		about:  "the pressure is said to be passive, but repetitions are recorded",
		source: "the meaning of the columns",
		reads:  []string{"mode", "reps"},
		broken: func(r *row) bool { return r.text(0) == "passive" && r.number(1) > 0 },
	},
}

// fraction finds shares of 1 in a column of percent.
func fraction(table, column string) rule {
	return rule{
		table: table, column: column, code: "looks_like_a_share_of_1",
		about:  "a value above 0 and not above 1 looks like a share of 1; the column is in percent",
		source: practiceSets,
		reads:  []string{column},
		broken: func(r *row) bool { return r.number(0) > 0 && r.number(0) <= unit },
	}
}

// occlusion holds a full occlusion pressure against what is found on a limb
// under a cuff of 10 cm or more on the leg, and of any width on the arm; narrow
// cuffs on a leg need far more.
func occlusion(region string, reject bool, low, from, to, high int64) rule {
	r := rule{
		table: "bouts", column: "occlusion_pressure_mmhg", code: "unusual_on_this_limb",
		about:  fmt.Sprintf("the full occlusion pressure lies outside the usual %d to %d mmHg of this limb and cuff", from, to),
		source: practiceSets,
		reads:  []string{"occlusion_pressure_mmhg", "exercise", "cuff_width_cm"},
	}
	odd := func(v int64) bool { return v < from*unit || v > to*unit }
	slip := func(v int64) bool { return v < low*unit || v > high*unit }
	of := func(r *row) bool {
		return r.exercise(1).region == region && (region == "upper_limb" || r.number(2) >= 10*unit)
	}
	if region == "upper_limb" {
		r.code += "_arm"
	}
	if reject {
		r.code, r.reject = strings.Replace(r.code, "unusual", "impossible", 1), true
		r.about = fmt.Sprintf("a full occlusion pressure outside %d to %d mmHg on this limb and cuff can only be a slip", low, high)
		r.broken = func(r *row) bool { return slip(r.number(0)) && of(r) }
		return r
	}
	r.broken = func(r *row) bool { return odd(r.number(0)) && !slip(r.number(0)) && of(r) }
	return r
}

// shareOff is how many points the stated percentage is away from the pressure
// applied as a share of full occlusion pressure, rounded down.
func shareOff(r *row) int64 {
	full := r.number(1)
	if full == 0 {
		return 0
	}
	off := (r.number(0)*100*unit - r.number(2)*full) / full
	return max(off, -off)
}

func shareWords(r *row) string {
	return fmt.Sprintf("%s %% stated, but %s of %s mmHg are %.0f %%", plain(r.number(2)), plain(r.number(0)), plain(r.number(1)), 100*float64(r.number(0))/float64(r.number(1)))
}

func pressureWords(r *row) string {
	return fmt.Sprintf("%s mmHg applied where %s mmHg close the vessels", plain(r.number(0)), plain(r.number(1)))
}

// boutSeconds is how long the cuff was inflated by the work: with the rests
// between sets where the pressure was kept, without them where it was let off.
func boutSeconds(r *row) float64 {
	work := float64(r.number(2)) / unit * float64(r.number(3)) / unit
	switch r.text(5) {
	case "continuous":
		return work + float64(max(r.number(1)/unit-1, 0))*float64(r.number(4))/unit
	case "intermittent":
		return work
	default:
		return 0
	}
}

// bySet takes apart repetitions by set, whose form has been checked.
func bySet(text string) (s sets) {
	n := int64(0)
	for i := range len(text) + 1 {
		if i < len(text) && text[i] != '/' {
			n = n*10 + int64(text[i]-'0')
			continue
		}
		s.count, s.total, s.most = s.count+1, s.total+n, max(s.most, n)
		n = 0
	}
	return s
}

// sets are the repetitions of some sets.
type sets struct{ count, total, most int64 }

// exercises are the exercises of the code table.
var exercises = func() map[string]exercise {
	all := map[string]exercise{}
	for _, code := range reference.Codes("exercises") {
		region, _ := reference.Cell("exercises", code, "region")
		class, _ := reference.Cell("exercises", code, "class")
		all[code] = exercise{region, class}
	}
	return all
}()

type exercise struct{ region, class string }

// plain writes a number as it stood in the cell.
func plain(v int64) string { return strconv.FormatFloat(float64(v)/unit, 'f', -1, 64) }
