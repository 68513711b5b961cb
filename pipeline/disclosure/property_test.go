package disclosure_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

func release(t *testing.T, set result.Set, audience disclosure.Audience, f disclosure.Floors) *disclosure.Released {
	t.Helper()
	r, err := disclosure.Release(disclosure.Input{Figures: set, Audience: audience, Floors: f})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestNoSmallCountLeaves draws practices from tiny to large and looks, as a
// reader would, for a small count of persons that is printed, that stands in
// another column, or that one subtraction gives back.
func TestNoSmallCountLeaves(t *testing.T) {
	for _, audience := range []disclosure.Audience{disclosure.Circulating, disclosure.Inside} {
		floor := floors.Circulating
		if audience == disclosure.Inside {
			floor = floors.Inside
		}
		hidden := 0
		for seed := range uint64(120) {
			rng := rand.New(rand.NewPCG(seed, 7))
			p := draw(rng, 1+rng.IntN(4), 1+rng.IntN(3), []float64{1, 4, 12, 40}[seed%4])
			r := release(t, p.set, audience, floors)
			for _, f := range r.Figures() {
				if f.Status == result.Hidden {
					hidden++
					wantBare(t, f)
				}
				wantNoSmallCount(t, f, floor)
			}
			wantNothingSubtracted(t, p.set, r, floor)
		}
		if hidden < 1000 {
			t.Errorf("%v: %d hidden figures in all draws; the test has nothing to look at", audience, hidden)
		}
	}
}

func wantBare(t *testing.T, f disclosure.Shown) {
	t.Helper()
	v := reflect.ValueOf(f.Figure)
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		if v.Field(i).Kind() == reflect.Pointer && name != "X" && !v.Field(i).IsNil() {
			t.Errorf("%s is hidden and %s is there", f.ID, name)
		}
	}
	if f.Reason == "" || len(f.Warnings) > 0 || f.InputsHash != "" {
		t.Errorf("%s: reason %q, warnings %q, inputs %q", f.ID, f.Reason, f.Warnings, f.InputsHash)
	}
}

func wantNoSmallCount(t *testing.T, f disclosure.Shown, floor int) {
	t.Helper()
	if k := f.Kind; (k == disclosure.PersonsByOutcome || (k == disclosure.PersonsInTotal && f.InjuryType+f.Site != "")) &&
		f.Value != nil && *f.Value > 0 && *f.Value < float64(floor) {
		t.Errorf("%s shows %g", f.ID, *f.Value)
	}
	for name, n := range map[string]*int{"persons": f.Persons, "episodes": f.Episodes, "events": f.Events, "missing": f.Missing} {
		if n != nil && *n > 0 && *n < floor && f.InjuryType+f.Site != "" {
			t.Errorf("%s shows %d in %s", f.ID, *n, name)
		}
	}
	if !f.PersonsRounded && f.Persons != nil && f.Events != nil && f.Kind == disclosure.Rate && *f.Persons-*f.Events > 0 && *f.Persons-*f.Events < floor {
		t.Errorf("%s: %d persons less %d events", f.ID, *f.Persons, *f.Events)
	}
}

// wantNothingSubtracted takes each sum by itself, by a grouping of its own, and
// lists the values that every hidden member can have by trying them all.
func wantNothingSubtracted(t *testing.T, set result.Set, r *disclosure.Released, floor int) {
	t.Helper()
	figure := map[string]result.Figure{}
	for _, f := range set.Figures {
		figure[f.ID] = f
	}
	parts := map[string][]string{}
	whole := map[string]string{}
	for _, total := range set.Totals {
		part := figure[total.Part]
		key := fmt.Sprint(total.Whole, part.InjuryType != "", part.Site != "")
		parts[key] = append(parts[key], total.Part)
		whole[key] = total.Whole
	}
	for key, ids := range parts {
		sum, _ := r.Lookup(whole[key])
		rest := 0.0
		var hidden []disclosure.Shown
		for _, id := range ids {
			f, _ := r.Lookup(id)
			if f.Value == nil {
				hidden = append(hidden, f)
			} else {
				rest += *f.Value
			}
		}
		if sum.Value == nil {
			if len(hidden) == 0 {
				t.Errorf("%s: the parts sum to the hidden whole", key)
			}
			continue
		}
		for _, h := range hidden {
			values := 0
			for v := 0; v < 500; v++ {
				if possible(float64(v), h, hidden, *sum.Value-rest, floor) {
					values++
				}
			}
			if values < 5 {
				t.Errorf("%s: %s = %g can have %d values only", key, h.ID, *figure[h.ID].Value, values)
			}
		}
	}
}

