package words

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// unplaced is the code of those who stand on no stage of the ladder.
const unplaced = "unplaced"

// stageStems are the statistics that name a stage behind a point.
var stageStems = []string{"stage", "moved_on", "moved_on_from_start", "next_weeks", "next_weeks_from_start", "fell_back"}

// stageOf is the code of the stage that a statistic is about.
func stageOf(statistic string) (string, bool) {
	stem, code, found := strings.Cut(statistic, ".")
	return code, found && slices.Contains(stageStems, stem)
}

// StageLabel is the label of a stage.
func StageLabel(code string) string {
	if code == unplaced {
		return "No stage of this ladder"
	}
	return reference.Label("stages", code)
}

// stageMethod tells how the figures of the stages are made.
var stageMethod = Method{
	"Stages on the way back",
	"The stage of a day is the highest that was reached and not lost since; losing a stage takes away those above it. The share on each stage is the share neither back nor ended, dealt as those are who are still watched. From stage to stage the time runs from the day on which the stage was first reached; moving on, falling back and an end of care compete. Of those who stood on a stage when care began nobody knows since when, so they are told apart, from the start of care. Stages are recorded at contacts, and targets differ: whoever aims for a low stage does not go on.",
}

// Stage is one stage of a ladder in a group's figures.
type Stage struct {
	Code, Label string
}

// Unplaced says that it stands for those on no stage of the ladder.
func (s Stage) Unplaced() bool { return s.Code == unplaced }

// Stages are those over which a group is spread, from the lowest up, and last
// those on no stage of the ladder, where there are such.
func Stages(r *disclosure.Released, g Group) []Stage {
	return stagesIn(r, g, "stage")
}

// Steps are the stages of which something is told on the way to the next.
func Steps(r *disclosure.Released, g Group) []Stage {
	return stagesIn(r, g, stageStems[1:]...)
}

// StepFigures are a group's figures about the way from a stage to the next.
func StepFigures(r *disclosure.Released, g Group, stage string) []disclosure.Shown {
	return InOrder(slices.DeleteFunc(r.Picture(g.Picture), func(f disclosure.Shown) bool {
		code, staged := stageOf(f.Statistic)
		return !staged || code != stage || strings.HasPrefix(f.Statistic, "stage.")
	}))
}

func stagesIn(r *disclosure.Released, g Group, stems ...string) []Stage {
	held := map[string]bool{}
	for _, f := range r.Picture(g.Picture) {
		stem, code, _ := strings.Cut(f.Statistic, ".")
		if slices.Contains(stems, stem) {
			held[code] = true
		}
	}
	var stages []Stage
	for _, code := range append(reference.Codes("stages"), unplaced) {
		if held[code] {
			stages = append(stages, Stage{code, StageLabel(code)})
		}
	}
	return stages
}

// StageSentence says where people stood at a week: the title of the picture.
func StageSentence(r *disclosure.Released, g Group) Sentence {
	back, ok := Headline(r, g)
	if !ok || back.Value == nil {
		return Sentence{Text: g.Label + ": how people are spread over the stages."}
	}
	week := AtWeek(*back.X)
	most, found := disclosure.Shown{}, false
	for _, s := range Stages(r, g) {
		f, ok := g.Figure(r, "stage."+s.Code, week)
		if ok && s.Code != unplaced && f.Value != nil && (!found || *f.Value > *most.Value) {
			most, found = f, true
		}
	}
	if !found || *most.Value == 0 {
		return say(fmt.Sprintf("%s: by week %s, %s are back at their target.", g.Label, Decimal(*back.X, 0), Percent(*back.Value)), back)
	}
	code, _ := stageOf(most.Statistic)
	return say(fmt.Sprintf("%s: at week %s, %s are back at their target; of the stages before it most people, %s, are at \"%s\".",
		g.Label, Decimal(*back.X, 0), Percent(*back.Value), Percent(*most.Value), InSentence(StageLabel(code))), back, most)
}

// StepCells are, for a stage, the share on a higher one, the weeks until half
// were, and the share fallen back, each with its interval, and the people. With
// start they are of those who stood on it when care began. The figure that leads
// is returned with them; false where there is none.
func StepCells(r *disclosure.Released, g Group, stage string, start bool) (cells []string, lead disclosure.Shown, ok bool) {
	names := []string{"moved_on.", "next_weeks.", "fell_back."}
	if start {
		names = []string{"moved_on_from_start.", "next_weeks_from_start.", ""}
	}
	people := None
	for _, name := range names {
		f, held := stepFigure(r, g, name, stage)
		if !held || f.Status == result.Hidden {
			cells = append(cells, None, None)
			continue
		}
		if !ok || people == None {
			lead, ok, people = f, true, Persons(f)
		}
		cells = append(cells, strings.TrimSuffix(Value(f), " weeks"), Interval(f))
	}
	return append(cells, people), lead, ok
}

func stepFigure(r *disclosure.Released, g Group, name, stage string) (disclosure.Shown, bool) {
	if name == "" {
		return disclosure.Shown{}, false
	}
	if along := g.Along(r, name+stage); len(along) > 0 {
		return along[0], true
	}
	return g.Figure(r, name+stage, "")
}

// StepWeek is the week by which steps are told; 0 without any.
func StepWeek(r *disclosure.Released, g Group) float64 {
	for _, s := range Steps(r, g) {
		for _, name := range []string{"moved_on.", "fell_back.", "moved_on_from_start."} {
			if f, ok := stepFigure(r, g, name, s.Code); ok {
				return *f.X
			}
		}
	}
	return 0
}
