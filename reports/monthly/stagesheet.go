package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// stageSheets are how people are spread over the stages and how they move from
// one to the next; none without figures.
func stageSheets(r *disclosure.Released) []workbooks.Sheet {
	return filled(spreadSheet(r), stepSheet(r))
}

// spreadSheet has a row for each stage and week.
func spreadSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Stages by week",
		Heading: "Share of people on each stage before their target, by week of care",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Stage", Width: 36},
			{Heading: "Week", Width: 7},
			{Heading: "On it", Width: 12},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Note", Width: 60},
		},
		Notes: []string{"With those back at their target and those whose care ended otherwise (sheet Return to activity) the stages of a week sum to all. from, to: the range that the data fit (95 %). " + words.CautionInBrief},
	}
	for _, g := range types(r) {
		for _, stage := range words.Stages(r, g) {
			for _, f := range g.Along(r, "stage."+stage.Code) {
				s.Rows = append(s.Rows, []workbooks.Cell{
					workbooks.Text(g.Label), workbooks.Text(stage.Label), workbooks.Number(*f.X, 0),
					value(f), numberLike(f, f.Low), numberLike(f, f.High), workbooks.Text(f.Reason),
				})
			}
		}
	}
	return s
}

// stepSheet has a row for each figure of a step.
func stepSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Stage to stage",
		Heading: "How soon people move on from a stage, and how many fall back",
		Lead:    []string{where(r)},
		Columns: columnsOfFigures("Injury type", 70, workbooks.Column{Heading: "Why there is no value", Width: 60}),
		Notes:   []string{"Weeks count from the day on which the stage was reached, or, of those who stood on it when care began, from then. from, to: the range that the data fit (95 %). " + words.CautionInBrief},
	}
	for _, g := range types(r) {
		for _, stage := range words.Steps(r, g) {
			for _, f := range words.StepFigures(r, g, stage.Code) {
				s.Rows = append(s.Rows, figureCells(r, g.Label, f, f.Reason))
			}
		}
	}
	return s
}
