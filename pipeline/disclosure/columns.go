package disclosure

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"slices"

	"evenlimb/pipeline/result"
)

// roundTo is what numbers at risk and coarsened persons are rounded to.
const roundTo = 5

// unitShare is the unit of a share from 0 to 1.
const unitShare = "share"

// hiddenNumbers lists, by picture, the counts that were hidden: the persons
// column of another row of the picture is often the same number.
func hiddenNumbers(rows []*row) map[string]map[int]bool {
	numbers := map[string]map[int]bool{}
	add := func(picture string, n int) {
		if numbers[picture] == nil {
			numbers[picture] = map[int]bool{}
		}
		numbers[picture][n] = true
	}
	for _, r := range rows {
		f := r.figure
		if r.hidden == "" || !r.counts() {
			continue
		}
		if f.Value != nil {
			add(f.Picture(), int(math.Round(*f.Value)))
		}
		if f.Persons != nil {
			add(f.Picture(), *f.Persons)
		}
	}
	return numbers
}

// shown makes the row as the audience may see it; hidden holds the hidden
// counts of its picture.
func (r *row) shown(l limits, hidden map[int]bool) Shown {
	s := Shown{Figure: r.figure, Kind: r.kind}
	if r.hidden != "" {
		s.ValueBelow = r.below
		s.Figure = bare(s.Figure)
		s.Status = result.Hidden
		s.Reason = r.hidden
		return s
	}
	switch r.kind {
	case AlwaysCounted:
		value := s.Value
		s.Figure = bare(s.Figure)
		s.Value = value
		return s
	case NumberAtRisk, RoundedCount:
		value := s.Value
		s.Figure = bare(s.Figure)
		if value != nil {
			rounded := roundTo * math.Round(*value/roundTo)
			s.Value = &rounded
		}
		return s
	case NotPersons:
		return s
	default:
		s.coverOutcome(l)
		s.coverGroup(l, hidden)
		return s
	}
}

// coverOutcome takes off a row the number with the outcome, or of missing
// values, where that number or its complement is small.
func (s *Shown) coverOutcome(l limits) {
	if s.Kind != EventCount && s.Events != nil {
		few := smallInt(*s.Events, l.persons)
		few = few || (s.Persons != nil && smallInt(*s.Persons-*s.Events, l.persons))
		few = few || (s.Episodes != nil && smallInt(*s.Episodes-*s.Events, l.persons))
		if few {
			if smallInt(*s.Events, l.persons) {
				s.EventsBelow = l.persons
			}
			s.Events = nil
		}
	}
	if s.Missing != nil && smallInt(*s.Missing, l.persons) {
		s.MissingBelow = l.persons
		s.Missing = nil
	}
}

// coverGroup coarsens the number of persons where, beside the episodes, it
// would tell how few came twice, or where it repeats a hidden count.
func (s *Shown) coverGroup(l limits, hidden map[int]bool) {
	if s.Persons == nil {
		return
	}
	repeated := hidden[*s.Persons]
	if s.Episodes != nil && hidden[*s.Episodes] {
		repeated = true
		s.Episodes = nil
	}
	if s.Events != nil && hidden[*s.Events] {
		s.Events = nil
	}
	if repeated {
		s.coarsen()
	}
	if repeated || s.fewCameTwice(l) {
		rounded := roundTo * int(math.Round(float64(*s.Persons)/roundTo))
		s.Persons = &rounded
		s.PersonsRounded = true
	}
}

// coarsen rounds what is estimated from a hidden number of people, as a share
// to many digits is a fraction whose denominator can be found.
func (s *Shown) coarsen() {
	step := 0.1
	if s.Unit == unitShare {
		step = 0.01
	}
	for _, v := range []*float64{s.Value, s.Low, s.High} {
		if v != nil && (s.Kind == Rate || s.Kind == CurvePoint) {
			*v = math.Round(*v/step) * step
		}
	}
	s.StdError = nil
	s.Exposure, s.ExposureUnit = nil, ""
}

// fewCameTwice says that the episodes are more than the persons by a small
// number. A count of episodes may carry them in its value.
func (s *Shown) fewCameTwice(l limits) bool {
	episodes := s.Episodes
	if episodes == nil && (s.Kind == PersonsByOutcome || s.Kind == PersonsInTotal) && s.Value != nil {
		n := int(math.Round(*s.Value))
		episodes = &n
	}
	return episodes != nil && smallInt(*episodes-*s.Persons, l.persons)
}

// bare returns f without anything counted or estimated.
func bare(f result.Figure) result.Figure {
	f.Value, f.Low, f.High, f.StdError = nil, nil, nil, nil
	f.Persons, f.Episodes, f.Events, f.Missing = nil, nil, nil, nil
	f.Exposure, f.ExposureUnit = nil, ""
	f.Level = 0
	f.Reason = ""
	f.Warnings = nil
	f.InputsHash = ""
	return f
}

// definitionHashes gives for each figure the hash of which rows it rests on,
// as tables and predicates, not as data.
func definitionHashes(sources []result.Source) map[string]string {
	sorted := slices.Clone(sources)
	slices.SortFunc(sorted, func(a, b result.Source) int {
		return cmp.Or(cmp.Compare(a.FigureID, b.FigureID), cmp.Compare(a.Table, b.Table), cmp.Compare(a.Predicate, b.Predicate))
	})
	hashes := make(map[string]string, len(sorted))
	for len(sorted) > 0 {
		id := sorted[0].FigureID
		h := sha256.New()
		n := 0
		for n < len(sorted) && sorted[n].FigureID == id {
			h.Write([]byte(sorted[n].Table + "\x00" + sorted[n].Predicate + "\x00"))
			n++
		}
		hashes[id] = hex.EncodeToString(h.Sum(nil))
		sorted = sorted[n:]
	}
	return hashes
}
