package calibrate

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Report judges all results that are there.
type Report struct {
	Judged  []Judged // in order of condition and figure
	Commits []string // of the programs that made the results
	Dates   []string
}

// JudgeAll reads the truths and results under dir and judges every condition of
// which there are any.
func JudgeAll(dir string) (*Report, error) {
	report := &Report{}
	for _, c := range Conditions {
		results, made, err := Results(dir, c)
		if err != nil {
			return nil, err
		}
		if len(results) == 0 {
			continue
		}
		truth, err := ReadTruth(dir, c)
		if err != nil {
			return nil, err
		}
		for _, m := range made {
			report.Commits, report.Dates = append(report.Commits, m.Commit), append(report.Dates, m.Date)
		}
		for _, f := range Figures {
			if len(results[f.Name]) == 0 {
				continue
			}
			value, se, _ := truth.Of(f)
			report.Judged = append(report.Judged, Full.Judge(c, f, value, se, results[f.Name]))
		}
	}
	for _, list := range []*[]string{&report.Commits, &report.Dates} {
		slices.Sort(*list)
		*list = slices.Compact(*list)
	}
	return report, nil
}

// CSV is everything that was counted, a row for each condition and figure.
func (r *Report) CSV() ([]byte, error) {
	var text bytes.Buffer
	w := csv.NewWriter(&text)
	_ = w.Write([]string{ // Flush says whether anything went wrong
		"condition", "figure", "replicates", "with_interval", "without_interval", "withheld", "truth", "truth_se", "mean", "se", "bias_over_se", "mean_width",
		"coverage", "coverage_low", "coverage_high", "leaves_out_0", "leaves_out_0_low", "leaves_out_0_high", "verdict",
	})
	for _, j := range r.Judged {
		row := []string{j.Condition, j.Figure, strconv.Itoa(j.Replicates), strconv.Itoa(j.Cover.N), strconv.Itoa(j.Bare), strconv.Itoa(j.Withheld)}
		cells := []float64{j.Truth, j.TruthSE, j.Mean, j.SE, j.Off, j.Width, j.Cover.Value(), j.Cover.Low, j.Cover.High, j.Reject.Value(), j.Reject.Low, j.Reject.High}
		if j.Reject.N == 0 {
			cells[9], cells[10], cells[11] = math.NaN(), math.NaN(), math.NaN()
		}
		for _, x := range cells {
			row = append(row, decimals(x))
		}
		_ = w.Write(append(row, j.Verdict()))
	}
	w.Flush()
	return text.Bytes(), w.Error()
}

// decimals leaves a cell empty where there is no number.
func decimals(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', 5, 64)
}

// Markdown is the table for a reader: the base figure by figure, the departures
// by their coverage, and what fails in words.
func (r *Report) Markdown() string {
	var b strings.Builder
	base := Conditions[0].Name
	fmt.Fprintf(&b, "Commit %s, %s. ", strings.Join(r.Commits, ", "), strings.Join(r.Dates, ", "))
	fmt.Fprintf(&b, "Seeds 1 to the number of replicates stated, none skipped.\n\n")
	fmt.Fprintf(&b, "| Figure (base) | Replicates | Truth | Covers (exact 99 %%) | Bias / SE | Mean width | Finds a difference | Withheld | Verdict |\n|---|--:|--:|--:|--:|--:|--:|--:|---|\n")
	for _, j := range r.Judged {
		if j.Condition != base {
			continue
		}
		finds := "–"
		if j.Reject.N > 0 {
			finds = fmt.Sprintf("%.0f %% (of %.2f)", 100*j.Reject.Value(), j.Truth)
		}
		fmt.Fprintf(&b, "| %s | %d | %s | %.1f %% (%.1f–%.1f) | %+.2f | %s | %s | %s | %s |\n",
			figureNamed(j.Figure).About, j.Replicates, short(j.Truth), 100*j.Cover.Value(), 100*j.Cover.Low, 100*j.Cover.High, j.Off, short(j.Width), finds, j.notShown(), j.Verdict())
	}
	r.departures(&b, base)
	return b.String()
}

// departures writes the coverage of every departure, and what fails.
func (r *Report) departures(b *strings.Builder, base string) {
	var names []string
	for _, f := range Figures {
		names = append(names, f.Name)
	}
	fmt.Fprintf(b, "\n| Departure (covers, %%) | Replicates | %s |\n|---|--:|%s\n", strings.Join(names, " | "), strings.Repeat("--:|", len(names)))
	var fails []string
	for _, c := range Conditions {
		cells := map[string]string{}
		replicates := 0
		for _, j := range r.Judged {
			if j.Condition != c.Name {
				continue
			}
			replicates = max(replicates, j.Replicates)
			cells[j.Figure] = "–"
			if j.Cover.N > 0 {
				cells[j.Figure] = fmt.Sprintf("%.1f", 100*j.Cover.Value())
			}
			if len(j.Fails) > 0 {
				cells[j.Figure] = "**" + cells[j.Figure] + "**"
				fails = append(fails, fmt.Sprintf("- %s, %s: %s; covers %.1f %% (%.1f–%.1f), bias %+.2f SE = %s%s.", c.Name, figureNamed(j.Figure).About,
					strings.Join(j.Fails, "; "), 100*j.Cover.Value(), 100*j.Cover.Low, 100*j.Cover.High, j.Off, short(j.Mean-j.Truth), expected(c)))
			}
		}
		if c.Name == base || replicates == 0 {
			continue
		}
		fmt.Fprintf(b, "| %s | %d |", c.About, replicates)
		for _, name := range names {
			fmt.Fprintf(b, " %s |", cells[name])
		}
		fmt.Fprintln(b)
	}
	r.tests(b)
	if len(fails) > 0 {
		fmt.Fprintf(b, "\nWhat fails:\n\n%s\n", strings.Join(fails, "\n"))
	}
}

// tests writes how often the test of no difference finds one, by condition.
func (r *Report) tests(b *strings.Builder) {
	fmt.Fprintf(b, "\n| Finds a difference | Figure | Difference | Share (exact 99 %%) |\n|---|---|--:|--:|\n")
	for _, j := range r.Judged {
		if j.Reject.N == 0 {
			continue
		}
		difference := short(j.Truth)
		if j.NoEffect {
			difference = "none"
		}
		fmt.Fprintf(b, "| %s | %s | %s | %.1f %% (%.1f–%.1f) |\n", j.Condition, j.Figure, difference, 100*j.Reject.Value(), 100*j.Reject.Low, 100*j.Reject.High)
	}
}

func expected(c Condition) string {
	if c.Expect == "" {
		return ""
	}
	return " – to be expected: " + strings.ToLower(c.Expect[:1]) + strings.TrimSuffix(c.Expect[1:], ".")
}

// notShown is the share of replicates that withhold the figure, and beside it
// that of those that give no interval.
func (j Judged) notShown() string {
	text := fmt.Sprintf("%.1f %%", 100*float64(j.Withheld)/float64(j.Replicates))
	if j.Bare > 0 {
		text += fmt.Sprintf(" (%.1f %% without an interval)", 100*float64(j.Bare)/float64(j.Replicates))
	}
	return text
}

func figureNamed(name string) Figure {
	at := slices.IndexFunc(Figures, func(f Figure) bool { return f.Name == name })
	if at < 0 {
		return Figure{About: name}
	}
	return Figures[at]
}

// short writes a number with three digits that count.
func short(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return strconv.FormatFloat(x, 'g', 3, 64)
}
