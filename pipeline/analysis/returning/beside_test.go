package returning

import (
	"math"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// detail is what stands beside the episode with the number.
func detail(episode int, clock, notYet *int) warehouse.ReturnDetail {
	e := began(100, 120)
	return warehouse.ReturnDetail{EpisodeKey: episode, PersonKey: episode, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate, ClockFrom: "onset", ClockDay: clock, NotYetDay: notYet}
}

// By hand: of five one came back after day 4 and by day 10, one after day 40 and
// by day 44, one has a competing end, one is lost on day 12, one in care was last
// seen on day 90. On week 6, day 42, half of the second's mass lies before. The
// first holds 1/5. The one lost on day 12 is shared among those after it: the mass
// 4/5 lies with the second and the two who stay away, 1/3 of it with the second.
func TestReturnsBetweenContactsByHand(t *testing.T) {
	in := input(five()...)
	in.Episodes[1].ReturnDay = n(44)
	in.Episodes[4].LastContactDay = 90
	in.Details = []warehouse.ReturnDetail{
		detail(1, nil, n(4)), detail(2, nil, n(40)), detail(3, nil, nil), detail(4, nil, nil), detail(5, nil, nil),
	}
	f := figures(t, in)
	const picture = "return.calf_strain.24m/"
	for week, want := range map[string]float64{"@w6": 1.0/5 + 4.0/15/2, "@w12": 1.0/5 + 4.0/15} {
		// the curve is climbed to a gradient of 1 + 1e-9, not to the last bit
		if got := f[picture+"share_between_contacts"+week].Value; got == nil || math.Abs(*got-want) > 1e-8 {
			t.Errorf("%s: got %v, want %g", week, got, want)
		}
	}
	if g := f[picture+"share_between_contacts@w6"]; g.Low != nil || *g.Persons != 5 || *g.Events != 2 {
		t.Errorf("%+v", g)
	}
	smooth := f[picture+"share_weibull@w12"]
	if smooth.Value == nil || *smooth.Low > *smooth.Value || *smooth.High < *smooth.Value || math.Abs(*smooth.Value-7.0/15) > 0.15 {
		t.Errorf("%+v", smooth)
	}
	if g := f[picture+"share_weibull@w26"]; g.Status != result.Withheld {
		t.Errorf("nobody was watched so long: %+v", g)
	}
	for i := range in.Episodes {
		in.Episodes[i].ReturnDay = nil
	}
	if g := figures(t, in)[picture+"share_between_contacts@w6"]; g.Status != result.Withheld || g.Value != nil {
		t.Errorf("nobody is back: %+v", g)
	}
}

// Without a day known without it a return lies anywhere before its record; one on
// the first day lies in its first half.
func TestReturnsWithoutADayBefore(t *testing.T) {
	in := input(began(100, 120), began(100, 120))
	in.Episodes[0].ReturnDay, in.Episodes[1].ReturnDay = n(84), n(0)
	in.Details = []warehouse.ReturnDetail{detail(1, nil, nil), detail(2, nil, nil)}
	f := figures(t, in)
	// Turnbull puts both where one mass explains both: in the first half day.
	near(t, "week 6", f["return.calf_strain.24m/share_between_contacts@w6"].Value, 1)
}

// By hand, days since the injury: three come under watch on days 14, 20 and 40.
// The first is back on day 28, with two under watch: 1/2. The third, under watch
// from day 40, is back on day 60, when the second is too: 1/2 + 1/2 x 1/2.
func TestInjuryClockByHand(t *testing.T) {
	in := input(began(100, 120), began(100, 120), began(100, 120), began(100, 120))
	in.Rules.AtRiskFloor = 2
	in.Episodes[0].ReturnDay, in.Episodes[2].ReturnDay = n(14), n(20)
	in.Details = []warehouse.ReturnDetail{detail(1, n(14), nil), detail(2, n(20), nil), detail(3, n(40), nil), detail(4, nil, nil)}
	f := figures(t, in)
	const picture = "return.calf_strain.24m/"
	for week, want := range map[string]float64{"@w4": 1.0 / 2, "@w6": 1.0 / 2, "@w8": 1.0 / 2, "@w10": 3.0 / 4, "@w12": 3.0 / 4} {
		near(t, week, f[picture+"since_injury"+week].Value, want)
	}
	near(t, "under watch at week 6", f[picture+"since_injury_at_risk@w6"].Value, 2)
	near(t, "half", f[picture+"since_injury_median_weeks"].Value, (28.0+60)/2/7)
	if g := f[picture+"since_injury@w4"]; *g.Persons != 3 || *g.Missing != 1 {
		t.Errorf("%+v", g)
	}
	if _, ok := f[picture+"since_injury@w2"]; ok {
		t.Error("told before two are under watch") // on day 14 one is
	}
	in.StageFloor = 4
	if _, ok := figures(t, in)[picture+"since_injury@w6"]; ok {
		t.Error("three people stand where the floor is four")
	}
}

// When the only one under watch is back before the next comes, nothing can be
// said on this clock.
func TestInjuryClockThatRunsDry(t *testing.T) {
	in := input(began(100, 120), began(100, 120), began(100, 120))
	in.Rules.AtRiskFloor = 1
	in.Episodes[0].ReturnDay = n(5)
	in.Details = []warehouse.ReturnDetail{detail(1, n(1), nil), detail(2, n(20), nil), detail(3, n(20), nil)}
	f := figures(t, in)
	for _, id := range []string{"since_injury@w4", "since_injury_median_weeks"} {
		if g := f["return.calf_strain.24m/"+id]; g.Status != result.Withheld || g.Value != nil || g.Reason == "" {
			t.Errorf("%s: %+v", id, g)
		}
	}
}
