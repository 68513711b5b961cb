package groups

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/warehouse"
)

var month = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// person is one episode: whose levels, the day of the return (0: none) and that
// up to which it is watched.
type person struct {
	injury, severity, sex, age, site string
	back, watched                    int
}

func input(people ...person) Input {
	in := Input{
		Month: month, InjuryTypes: []string{"calf_strain", "hamstring_strain"}, Sites: []string{"north", "south", "west"}, Floor: 2, SiteFloor: 2, Batch: 4,
		Rules: settings.Return{WindowMonths: 24, HorizonWeeks: []int{6, 12, 26}, MeanWeeks: []int{26, 12, 6}, AtRiskFloor: 1},
	}
	for i, p := range people {
		start := month.AddDate(0, 0, 29-400)
		e := warehouse.ReturnEpisode{
			EpisodeKey: i + 1, PersonKey: i + 1, Site: p.site, InjuryType: p.injury, StartDate: start, FollowDays: &p.watched, OutDay: p.watched, OutReason: "in_care",
		}
		if p.back > 0 {
			e.ReturnDay = &p.back
		}
		in.Episodes = append(in.Episodes, e)
		in.Details = append(in.Details, warehouse.ReturnDetail{EpisodeKey: i + 1, PersonKey: i + 1, Site: p.site, InjuryType: p.injury, StartDate: start, Severity: p.severity, Sex: p.sex, AgeBand: p.age})
	}
	return in
}

func analyse(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		if _, twice := byID[f.ID]; twice {
			t.Errorf("%s stands twice", f.ID)
		}
		byID[f.ID] = f
		name := f.Statistic
		if disclosure.KindOf(f.Question, name, strings.Contains(f.ID, "@")) != disclosure.Rate {
			t.Errorf("the gate does not know %s", f.ID)
		}
	}
	return byID
}

func near(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-9 {
		t.Errorf("%s: got %v, want %g", what, got, want)
	}
}

// of repeats a person with other days of return.
func of(p person, backs ...int) []person {
	var out []person
	for _, back := range backs {
		p.back, p.watched = back, 300
		out = append(out, p)
	}
	return out
}

// All are watched to the horizon, so that shares are plain ones. Raw: of the 6
// mild 4 are back by week 26, of the 6 severe 2: -1/3. But mild are 4 of calf and
// 2 of hamstring, severe 2 and 4. Of calf 4 of 4 mild and 2 of 2 severe are back, of
// hamstring nobody: like with like there is no difference.
func TestLikeWithLikeByHand(t *testing.T) {
	calf := person{injury: "calf_strain", sex: "female", age: "25-34", site: "north"}
	ham := calf
	ham.injury = "hamstring_strain"
	with := func(p person, severity string) person { p.severity = severity; return p }
	people := slices.Concat(
		of(with(calf, "mild"), 10, 20, 30, 40), of(with(calf, "severe"), 10, 20),
		of(with(ham, "mild"), 0, 0), of(with(ham, "severe"), 0, 0, 0, 0),
	)
	f := analyse(t, input(people...))
	const picture = "groups.by=severity_severe.24m/"
	near(t, "raw", f[picture+"share_difference_raw@w26"].Value, -1.0/3)
	near(t, "standardised", f[picture+"share_difference_standardised@w26"].Value, 0)
	// Weeks not back, of 26: mild (100/7 + 2 x 26) / 6, severe (30/7 + 4 x 26) / 6.
	mild, severe := (100.0/7+2*26)/6, (30.0/7+4*26)/6
	near(t, "raw mean", f[picture+"mean_difference_raw@w26"].Value, severe-mild)
	g := f[picture+"share_difference_raw@w26"]
	if *g.Persons != 12 || *g.Missing != 0 || g.Unit != "share" {
		t.Errorf("%+v", g)
	}
	for id := range f {
		if strings.Contains(id, "sex_") || strings.Contains(id, "site=") || strings.Contains(id, "age_") {
			t.Errorf("%s: there is one level", id)
		}
	}
}

