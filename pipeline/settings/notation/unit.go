package notation

import (
	"fmt"
	"math/big"
	"strings"
)

// Unit is a unit that values may be written in.
type Unit struct {
	Name string
	ways []way
}

// way is how a unit measures one kind of thing: the size of one unit as an
// exact multiple of that kind's base.
type way struct {
	kind string
	size *big.Rat
}

// units are all units known, with the exact sizes of their definitions: the
// international inch and pound, the standard acceleration of free fall, and the
// conventional millimetre of mercury. Kilogram and pound stand for a force too,
// since dynamometers are read in them.
var units = []Unit{
	{"cm", ways("length", "1")},
	{"mm", ways("length", "1/10")},
	{"m", ways("length", "100")},
	{"in", ways("length", "254/100")},
	{"ft", ways("length", "3048/100")},
	{"kg", ways("mass", "1", "force", "980665/100000")},
	{"g", ways("mass", "1/1000")},
	{"lb", ways("mass", "45359237/100000000", "force", "44482216152605/10000000000000")},
	{"N", ways("force", "1")},
	{"kgf", ways("force", "980665/100000")},
	{"lbf", ways("force", "44482216152605/10000000000000")},
	{"mmHg", ways("pressure", "133322387415/1000000000")},
	{"kPa", ways("pressure", "1000")},
	{"%", ways("share", "1/100")},
	{"fraction", ways("share", "1")},
	{"s", ways("time", "1")},
	{"min", ways("time", "60")},
	{"h", ways("time", "3600")},
	{"deg", ways("angle", "1")},
}

// otherNames are names of the same units in the notation of code tables (UCUM).
var otherNames = map[string]string{"mm[Hg]": "mmHg", "[in_i]": "in", "[ft_i]": "ft", "[lb_av]": "lb", "[lbf_av]": "lbf"}

func ways(pairs ...string) []way {
	var list []way
	for i := 0; i < len(pairs); i += 2 {
		size, ok := new(big.Rat).SetString(pairs[i+1])
		if !ok {
			panic("notation: " + pairs[i+1] + " is not a number") // the table is compiled in
		}
		list = append(list, way{pairs[i], size})
	}
	return list
}

// FindUnit returns the unit of that name.
func FindUnit(name string) (Unit, bool) {
	if other, ok := otherNames[name]; ok {
		name = other
	}
	for _, u := range units {
		if u.Name == name {
			return u, true
		}
	}
	return Unit{}, false
}

// UnitNames lists the names of all units.
func UnitNames() []string {
	var names []string
	for _, u := range units {
		names = append(names, u.Name)
	}
	return names
}

// factor returns by what a value in u is multiplied to be one in other.
func (u Unit) factor(other Unit) (*big.Rat, bool) {
	for _, from := range u.ways {
		for _, to := range other.ways {
			if from.kind == to.kind {
				return new(big.Rat).Quo(from.size, to.size), true
			}
		}
	}
	return nil, false
}

// Converts says whether values in u can be turned into values in other.
func (u Unit) Converts(other Unit) bool {
	_, ok := u.factor(other)
	return ok
}

// Convert turns a canonical number in u into one in other, exactly, and then
// rounds it to that many decimals, half away from zero.
func (u Unit) Convert(number string, other Unit, decimals int) (string, error) {
	factor, ok := u.factor(other)
	if !ok {
		return "", fmt.Errorf("%s cannot be turned into %s", u.Name, other.Name)
	}
	value, ok := new(big.Rat).SetString(number)
	if !ok {
		return "", fmt.Errorf("%q is not a number", number)
	}
	return round(value.Mul(value, factor), decimals), nil
}

// Round rounds a canonical number to that many decimals, half away from zero.
func Round(number string, decimals int) string {
	_, after, _ := strings.Cut(number, ".")
	if len(after) <= decimals {
		return number
	}
	value, ok := new(big.Rat).SetString(number)
	if !ok {
		return number // not a number; left for its own check to say so
	}
	return round(value, decimals)
}

// round writes a value with that many decimals at most, without noughts at the end.
func round(value *big.Rat, decimals int) string {
	// The library rounds halves away from zero.
	text := value.FloatString(decimals)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}
