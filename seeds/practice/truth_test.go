package practice

import (
	"math"
	"strings"
	"testing"
)

// The committed truth is that of this generator, and a smaller draw comes to
// the same values within 5 Monte Carlo standard errors. For shares of very few
// people three of them are allowed beside.
func TestTheCommittedTruthIsReproduced(t *testing.T) {
	truth := committed(t)
	if truth.Generator != Digest(Default()) {
		t.Error("testdata/truth/default.json is of another generator; run `go run ./cmd/dev truth` and commit what it writes")
	}
	const episodes = 20_000
	again, err := ComputeTruth(Default(), episodes)
	if err != nil {
		t.Fatal(err)
	}
	if len(again.Values) != len(truth.Values) {
		t.Fatalf("%d values, the file has %d", len(again.Values), len(truth.Values))
	}
	few := 3 / (float64(episodes) / float64(len(injuries)))
	widest := math.Sqrt(1 + float64(truth.Episodes)/episodes)
	for i, want := range truth.Values {
		got := again.Values[i]
		if got.Name() != want.Name() {
			t.Fatalf("value %d is %s, the file has %s", i, got.Name(), want.Name())
		}
		if off := math.Abs(got.Value - want.Value); off > 5*want.SE*widest+few {
			t.Errorf("%s: %.5f from %d episodes, the file has %.5f (se %.5f): %.1f standard errors off", want.Name(), got.Value, episodes, want.Value, want.SE, off/(want.SE*widest))
		}
	}
}

// What the issue asks of the raw dose contrast: it is off by far, to the side
// that flatters a high dose.
func TestSeverityMakesTheRawDoseContrastTooLarge(t *testing.T) {
	truth := committed(t)
	seen := 0
	for _, v := range truth.Values {
		if v.Question != "dose" || v.Statistic != "thirds_raw" || v.X != "w12" && v.X != "w26" {
			continue
		}
		standardised, ok := truth.Find(strings.Replace(v.Name(), "thirds_raw", "thirds_standardised", 1))
		if !ok {
			t.Fatalf("no standardised contrast beside %s", v.Name())
		}
		seen++
		if v.Value <= standardised.Value {
			t.Errorf("%s is %.3f, standardised %.3f: the raw contrast is meant to be the larger one", v.Name(), v.Value, standardised.Value)
		}
	}
	if seen != 2*len(doseMeasures)*len(injuries) {
		t.Errorf("%d raw contrasts", seen)
	}
}

// truthOf is the value of one name in a small draw of a scenario.
func truthOf(t *testing.T, s Scenario, names ...string) []Value {
	t.Helper()
	truth, err := ComputeTruth(s, 22_000)
	if err != nil {
		t.Fatal(err)
	}
	var values []Value
	for _, name := range names {
		v, ok := truth.Find(name)
		if !ok {
			t.Fatalf("no truth of %s", name)
		}
		values = append(values, v)
	}
	return values
}

func TestVariantsMoveTheTruth(t *testing.T) {
	const (
		back    = "return.calf_strain/cumulative@w6"
		thirds  = "dose.lateral_elbow_tendinopathy.sets/thirds_standardised@w26"
		raw     = "dose.lateral_elbow_tendinopathy.sets/thirds_raw@w26"
		quarter = "dose.lateral_elbow_tendinopathy.sets/quartiles_standardised@w26"
		events  = "safety/per_1000_attended"
	)
	base := truthOf(t, Default(), back, thirds, raw, quarter, events)
	for _, variant := range []struct {
		name   string
		change func(*Scenario)
		check  func(v []Value) bool
	}{
		{"half the hazard", func(s *Scenario) { s.HazardFactor = 0.5 }, func(v []Value) bool { return v[0].Value < base[0].Value-0.2 }},
		{"no effect of dose", func(s *Scenario) { s.DoseEffect = 0 }, func(v []Value) bool {
			return math.Abs(v[1].Value) < 4*v[1].SE && math.Abs(v[3].Value) < 1e-9 && base[3].Value > 4*base[3].SE
		}},
		{"no confounding", func(s *Scenario) { s.Confounding = 0 }, func(v []Value) bool {
			return math.Abs(v[2].Value-v[1].Value) < 0.5*(base[2].Value-base[1].Value)
		}},
		{"twice the events", func(s *Scenario) { s.EventFactor = 2 }, func(v []Value) bool { return math.Abs(v[4].Value-2*base[4].Value) < 1e-9 }},
	} {
		s := Default()
		variant.change(&s)
		if v := truthOf(t, s, back, thirds, raw, quarter, events); !variant.check(v) {
			t.Errorf("%s: %v, in the base scenario %v", variant.name, v, base)
		}
	}
}

func TestTruthIsReadAsWritten(t *testing.T) {
	truth, err := ComputeTruth(Default(), 2_200)
	if err != nil {
		t.Fatal(err)
	}
	data, err := truth.Write()
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadTruth(data)
	if err != nil {
		t.Fatal(err)
	}
	if len(back.Values) != len(truth.Values) || back.Values[7] != truth.Values[7] || back.Scenario != truth.Scenario || back.Episodes != truth.Episodes {
		t.Error("what was read differs from what was written")
	}
	if _, err := ReadTruth([]byte("{")); err == nil || !strings.Contains(err.Error(), "dev truth") {
		t.Errorf("error %v, wanted one that names the command", err)
	}
}

// The variants that break the adjustment for severity: what is standardised
// over exported severity is then no longer what the dose does.
func TestVariantsBreakTheAdjustment(t *testing.T) {
	contrast := func(change func(*Scenario)) (value, se float64, bySite float64) {
		s := Default()
		change(&s)
		w, err := newWorld(s)
		if err != nil {
			t.Fatal(err)
		}
		const kind = 1 // lateral elbow tendinopathy
		var at []life
		sum, n := map[int]float64{}, map[int]float64{}
		for _, l := range w.lives(kind, 12_000) {
			if l.atTarget || !ways[l.way].cuff || l.before(w.injuries[kind].landmark) {
				continue
			}
			e := w.drawEpisode(l.number, drawPerson(&w.scenario, l.number), kind)
			l.severity = e.shown
			at = append(at, l)
			sum[e.person.site] += l.dose.sets
			n[e.person.site]++
		}
		least, most := math.Inf(1), 0.0
		for site := range sum {
			least, most = math.Min(least, sum[site]/n[site]), math.Max(most, sum[site]/n[site])
		}
		value, se = thirds(at, func(d dose) float64 { return d.sets }, 26, true)
		return value, se, most / least
	}
	base, se, bySite := contrast(func(*Scenario) {})
	for name, change := range map[string]func(*Scenario){
		"hidden severity": func(s *Scenario) { s.HiddenSeverity = true }, "pain feeds dose": func(s *Scenario) { s.PainFeedsDose = true },
	} {
		if got, other, _ := contrast(change); (got-base)/math.Hypot(se, other) < 4 {
			t.Errorf("%s: contrast %.3f, %.3f in the base scenario: wanted 4 standard errors more", name, got, base)
		}
	}
	if _, _, apart := contrast(func(s *Scenario) { s.SitesDifferInDose = true }); apart < 1.3 || bySite > 1.1 {
		t.Errorf("mean doses of sites differ by a factor of %.2f, in the base scenario by %.2f", apart, bySite)
	}
}
