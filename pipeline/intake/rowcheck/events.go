package rowcheck

// The seriousness of an event and its grade are separate judgements: ICH E2A.
const gradeScale = "grades 4 and 5 as in CTCAE v5; seriousness as in ICH E2A"

// eventRules keep every row: an event is never left out of the counts because
// of how it was written down.
var eventRules = []rule{
	order("adverse_events", "aware_date", "onset_date", "before_onset", "the practice knew before the onset"),
	order("adverse_events", "reported_date", "aware_date", "before_aware", "it was reported before the practice knew"),
	order("adverse_events", "resolved_date", "onset_date", "before_onset", "it was over before the onset"),
	{
		table: "adverse_events", column: "grade", code: "fatal_below_5",
		about:  "the outcome is fatal, but the grade is below 5",
		source: gradeScale,
		reads:  []string{"grade", "outcome"},
		broken: func(r *row) bool { return r.text(1) == "fatal" && r.number(0) < 5*unit },
	},
	{
		table: "adverse_events", column: "grade", code: "grade_5_not_fatal",
		about:  "the grade is 5, but the outcome is not fatal",
		source: gradeScale,
		reads:  []string{"grade", "outcome"},
		broken: func(r *row) bool { return r.number(0) == 5*unit && r.text(1) != "fatal" },
	},
	{
		table: "adverse_events", column: "serious", code: "grade_4_not_serious",
		about:  "the grade is 4 or 5, but the event is said not to be serious",
		source: gradeScale,
		reads:  []string{"serious", "grade"},
		broken: func(r *row) bool { return !r.is(0) && r.number(1) >= 4*unit },
	},
	{
		table: "adverse_events", column: "serious", code: "criteria_though_not",
		about:  "criteria of seriousness are given, but the event is said not to be serious",
		source: gradeScale,
		reads:  []string{"serious", "serious_criteria"},
		broken: func(r *row) bool { return !r.is(0) },
	},
	{
		table: "adverse_events", column: "resolved_date", code: "resolved_though_not",
		about:  "there is a date on which it was over, but the outcome says that it is not",
		source: meaning,
		reads:  []string{"resolved_date", "outcome"},
		broken: func(r *row) bool { return r.text(1) == "not_recovered" || r.text(1) == "recovering" },
	},
}
