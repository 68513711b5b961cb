package settings

import (
	"fmt"
	"slices"
	"strconv"

	"evenlimb/seeds/reference"
)

// readSections fills p from the tree and notes all that is not as keys.go has it.
func readSections(root *table, p *Practice, found *Problems) {
	for _, e := range root.entries {
		if _, ok := findSection(e.name); !ok {
			found.add(e.at, "unknown section %q%s", e.name, hint(e.name, sectionNames()))
		}
	}
	p.InjuryTypes = codeTableTypes()
	for _, s := range sections {
		e := root.find(s.name)
		switch s.repeat {
		case once:
			s.readOnce(e, root, p, found)
		case listed:
			s.readListed(e, root, p, found)
		case perCode:
			s.readPerCode(e, p, found)
		}
	}
}

func (s section) readOnce(e *entry, root *table, p *Practice, found *Problems) {
	t := &table{at: root.at}
	if e != nil {
		if e.value.table == nil {
			found.add(e.at, "%s is a section: write [%s] and its keys below it", s.name, s.name)
			return
		}
		t = e.value.table
	}
	s.readKeys(t, p, "["+s.name+"]", found)
}

func (s section) readListed(e *entry, root *table, p *Practice, found *Problems) {
	var items []*value
	at := root.at
	if e != nil {
		at, items = e.at, e.value.list
		if e.value.list == nil {
			found.add(e.at, "%s may stand several times: write [[%s]] with two brackets", s.name, s.name)
			return
		}
	}
	if len(items) < s.least {
		found.add(at, "[[%s]] is missing: at least one must stand", s.name)
	}
	for _, item := range items {
		if item.table == nil {
			found.add(item.at, "%s holds sections: write [[%s]] and its keys below it", s.name, s.name)
			continue
		}
		s.readKeys(item.table, s.grow(p), "[["+s.name+"]]", found)
	}
}

// grow adds an empty element to the list of a listed section and returns it.
func (s section) grow(p *Practice) any {
	if s.name == "sites" {
		p.Sites = append(p.Sites, Site{})
		return &p.Sites[len(p.Sites)-1]
	}
	p.Ways = append(p.Ways, Way{})
	return &p.Ways[len(p.Ways)-1]
}

func (s section) readPerCode(e *entry, p *Practice, found *Problems) {
	if e == nil {
		return
	}
	if e.value.table == nil {
		found.add(e.at, "write [%s.CODE] with the code of an injury type", s.name)
		return
	}
	known := reference.Codes(s.name)
	for _, one := range e.value.table.entries {
		i := slices.Index(known, one.name)
		switch {
		case i < 0:
			found.add(one.at, "unknown code %q in [%s.CODE]%s", one.name, s.name, hint(one.name, known))
		case one.value.table == nil:
			found.add(one.at, "write [%s.%s] and its keys below it", s.name, one.name)
		default:
			s.readKeys(one.value.table, &p.InjuryTypes[i], "["+s.name+"."+one.name+"]", found)
		}
	}
}

// readKeys fills one section's struct. where names the section in messages.
func (s section) readKeys(t *table, owner any, where string, found *Problems) {
	for _, e := range t.entries {
		if _, ok := s.find(e.name); !ok {
			found.add(e.at, "unknown key %q in %s%s", e.name, where, hint(e.name, s.names()))
		}
	}
	for _, k := range s.keys {
		e := t.find(k.name)
		switch {
		case e != nil:
			k.read(e, owner, found)
		case k.def == nil:
			found.add(t.at, "%s is missing in %s: %s", k.name, where, k.about)
		default:
			k.set(owner, k.def)
		}
	}
}

