package settings

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/reference"
)

// kind is what may stand behind a key.
type kind int

const (
	text kind = iota
	integer
	boolean
	texts
	integers
)

func (k kind) String() string {
	return [...]string{"a text in quotes", "a whole number", "true or false", "a list of texts", "a list of whole numbers"}[k]
}

// repeat is how often a section may stand.
type repeat int

const (
	once    repeat = iota // [section]
	listed                // [[section]], any number
	perCode               // [section.CODE], for codes of a code table
)

// section is one section of practice.toml.
type section struct {
	name    string
	about   string
	repeat  repeat
	table   string // the table of schema settings it becomes; empty: it reaches no query
	least   int    // how often a listed section must stand
	keys    []key
	example []string // lines of the starter file for a section that repeats
}

// key is one key of a section.
type key struct {
	name  string
	kind  kind
	about string
	def   any      // the default; nil where the practice must say
	start string   // what the starter file says for a key that has no default
	low   int      // limits of whole numbers
	high  int      //
	words []string // the only texts allowed
	check func(string) string
	field func(owner any) any // where it is kept: a pointer into the section's struct
}

// ofCodeTable is the default of a key that overrides a cell of a code table.
type ofCodeTable struct{}

// sections is the one table of all settings.
var sections = []section{
	{
		name: "practice", table: "practice",
		about: "The practice.",
		keys: []key{
			{name: "name", kind: text, start: "The name of the practice", about: "The name as reports print it.", field: in(func(p *Practice) any { return &p.Name })},
			{name: "code", kind: text, start: "practice", check: checkCode, about: "A short code of letters, digits, _ and -.", field: in(func(p *Practice) any { return &p.Code })},
			{name: "time_zone", kind: text, def: "UTC", check: checkZone, about: "The time zone whose dates the practice lives by, such as Europe/Lisbon.", field: in(func(p *Practice) any { return &p.TimeZone })},
			{name: "made_up", kind: boolean, def: false, about: "Whether the practice is invented; then every page says so.", field: in(func(p *Practice) any { return &p.MadeUp })},
		},
	},
	{
		name: "sites", table: "sites", repeat: listed, least: 1,
		about: "The sites, one section each, and who may send rows for them.",
		keys: []key{
			{name: "code", kind: text, check: checkCode, about: "The code that stands in the column site.", field: in(func(s *Site) any { return &s.Code })},
			{name: "label", kind: text, about: "The name as reports print it.", field: in(func(s *Site) any { return &s.Label })},
			{name: "senders", kind: texts, check: checkCode, about: "The folders under inbox/ whose files may hold rows of this site.", field: in(func(s *Site) any { return &s.Senders })},
		},
		example: []string{"[[sites]]", `code = "main"`, `label = "Main site"`, `senders = ["main"]`},
	},
	{
		name: "ways", table: "ways", repeat: listed,
		about: "The named ways of treating that the column plan_code may hold, one section each.",
		keys: []key{
			{name: "code", kind: text, check: checkCode, about: "The code that stands in the column plan_code.", field: in(func(w *Way) any { return &w.Code })},
			{name: "label", kind: text, about: "The name as reports print it.", field: in(func(w *Way) any { return &w.Label })},
		},
		example: []string{"# [[ways]]", `# code = "usual"`, `# label = "Usual care of this practice"`},
	},
	{
		name: "return", table: "return_rules",
		about: "How the return to activity is counted.",
		keys: []key{
			{name: "window_months", kind: integer, def: 24, low: 3, high: 120, about: "Months of starts of care, to the month's end, that a report looks at.", field: in(func(p *Practice) any { return &p.Return.WindowMonths })},
			{name: "hold_days", kind: integer, def: 14, low: 0, high: 365, about: "Days for which a stage must not be lost again to count as a return.", field: in(func(p *Practice) any { return &p.Return.HoldDays })},
			{name: "hold_days_short", kind: integer, def: 0, low: 0, high: 365, about: "The shorter hold of the sensitivity.", field: in(func(p *Practice) any { return &p.Return.HoldDaysShort })},
			{name: "hold_days_long", kind: integer, def: 28, low: 0, high: 365, about: "The longer hold of the sensitivity.", field: in(func(p *Practice) any { return &p.Return.HoldDaysLong })},
			{name: "target_by_day", kind: integer, def: 28, low: 0, high: 365, about: "Day of care on which the target in force is the one judged by.", field: in(func(p *Practice) any { return &p.Return.TargetByDay })},
			{name: "horizon_weeks", kind: integers, def: []int{6, 12, 26}, low: 1, high: 104, about: "Weeks at which the share returned is stated, rising.", field: in(func(p *Practice) any { return &p.Return.HorizonWeeks })},
			{name: "mean_weeks", kind: integers, def: []int{26, 12, 6}, low: 1, high: 104, about: "Weeks up to which the mean time not yet returned is stated: the first with enough persons at risk.", field: in(func(p *Practice) any { return &p.Return.MeanWeeks })},
			{name: "at_risk_floor", kind: integer, def: 10, low: 5, high: 100, about: "Persons who must still be at risk for a mean up to that week.", field: in(func(p *Practice) any { return &p.Return.AtRiskFloor })},
			{name: "recurrence_days", kind: integer, def: 365, low: 28, high: 1095, about: "Days after a return in which care begun anew for the same injury on the same side counts as a recurrence.", field: in(func(p *Practice) any { return &p.Return.RecurrenceDays })},
		},
	},
	{
		name: "symmetry", table: "symmetry_rules",
		about: "How the two sides of a person are compared.",
		keys: []key{
			{name: "pair_days", kind: integer, def: 7, low: 0, high: 60, about: "Days that a value of the uninvolved side may lie from the visit it is set beside.", field: in(func(p *Practice) any { return &p.Symmetry.PairDays })},
			{name: "baseline_days_before", kind: integer, def: 28, low: 0, high: 365, about: "Days before the start of care from which a value may be the baseline.", field: in(func(p *Practice) any { return &p.Symmetry.BaselineDaysBefore })},
			{name: "baseline_days_after", kind: integer, def: 7, low: 0, high: 60, about: "Days after it up to which a value may be the baseline.", field: in(func(p *Practice) any { return &p.Symmetry.BaselineDaysAfter })},
			{name: "knot_weeks", kind: integers, def: []int{4, 10}, low: 1, high: 103, about: "Weeks at which the bend of a curve may change, rising.", field: in(func(p *Practice) any { return &p.Symmetry.KnotWeeks })},
			{name: "last_week", kind: integer, def: 52, low: 2, high: 104, about: "Week up to which a curve is drawn at most.", field: in(func(p *Practice) any { return &p.Symmetry.LastWeek })},
			{name: "support_weeks", kind: integer, def: 2, low: 1, high: 8, about: "Weeks around a week that count as measured at it.", field: in(func(p *Practice) any { return &p.Symmetry.SupportWeeks })},
			{name: "support_persons", kind: integer, def: 10, low: 5, high: 1000, about: "Persons measured there for a curve to reach that week.", field: in(func(p *Practice) any { return &p.Symmetry.SupportPersons })},
			{name: "horizon_weeks", kind: integers, def: []int{6, 12, 26}, low: 1, high: 104, about: "Weeks at which symmetry is stated, rising.", field: in(func(p *Practice) any { return &p.Symmetry.HorizonWeeks })},
			{name: "threshold_percent", kind: integer, def: 90, low: 50, high: 100, about: "Index that counts as reached, in percent.", field: in(func(p *Practice) any { return &p.Symmetry.ThresholdPercent })},
			{name: "threshold_weeks", kind: integers, def: []int{12, 26}, low: 1, high: 104, about: "Weeks by which the share that reached it is stated, rising.", field: in(func(p *Practice) any { return &p.Symmetry.ThresholdWeeks })},
			{name: "change_week", kind: integer, def: 12, low: 2, high: 104, about: "Week at which the change from baseline is set against the error of measuring.", field: in(func(p *Practice) any { return &p.Symmetry.ChangeWeek })},
		},
	},
	{
		name: "dose", table: "dose_rules",
		about: "How the work before the landmark is counted and set against the return.",
		keys: []key{
			{name: "recorded_percent", kind: integer, def: 80, low: 50, high: 100, about: "Bouts, in percent, that must record an ingredient of the dose; the others are then filled in from them.", field: in(func(p *Practice) any { return &p.Dose.RecordedPercent })},
			{name: "horizon_week", kind: integer, def: 26, low: 1, high: 104, about: "Week of care by which the share returned is set against the dose.", field: in(func(p *Practice) any { return &p.Dose.HorizonWeek })},
			{name: "least_persons", kind: integer, def: 20, low: 10, high: 1000, about: "Persons with some work with the cuff below whom doses are not compared.", field: in(func(p *Practice) any { return &p.Dose.LeastPersons })},
			{name: "least_returns", kind: integer, def: 5, low: 1, high: 1000, about: "Returns among them below which doses are not compared.", field: in(func(p *Practice) any { return &p.Dose.LeastReturns })},
			{name: "gone_percent", kind: integer, def: 50, low: 0, high: 100, about: "Persons returned before the landmark, in percent, above whom doses are not compared.", field: in(func(p *Practice) any { return &p.Dose.GonePercent })},
			{name: "reference_sets", kind: integer, def: 15, low: 1, high: 200, about: "Sets a week against which the curve of dose tells all other doses.", field: in(func(p *Practice) any { return &p.Dose.ReferenceSets })},
			{name: "least_effective_percent", kind: integer, def: 30, low: 10, high: 100, about: "Persons, in percent, whom weights must leave in effect for a weighted result to be told.", field: in(func(p *Practice) any { return &p.Dose.LeastEffective })},
			{name: "most_imbalance_percent", kind: integer, def: 10, low: 1, high: 50, about: "Correlation with dose, in percent, that weights may leave to what was known at the start.", field: in(func(p *Practice) any { return &p.Dose.MostImbalance })},
			{name: "least_clinicians", kind: integer, def: 10, low: 5, high: 1000, about: "Clinicians below whom it is not judged whether they differ.", field: in(func(p *Practice) any { return &p.Dose.LeastClinicians })},
		},
	},
	{
		name: "progression", table: "progression_rules",
		about: "How exercises are followed from visit to visit.",
		keys: []key{
			{name: "load_percent", kind: integer, def: 5, low: 0, high: 100, about: "Percent by which the load must differ from the visit before to count as more or less.", field: in(func(p *Practice) any { return &p.Progression.LoadPercent })},
			{name: "reps_percent", kind: integer, def: 10, low: 0, high: 100, about: "Percent by which the repetitions must differ.", field: in(func(p *Practice) any { return &p.Progression.RepsPercent })},
			{name: "pressure_points", kind: integer, def: 5, low: 0, high: 100, about: "Points of full occlusion pressure by which the pressure must differ.", field: in(func(p *Practice) any { return &p.Progression.PressurePoints })},
			{name: "pain_from", kind: integer, def: 5, low: 1, high: 10, about: "Pain of 0-10, after a session or on the next day, from which the session counts as painful.", field: in(func(p *Practice) any { return &p.Progression.PainFrom })},
			{name: "after_pain_days", kind: integer, def: 7, low: 1, high: 60, about: "Days after a painful session in which a step back counts as one after pain.", field: in(func(p *Practice) any { return &p.Progression.AfterPainDays })},
			{name: "stall_days", kind: integer, def: 21, low: 7, high: 365, about: "Days at the same level and load, below the top of the ladder, that are a stall.", field: in(func(p *Practice) any { return &p.Progression.StallDays })},
		},
	},
	{
		name: "tolerance", table: "tolerance_rules",
		about: "How the tolerance of exercises with and without the cuff is told.",
		keys: []key{
			{name: "pressure_bands", kind: integers, def: []int{40, 60, 80}, low: 1, high: 150, about: "Shares of full occlusion pressure, in percent, at which a new band begins, rising.", field: in(func(p *Practice) any { return &p.Tolerance.PressureBands })},
			{name: "next_visit_days", kind: integer, def: 14, low: 1, high: 90, about: "Days after a session within which the next one tells whether pain has settled.", field: in(func(p *Practice) any { return &p.Tolerance.NextVisitDays })},
		},
	},
	{
		name: "scores", table: "scores_rules",
		about: "How pain and patient-reported scores are told.",
		keys: []key{
			{name: "horizon_weeks", kind: integers, def: []int{6, 12, 26}, low: 3, high: 104, about: "Weeks at which pain and scores are stated beside the baseline, rising, more than twice around_weeks apart.", field: in(func(p *Practice) any { return &p.Scores.HorizonWeeks })},
			{name: "around_weeks", kind: integer, def: 2, low: 1, high: 4, about: "Weeks around a week that count as answered at it.", field: in(func(p *Practice) any { return &p.Scores.AroundWeeks })},
			{name: "least_persons", kind: integer, def: 10, low: 5, high: 1000, about: "Persons who must have answered near a week for it to be stated.", field: in(func(p *Practice) any { return &p.Scores.LeastPersons })},
			{name: "change_week", kind: integer, def: 12, low: 3, high: 104, about: "Week at which the change from baseline is set against the error of measuring and the important change; one of horizon_weeks.", field: in(func(p *Practice) any { return &p.Scores.ChangeWeek })},
		},
	},
	{
		name: "safety", table: "safety_rules",
		about: "How adverse events are counted.",
		keys: []key{
			{name: "widen_above_percent", kind: integer, def: 20, low: 0, high: 100, about: "How far, in percent, the variance between persons may lie above that of independent events before the limits of a rate are widened by it.", field: in(func(p *Practice) any { return &p.Safety.WidenAbovePercent })},
		},
	},
	{
		name: "report", table: "report",
		about: "When reports are due.",
		keys: []key{
			{name: "due_after_days", kind: integer, def: 21, low: 0, high: 365, about: "Days after a month's end on which its report is written though a site's data do not reach that far.", field: in(func(p *Practice) any { return &p.Report.DueAfterDays })},
			{name: "silent_after_days", kind: integer, def: 14, low: 1, high: 365, about: "Days without data after which a site is named as silent.", field: in(func(p *Practice) any { return &p.Report.SilentAfterDays })},
		},
	},
	{
		name: "small_counts", table: "small_counts",
		about: "Persons below whom a figure is not shown.",
		keys: []key{
			{name: "circulating", kind: integer, def: 10, low: 5, high: 1000, about: "Floor of a figure that may circulate.", field: in(func(p *Practice) any { return &p.SmallCounts.Circulating })},
			{name: "site", kind: integer, def: 20, low: 5, high: 1000, about: "Floor of a rate, mean or model result of one site.", field: in(func(p *Practice) any { return &p.SmallCounts.Site })},
			{name: "inside", kind: integer, def: 5, low: 5, high: 1000, about: "Floor of a figure for the practice's own leadership and clinicians.", field: in(func(p *Practice) any { return &p.SmallCounts.Inside })},
			{name: "curve", kind: integer, def: 20, low: 5, high: 1000, about: "Persons at the start of a curve.", field: in(func(p *Practice) any { return &p.SmallCounts.Curve })},
			{name: "mode", kind: text, def: "normal", words: []string{"normal", "strict"}, about: "strict also hides a rate with few persons on either side of it, and small counts of events.", field: in(func(p *Practice) any { return &p.SmallCounts.Mode })},
		},
	},
	{
		name: "injury_types", table: "injury_types", repeat: perCode,
		about: "Changes to the code table of injury types, one section for each code changed.",
		keys: []key{
			{name: "label", kind: text, def: ofCodeTable{}, about: "The name as reports print it.", field: in(func(i *InjuryType) any { return &i.Label })},
			{name: "default_target_stage", kind: text, def: ofCodeTable{}, words: reference.Codes("stages"), about: "The stage taken as the target of an episode that states none.", field: in(func(i *InjuryType) any { return &i.DefaultTargetStage })},
			{name: "landmark_days", kind: integer, def: ofCodeTable{}, low: 7, high: 84, about: "Days of care whose dose is set against what follows.", field: in(func(i *InjuryType) any { return &i.LandmarkDays })},
			{name: "contact_gap_days", kind: integer, def: ofCodeTable{}, low: 7, high: 365, about: "Days without contact after which an episode without an end counts as lost.", field: in(func(i *InjuryType) any { return &i.ContactGapDays })},
			{name: "keeps_activity", kind: boolean, def: ofCodeTable{}, about: "Whether most people keep up their activity while injured.", field: in(func(i *InjuryType) any { return &i.KeepsActivity })},
		},
		example: []string{"# [injury_types.calf_strain]", "# contact_gap_days = 42"},
	},
	{
		name:  "intake",
		about: "How files are taken in. No result depends on it.",
		keys: []key{
			{name: "settle_seconds", kind: integer, def: 2, low: 0, high: 600, about: "Seconds in which a new file must not change to count as written.", field: in(func(p *Practice) any { return &p.Intake.SettleSeconds })},
			{name: "rehash_days", kind: integer, def: 30, low: 0, high: 3650, about: "Days after which a file of the inbox is read again although its size and time are as they were.", field: in(func(p *Practice) any { return &p.Intake.RehashDays })},
		},
	},
	{
		name:  "guard",
		about: "Which files are refused because they look like they identify persons. No result depends on it.",
		keys: []key{
			{name: "more_headings", kind: texts, def: []string{}, about: "Headings that identify a person here, beside those that are known; spelling of small and large letters and joints do not matter.", field: in(func(p *Practice) any { return &p.Guard.MoreHeadings })},
			{name: "allow", kind: texts, def: []string{}, check: checkAllowed, about: "Columns that were false alarms, each as sender/heading. What they let through is noted in the log.", field: in(func(p *Practice) any { return &p.Guard.Allow })},
		},
	},
	{
		name:  "drift",
		about: "What is noticed when a site's files change by themselves. No result depends on it.",
		keys: []key{
			{name: "new_keys", kind: texts, def: []string{}, check: checkNewKeys, about: "Changes of all keys that are meant to begin anew, without a rekey.csv, each as sender/table/date with the date of the batch that brought them.", field: in(func(p *Practice) any { return &p.Drift.NewKeys })},
		},
	},
	{
		name:  "engine",
		about: "How much of the machine the database may use. No result depends on it.",
		keys: []key{
			{name: "threads", kind: integer, def: 0, low: 0, high: 256, about: "Threads; 0 for one to each core.", field: in(func(p *Practice) any { return &p.Engine.Threads })},
			{name: "memory_mb", kind: integer, def: 1024, low: 256, high: 1 << 20, about: "Megabytes; the program needs up to half as much again.", field: in(func(p *Practice) any { return &p.Engine.MemoryMB })},
		},
	},
}