// Whoever lacks a covariate, or shares a level with too few, is left out and
// counted.
func TestWhoIsLeftOut(t *testing.T) {
	p := person{injury: "calf_strain", severity: "mild", sex: "female", age: "25-34", site: "north"}
	people := of(p, 10, 20, 30)
	severe := p
	severe.severity = "severe"
	people = append(people, of(severe, 0, 50)...)
	for _, change := range []func(*person){
		func(p *person) { p.severity = "" }, func(p *person) { p.sex = "unknown" }, func(p *person) { p.age = "" },
		func(p *person) { p.sex = "male" }, func(p *person) { p.injury = "hamstring_strain" },
	} {
		out := p
		change(&out)
		people = append(people, of(out, 10)...)
	}
	in := input(people...)
	in.Rules.AtRiskFloor = 0 // all are back by week 26
	g := analyse(t, in)["groups.by=severity_severe.24m/share_difference_raw@w26"]
	if g.Persons == nil || *g.Persons != 5 || *g.Missing != 5 {
		t.Errorf("%+v", g)
	}
}

// By hand: of the other site one of 2 at risk is back on day 10, the last on day
// 20: the hazard sums to 1/2 by day 10 and 3/2 by day 20. The site's two are
// watched to days 15 and 300: 1/2 + 3/2 are expected, one was seen.
func TestObservedOverExpectedByHand(t *testing.T) {
	north := person{injury: "calf_strain", severity: "mild", sex: "female", age: "25-34", site: "north"}
	south := north
	south.site = "south"
	people := append(of(south, 10, 20), of(north, 15, 0)...)
	f := analyse(t, input(people...))
	g := f["groups.site=north.24m/observed_over_expected"]
	near(t, "observed over expected", g.Value, 1.0/2)
	near(t, "expected", g.Exposure, 2)
	// Garwood's limits of one seen, over two expected: 0.0253 and 5.572.
	if g.Low == nil || math.Abs(*g.Low-0.0253178/2) > 1e-6 || math.Abs(*g.High-5.571643/2) > 1e-6 || *g.Events != 1 {
		t.Errorf("%+v", g)
	}
}

// made is a practice in which severe injuries take longer and site north is one
// of many.
func made(n, sites int) Input {
	r := rand.New(rand.NewPCG(7, 9))
	var people []person
	names := make([]string, sites)
	for i := range names {
		names[i] = "s" + string(rune('a'+i))
	}
	for i := range n {
		p := person{
			injury: []string{"calf_strain", "hamstring_strain"}[i%2], severity: []string{"mild", "moderate", "severe"}[r.IntN(3)], sex: []string{"female", "male"}[r.IntN(2)],
			age: []string{"18-24", "35-44", "65-74"}[r.IntN(3)], site: names[r.IntN(sites)], watched: 60 + r.IntN(300),
		}
		pace := map[string]float64{"mild": 60, "moderate": 90, "severe": 150}[p.severity]
		if back := 1 + int(pace*r.ExpFloat64()); back <= p.watched {
			p.back = back
		}
		people = append(people, p)
	}
	in := input(people...)
	in.Sites, in.Floor, in.SiteFloor, in.Rules.AtRiskFloor = names, 10, 20, 10
	return in
}