// read takes the value of an entry, or says why it cannot stand.
func (k key) read(e *entry, owner any, found *Problems) {
	wrong := func(v *value) {
		found.add(v.at, "%s must be %s", k.name, k.kind)
	}
	switch k.kind {
	case text:
		if s, ok := e.value.scalar.(string); !ok {
			wrong(e.value)
		} else if k.checkText(e.value, s, found) {
			k.set(owner, s)
		}
	case integer:
		if n, ok := e.value.scalar.(int64); !ok {
			wrong(e.value)
		} else if k.checkInteger(e.value, n, found) {
			k.set(owner, int(n))
		}
	case boolean:
		if b, ok := e.value.scalar.(bool); ok {
			k.set(owner, b)
		} else {
			wrong(e.value)
		}
	case texts:
		all := []string{}
		if none, _ := k.def.([]string); len(e.value.list) == 0 && (e.value.list == nil || none == nil) {
			wrong(e.value) // a list that may be empty has an empty one as its default
		}
		for _, v := range e.value.list {
			if s, ok := v.scalar.(string); !ok {
				wrong(v)
			} else if k.checkText(v, s, found) {
				all = append(all, s)
			}
		}
		k.set(owner, all)
	case integers:
		all := []int{}
		if len(e.value.list) == 0 {
			wrong(e.value)
		}
		for _, v := range e.value.list {
			if n, ok := v.scalar.(int64); !ok {
				wrong(v)
			} else if k.checkInteger(v, n, found) {
				all = append(all, int(n))
			}
		}
		k.set(owner, all)
	}
}

func (k key) checkText(v *value, s string, found *Problems) bool {
	switch {
	case s == "":
		found.add(v.at, "%s must not be empty", k.name)
	case len(k.words) > 0 && !slices.Contains(k.words, s):
		found.add(v.at, "%s cannot be %q%s", k.name, s, hint(s, k.words))
	case k.check != nil && k.check(s) != "":
		found.add(v.at, "%s: %s", k.name, k.check(s))
	default:
		return true
	}
	return false
}

func (k key) checkInteger(v *value, n int64, found *Problems) bool {
	if n < int64(k.low) || n > int64(k.high) {
		found.add(v.at, "%s is %d; it must lie from %d to %d", k.name, n, k.low, k.high)
		return false
	}
	return true
}

// set stores a value of the key's kind in the owner's field.
func (k key) set(owner, v any) {
	switch to := k.field(owner).(type) {
	case *string:
		if s, ok := v.(string); ok {
			*to = s
		}
	case *int:
		if n, ok := v.(int); ok {
			*to = n
		}
	case *bool:
		if b, ok := v.(bool); ok {
			*to = b
		}
	case *[]string:
		if s, ok := v.([]string); ok {
			*to = slices.Clone(s)
		}
	case *[]int:
		if n, ok := v.([]int); ok {
			*to = slices.Clone(n)
		}
	}
}

// checkTogether notes what no single key can be wrong about.
func checkTogether(root *table, p *Practice, found *Problems) {
	at := func(section string) position {
		if e := root.find(section); e != nil {
			return e.at
		}
		return root.at
	}
	item := func(section string, i int) position { return root.find(section).value.list[i].at }
	seen := map[string]bool{}
	for i, s := range p.Sites {
		if seen[s.Code] {
			found.add(item("sites", i), "the site %q stands twice", s.Code)
		}
		seen[s.Code] = true
	}
	seen = map[string]bool{}
	for i, w := range p.Ways {
		if seen[w.Code] {
			found.add(item("ways", i), "the way %q stands twice", w.Code)
		}
		seen[w.Code] = true
	}
	r := p.Return
	if r.HoldDaysShort > r.HoldDays || r.HoldDays > r.HoldDaysLong {
		found.add(at("return"), "hold_days_short, hold_days and hold_days_long must rise: they are %d, %d and %d", r.HoldDaysShort, r.HoldDays, r.HoldDaysLong)
	}
	if !rises(r.HorizonWeeks) {
		found.add(at("return"), "horizon_weeks must rise: they are %v", r.HorizonWeeks)
	}
	falling := slices.Clone(r.MeanWeeks)
	slices.Reverse(falling)
	if !rises(falling) {
		found.add(at("return"), "mean_weeks must fall: they are %v", r.MeanWeeks)
	}
	y := p.Symmetry
	for _, weeks := range []struct {
		key  string
		list []int
	}{{"knot_weeks", y.KnotWeeks}, {"horizon_weeks", y.HorizonWeeks}, {"threshold_weeks", y.ThresholdWeeks}} {
		if !rises(weeks.list) {
			found.add(at("symmetry"), "%s must rise: they are %v", weeks.key, weeks.list)
		}
	}
	if !rises(p.Tolerance.PressureBands) {
		found.add(at("tolerance"), "pressure_bands must rise: they are %v", p.Tolerance.PressureBands)
	}
	if fault := p.Scores.fault(); fault != "" {
		found.add(at("scores"), "%s", fault)
	}
	c := p.SmallCounts
	if c.Inside > c.Circulating || c.Circulating > c.Site || c.Circulating > c.Curve {
		found.add(at("small_counts"), "inside must not be above circulating, nor circulating above site or curve: they are %d, %d, %d and %d", c.Inside, c.Circulating, c.Site, c.Curve)
	}
	for _, t := range p.InjuryTypes {
		ladder, _ := reference.Cell("stages", t.DefaultTargetStage, "ladder")
		if ladder != t.Region && ladder != "work" {
			found.add(at("injury_types"), "the default target %s of %s is on the ladder %s; it must be on %s or work", t.DefaultTargetStage, t.Code, ladder, t.Region)
		}
	}
}

