package symmetry

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/resample"
	"evenlimb/pipeline/stats/survival/interval"
	"evenlimb/pipeline/warehouse"
)

// replicates is how often persons are drawn for the interval of a share.
const replicates = 400

// reach is when an episode's index came to the threshold and held: after Lower
// and by Upper, in days from the day before the start of care.
type reach struct {
	person, episode int
	lower, upper    float64
	last            int  // day of the last visit
	provisional     bool // seen at that visit alone
}

// reached adds the share whose index has come to the threshold and held at the
// next visit. When it came is known only between two visits: after the last one
// below and by the first one that holds. A visit that is the last counts,
// provisionally; whoever was there at the first visit came before it.
func (m *maker) reached(ctx context.Context, g group) error {
	weeks := m.in.Rules.ThresholdWeeks
	if (!g.measure.ratio && !g.measure.zero) || len(weeks) == 0 {
		return nil
	}
	var list []reach
	for i := 0; i < len(g.pairs); {
		next := i
		for next < len(g.pairs) && g.pairs[next].EpisodeKey == g.pairs[i].EpisodeKey {
			next++
		}
		if r, ok := reachOf(g.pairs[i:next], float64(m.in.Rules.ThresholdPercent)); ok {
			list = append(list, r)
		}
		i = next
	}
	shares, err := sharesBy(ctx, list, weeks, seedOf(g.picture))
	var withholds string
	switch {
	case errors.Is(err, stats.ErrTooFew), errors.Is(err, stats.ErrEmpty):
		withholds = "Too few persons were measured."
	case errors.Is(err, stats.ErrNoEvents), errors.Is(err, stats.ErrNotConverged):
		withholds = fmt.Sprintf("Too few came to %d %% to tell when.", m.in.Rules.ThresholdPercent)
	case err != nil:
		return err
	}
	statistic := fmt.Sprintf("reached_%d", m.in.Rules.ThresholdPercent)
	source := result.Source{Table: PairsTable, Predicate: m.pairsWhere(g) + " and index_percent is not null"}
	for k, week := range weeks {
		seen, came, provisional := m.seenBy(list, week)
		if week > m.in.Rules.ChangeWeek && seen < m.in.Rules.SupportPersons {
			continue // as with the weeks of the other figures
		}
		f := m.figure(g, statistic)
		f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", "share"
		var t tally
		for _, r := range list {
			t.add(r.person, r.episode)
		}
		f.Persons, f.Episodes = t.counts()
		f.Events = count(came)
		switch {
		case withholds != "":
			withhold(&f, withholds)
		case seen < m.in.Rules.SupportPersons:
			withhold(&f, fmt.Sprintf("Fewer than %d persons were measured within %d weeks of week %d or later.", m.in.Rules.SupportPersons, m.in.Rules.SupportWeeks, week))
		default:
			e := shares[k]
			f.Value, f.Method = number(e.Value), "Turnbull (interval-censored), spread evenly between visits; "+e.Method
			if e.Level > 0 {
				f.Low, f.High, f.StdError, f.Level = number(e.Low), number(e.High), number(e.SE), e.Level
			}
			for _, w := range e.Warnings {
				f.Warnings = append(f.Warnings, w.Text)
			}
			if provisional {
				f.Status = result.Provisional
				f.Warnings = append(f.Warnings, "Some came to it at their last visit; they count, and may still drop below.")
			}
		}
		m.add(f, source)
	}
	return nil
}

// reachOf reads the visits of one episode, in order of day.
func reachOf(visits []warehouse.SidePair, threshold float64) (reach, bool) {
	r := reach{upper: math.Inf(1)}
	var seen []warehouse.SidePair
	for _, p := range visits {
		if p.IndexPercent != nil {
			seen = append(seen, p)
		}
	}
	if len(seen) == 0 {
		return r, false
	}
	r.person, r.episode, r.last = seen[0].PersonKey, seen[0].EpisodeKey, seen[len(seen)-1].Day
	for i, p := range seen {
		last := i == len(seen)-1
		if *p.IndexPercent >= threshold && (last || *seen[i+1].IndexPercent >= threshold) {
			r.upper, r.provisional = float64(p.Day+1), last
			return r, true
		}
		r.lower = float64(p.Day + 1)
	}
	return r, true
}

// seenBy counts the persons who were measured about a week or later, and the
// episodes that had come by its end; provisional when one of these has only its
// last visit.
func (m *maker) seenBy(list []reach, week int) (persons, came int, provisional bool) {
	var keys []int
	for _, r := range list {
		if r.upper <= float64(7*week+1) {
			came++
			provisional = provisional || r.provisional
		}
		if r.last >= 7*(week-m.in.Rules.SupportWeeks) {
			keys = append(keys, r.person)
		}
	}
	return distinct(keys), came, provisional
}

// sharesBy estimates the share that had come by the end of each week, with
// intervals by drawing persons.
func sharesBy(ctx context.Context, list []reach, weeks []int, seed uint64) ([]stats.Estimate, error) {
	var order []int
	of := map[int][]reach{}
	for _, r := range list {
		if of[r.person] == nil {
			order = append(order, r.person)
		}
		of[r.person] = append(of[r.person], r)
	}
	draws, err := resample.Bootstrap(ctx, len(order), func(draw []int) ([]float64, error) {
		var data interval.Data
		for _, i := range draw {
			for _, r := range of[order[i]] {
				data.Lower, data.Upper = append(data.Lower, r.lower), append(data.Upper, r.upper)
			}
		}
		curve, err := interval.Turnbull(data)
		if err != nil {
			return nil, err
		}
		shares := make([]float64, len(weeks))
		for k, week := range weeks {
			shares[k] = curve.Even(float64(7*week + 1))
		}
		return shares, nil
	}, resample.Options{Replicates: replicates, Seed: seed, MaxFailed: 0.05})
	if err != nil {
		return nil, err
	}
	shares := make([]stats.Estimate, len(weeks))
	for k := range weeks {
		shares[k], err = draws.Percentile(k, level)
		if errors.Is(err, stats.ErrNoVariation) { // nobody or everybody: any draw says the same
			shares[k], err = stats.Estimate{Value: draws.Point[k], Method: "no interval, as all draws agree"}, nil
		}
		if err != nil {
			return nil, err
		}
	}
	return shares, nil
}

// seedOf makes the seed of a picture's draws from its id.
func seedOf(picture string) uint64 {
	sum := sha256.Sum256([]byte(picture))
	return binary.BigEndian.Uint64(sum[:])
}