// possible says whether h can be v when the hidden ones sum to left: a small
// count lies from 0 to the floor less one, any other from the floor up.
func possible(v float64, h disclosure.Shown, hidden []disclosure.Shown, left float64, floor int) bool {
	least, most := 0.0, 0.0
	for _, o := range hidden {
		switch {
		case o.ID == h.ID && h.ValueBelow > 0 && v >= float64(h.ValueBelow):
			return false
		case o.ID == h.ID && h.ValueBelow == 0 && v < float64(floor):
			return false
		case o.ID == h.ID:
			least, most = least+v, most+v
		case o.ValueBelow > 0:
			most += float64(o.ValueBelow - 1)
		default:
			least, most = least+float64(floor), most+1e6
		}
	}
	return least <= left && left <= most
}

func TestOrderDoesNotMatterAndInputsStay(t *testing.T) {
	for seed := range uint64(10) {
		rng := rand.New(rand.NewPCG(seed, 11))
		set := draw(rng, 3, 3, 6).set
		before := deepCopy(set)
		first := release(t, set, disclosure.Circulating, floors)
		if !reflect.DeepEqual(set, before) {
			t.Fatal("the gate changed what it was given")
		}
		rng.Shuffle(len(set.Figures), func(i, j int) { set.Figures[i], set.Figures[j] = set.Figures[j], set.Figures[i] })
		rng.Shuffle(len(set.Totals), func(i, j int) { set.Totals[i], set.Totals[j] = set.Totals[j], set.Totals[i] })
		rng.Shuffle(len(set.Sources), func(i, j int) { set.Sources[i], set.Sources[j] = set.Sources[j], set.Sources[i] })
		second := release(t, set, disclosure.Circulating, floors)
		if !reflect.DeepEqual(first.Figures(), second.Figures()) {
			t.Fatal("another order gives another release")
		}
	}
}

func deepCopy(set result.Set) result.Set {
	out := result.Set{Sources: slices.Clone(set.Sources), Totals: slices.Clone(set.Totals)}
	for _, f := range set.Figures {
		for _, p := range []**float64{&f.X, &f.Value, &f.Low, &f.High, &f.StdError, &f.Exposure} {
			if *p != nil {
				*p = number(**p)
			}
		}
		for _, p := range []**int{&f.Persons, &f.Episodes, &f.Events, &f.Missing} {
			if *p != nil {
				*p = whole(**p)
			}
		}
		f.Warnings = slices.Clone(f.Warnings)
		out.Figures = append(out.Figures, f)
	}
	return out
}

func TestMostOfATypicalMonthIsShown(t *testing.T) {
	p := draw(rand.New(rand.NewPCG(1, 1)), 9, 6, 40)
	r := release(t, p.set, disclosure.Circulating, floors)
	shown, hidden, withheld := r.Counts()
	if total := shown + hidden + withheld; float64(shown) < 0.9*float64(total) {
		t.Errorf("%d of %d figures shown, fewer than 90 %%", shown, total)
	}
	byReason := 0
	for _, h := range r.HiddenBy() {
		byReason += h.Figures
	}
	if byReason != hidden || hidden == 0 {
		t.Errorf("%d figures hidden, %d by reason", hidden, byReason)
	}
}