// in makes a field from a function of the section's own struct.
func in[T any](field func(*T) any) func(any) any {
	return func(owner any) any { return field(owner.(*T)) }
}

var codePattern = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$`)

func checkCode(code string) string {
	if codePattern.MatchString(code) {
		return ""
	}
	return fmt.Sprintf("%q cannot be a code: up to 40 letters, digits, _ and -, the first a letter or digit", code)
}

func checkAllowed(text string) string {
	if sender, heading, ok := strings.Cut(text, "/"); ok && codePattern.MatchString(sender) && strings.TrimSpace(heading) != "" {
		return ""
	}
	return fmt.Sprintf("%q is not a sender, a slash and a heading, such as north/method", text)
}

func checkNewKeys(text string) string {
	parts := strings.Split(text, "/")
	if len(parts) == 3 && codePattern.MatchString(parts[0]) {
		_, known := export.Find(parts[1])
		if _, err := time.Parse(time.DateOnly, parts[2]); (known || parts[1] == "people") && err == nil {
			return ""
		}
	}
	return fmt.Sprintf("%q is not a sender, an export table (or people) and a date, such as north/episodes/2026-03-31", text)
}

func checkZone(name string) string {
	if _, err := time.LoadLocation(name); err != nil || name == "" || name == "Local" {
		return fmt.Sprintf("%q is not a time zone; write one such as Europe/Lisbon or UTC", name)
	}
	return ""
}