// The model for draws is least squares: it agrees with the regression of the
// library, and its interval with the sandwich.
func TestStandardisedAgreesWithTheLibrary(t *testing.T) {
	in := made(600, 4)
	m := &maker{in: in, period: result.Period{From: month.AddDate(-2, 1, 0), To: month.AddDate(0, 1, -1), Label: "24m"}}
	if err := m.read(); err != nil {
		t.Fatal(err)
	}
	d := newDesign(m.rows, m.factors)
	all, err := curve(m.rows, false)
	if err != nil {
		t.Fatal(err)
	}
	f := analyse(t, in)
	week := 26
	for f[fmt.Sprintf("groups.by=severity_severe.24m/share_difference_raw@w%d", week)].Value == nil {
		week-- // the longest at which all are still at risk
	}
	share, _, err := all.PseudoValues(float64(7 * week))
	if err != nil {
		t.Fatal(err)
	}
	columns, place := d.columnsOf("")
	data := regress.Data{Y: share, Columns: append([][]float64{slices.Repeat([]float64{1}, len(share))}, columns...)}
	for i := range data.Columns {
		data.Names = append(data.Names, fmt.Sprintf("column %d", i))
	}
	model, err := regress.LeastSquares(data)
	if err != nil {
		t.Fatal(err)
	}
	robust, err := model.Heteroscedastic(regress.HC0)
	if err != nil {
		t.Fatal(err)
	}
	for _, level := range []string{"moderate", "severe"} {
		at := 1 + place[d.at["severity"][level]]
		g := f[fmt.Sprintf("groups.by=severity_%s.24m/share_difference_standardised@w%d", level, week)]
		near(t, level, g.Value, model.Coef[at])
		if ratio := *g.StdError / robust.SE[at]; math.Abs(ratio-1) > 0.1 {
			t.Errorf("%s: the error of the draws is %.3f of the sandwich", level, ratio)
		}
	}
}

// Observed sum to about those expected; with ten sites each has the limits of the
// funnel, with nine none.
func TestSitesOfAMadePractice(t *testing.T) {
	for _, c := range []struct{ sites, funnels int }{{9, 0}, {10, 10}} {
		f := analyse(t, made(1500, c.sites))
		var observed, expected float64
		funnels := 0
		for _, g := range f {
			switch g.Statistic {
			case "observed_over_expected":
				observed, expected = observed+float64(*g.Events), expected+*g.Exposure
			case "funnel_limits":
				funnels++
				if !(*g.Low < 1 && *g.High > 1) || g.Level != 0.998 || len(g.Warnings) > 0 {
					t.Errorf("%+v", g)
				}
			}
		}
		if math.Abs(observed/expected-1) > 0.03 {
			t.Errorf("%g observed, %g expected", observed, expected)
		}
		if funnels != c.funnels {
			t.Errorf("%d sites have %d funnels", c.sites, funnels)
		}
	}
}

// A site that is far off stands out beyond the funnel's limits.
func TestASiteStandsOut(t *testing.T) {
	in := made(2500, 12)
	for i := range in.Episodes {
		if in.Episodes[i].Site == "sa" {
			in.Episodes[i].ReturnDay = nil
		}
	}
	for id, g := range analyse(t, in) {
		if g.Statistic == "funnel_limits" && (g.Site == "sa") != (len(g.Warnings) > 0) {
			t.Errorf("%s: %v", id, g.Warnings)
		}
	}
}

func TestAwkwardPractices(t *testing.T) {
	p := person{injury: "calf_strain", severity: "mild", sex: "female", age: "25-34", site: "north"}
	for name, people := range map[string][]person{
		"nobody": nil, "one": of(p, 10), "two": of(p, 10, 20), "nobody returned": of(p, 0, 0, 0, 0),
		"all on the first day": of(p, 1, 1, 1, 1),
	} {
		in := input(people...)
		for _, floor := range []int{0, 2} {
			in.Floor, in.SiteFloor = floor, floor
			if _, err := Analyse(context.Background(), in); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	// Each severity at a site of its own: like cannot be compared with like.
	severe := p
	severe.severity, severe.site = "severe", "south"
	f := analyse(t, input(append(of(p, 10, 20, 0), of(severe, 30, 40, 0)...)...))
	if g := f["groups.by=severity_severe.24m/share_difference_standardised@w26"]; g.Status != result.Withheld || g.Value != nil {
		t.Errorf("%+v", g)
	}
	if _, err := Analyse(context.Background(), Input{}); err == nil {
		t.Error("no month")
	}
	in := input(of(p, 10)...)
	in.Details = nil
	if _, err := Analyse(context.Background(), in); err == nil {
		t.Error("episodes without their details")
	}
}