// fault says what of the weeks of pain and scores does not go together; empty
// when all does. An answer must be near one week alone.
func (s Scores) fault() string {
	if s.HorizonWeeks[0] <= s.AroundWeeks+1 {
		return fmt.Sprintf("the first of horizon_weeks must lie more than %d weeks from the start: it is %d", s.AroundWeeks+1, s.HorizonWeeks[0])
	}
	for i := 1; i < len(s.HorizonWeeks); i++ {
		if s.HorizonWeeks[i] <= s.HorizonWeeks[i-1]+2*s.AroundWeeks {
			return fmt.Sprintf("horizon_weeks must rise by more than %d, twice around_weeks: they are %v", 2*s.AroundWeeks, s.HorizonWeeks)
		}
	}
	if !slices.Contains(s.HorizonWeeks, s.ChangeWeek) {
		return fmt.Sprintf("change_week must be one of horizon_weeks: it is %d, they are %v", s.ChangeWeek, s.HorizonWeeks)
	}
	return ""
}

func rises(weeks []int) bool {
	for i := 1; i < len(weeks); i++ {
		if weeks[i] <= weeks[i-1] {
			return false
		}
	}
	return true
}

// codeTableTypes returns the injury types as the code table has them.
func codeTableTypes() []InjuryType {
	var types []InjuryType
	for _, code := range reference.Codes("injury_types") {
		cell := func(column string) string {
			text, _ := reference.Cell("injury_types", code, column)
			return text
		}
		number := func(column string) int {
			n, err := strconv.Atoi(cell(column))
			if err != nil {
				// The table is compiled in and tested: only a broken build gets here.
				panic(fmt.Sprintf("injury_types.csv: %s of %s: %v", column, code, err))
			}
			return n
		}
		types = append(types, InjuryType{
			Code: code, Label: cell("label"), Region: cell("region"), Kind: cell("kind"),
			LandmarkDays: number("landmark_days"), DefaultTargetStage: cell("default_target_stage"),
			ContactGapDays: number("contact_gap_days"), KeepsActivity: cell("keeps_activity") == "true",
		})
	}
	return types
}

func findSection(name string) (section, bool) {
	for _, s := range sections {
		if s.name == name {
			return s, true
		}
	}
	return section{}, false
}

func sectionNames() []string {
	var names []string
	for _, s := range sections {
		names = append(names, s.name)
	}
	return names
}

func (s section) find(name string) (key, bool) {
	for _, k := range s.keys {
		if k.name == name {
			return k, true
		}
	}
	return key{}, false
}

func (s section) names() []string {
	var names []string
	for _, k := range s.keys {
		names = append(names, k.name)
	}
	return names
}
