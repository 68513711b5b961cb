package notation

import (
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

func TestNumber(t *testing.T) {
	point, comma := Signs{Decimal: "."}, Signs{Decimal: ",", Thousands: "."}
	blank := Signs{Decimal: ",", Thousands: " "}
	for _, c := range []struct {
		signs      Signs
		text, want string // want empty: no number
	}{
		{point, "12", "12"},
		{point, "012.50", "12.5"},
		{point, ".5", "0.5"},
		{point, "-0", "0"},
		{point, "-0.0", "0"},
		{point, "+3", "3"},
		{point, "\u22123.10", "-3.1"},
		{point, "00", "0"},
		{point, "12,5", ""},
		{point, "12.", ""},
		{point, "", ""},
		{point, "-", ""},
		{point, "1e3", ""},
		{point, "1 000", ""},
		{point, "--1", ""},
		{point, "0x1", ""},
		{comma, "12,5", "12.5"},
		{comma, "1.234,5", "1234.5"},
		{comma, "1.234.567", "1234567"},
		{comma, "1.23", ""},
		{comma, "12.5", ""},
		{comma, "1234.567", ""},
		{comma, ".123", ""},
		{comma, "1,2,3", ""},
		{comma, "1,234.5", ""},
		{blank, "12 345,50", "12345.5"},
		{blank, "12 34", ""},
	} {
		if got, ok := c.signs.Number(c.text); got != c.want || ok != (c.want != "") {
			t.Errorf("%q with %+v: %q, %t; want %q", c.text, c.signs, got, ok, c.want)
		}
	}
}

func TestConvert(t *testing.T) {
	for _, c := range []struct {
		number, from, to string
		decimals         int
		want             string
	}{
		{"1", "in", "cm", 4, "2.54"},
		{"14.25", "in", "cm", 4, "36.195"},
		{"1", "ft", "m", 4, "0.3048"},
		{"1", "lb", "kg", 8, "0.45359237"},
		{"10", "lb", "kg", 4, "4.5359"},
		{"1", "kg", "N", 5, "9.80665"},
		{"1", "lbf", "N", 13, "4.4482216152605"},
		{"1", "lb", "N", 4, "4.4482"},
		{"9.80665", "N", "kg", 4, "1"},
		{"16", "kPa", "mmHg", 0, "120"},
		{"760", "mm[Hg]", "kPa", 3, "101.325"},
		{"0.655", "fraction", "%", 4, "65.5"},
		{"90", "s", "min", 4, "1.5"},
		// Half away from zero, on both sides of it.
		{"0.25", "mm", "cm", 2, "0.03"},
		{"0.24", "mm", "cm", 2, "0.02"},
		{"-0.25", "mm", "cm", 2, "-0.03"},
		{"-0.04", "mm", "cm", 2, "0"},
	} {
		from, ok1 := FindUnit(c.from)
		to, ok2 := FindUnit(c.to)
		got, err := from.Convert(c.number, to, c.decimals)
		if !ok1 || !ok2 || err != nil || got != c.want {
			t.Errorf("%s %s in %s: %q, %v; want %s", c.number, c.from, c.to, got, err, c.want)
		}
	}
	in, _ := FindUnit("in")
	kg, _ := FindUnit("kg")
	if in.Converts(kg) {
		t.Error("inches turn into kilograms")
	}
	if _, err := in.Convert("1", kg, 4); err == nil {
		t.Error("inches turned into kilograms")
	}
	if _, ok := FindUnit("furlong"); ok {
		t.Error("a unit that is not kept is known")
	}
}

// TestConvertThereAndBack turns numbers into another unit and back, with enough
// decimals that only rounding is lost.
func TestConvertThereAndBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 1))
	for range 2000 {
		a, b := units[rng.IntN(len(units))], units[rng.IntN(len(units))]
		if !a.Converts(b) {
			continue
		}
		number := big.NewRat(rng.Int64N(2_000_001)-1_000_000, 10_000).FloatString(4)
		number = Round(strings.TrimRight(strings.TrimRight(number, "0"), "."), 4)
		there, err := a.Convert(number, b, 12)
		if err != nil {
			t.Fatal(err)
		}
		back, err := b.Convert(there, a, 4)
		canonical, _ := Signs{Decimal: "."}.Number(number)
		if err != nil || back != canonical {
			t.Fatalf("%s %s is %s %s and back %s: %v", number, a.Name, there, b.Name, back, err)
		}
	}
}

func TestSumAndRound(t *testing.T) {
	if got := Sum([]string{"30", "15", "0.1", "0.2"}); got != "45.3" {
		t.Errorf("sum %s", got)
	}
	if got := Round("2.5", 0); got != "3" {
		t.Errorf("2.5 is rounded to %s", got)
	}
	if got := Round("-2.4999", 0); got != "-2" {
		t.Errorf("-2.4999 is rounded to %s", got)
	}
	if got := Round("36", 2); got != "36" {
		t.Errorf("36 is rounded to %s", got)
	}
}

func TestDateFormats(t *testing.T) {
	for _, text := range []string{"", "day", "day.month", "daymonth", "year/year/month", "dd.mm.yyyy", "day.month.year5", "jour.month.year"} {
		if f, err := ParseDateFormat(text); err == nil {
			t.Errorf("%q is taken as %v", text, f)
		}
	}
	words := DateWords{Months: strings.Fields("Jan Feb Mar Apr May June July Aug Sep Oct Nov Dec"), Century: 1940}
	for _, c := range []struct{ format, text, want string }{
		{"day.month.year", "1.2.2026", "2026-02-01"},
		{"day.month.year", "01.02.26", "2026-02-01"},
		{"day.month.year", "01.02.39", "2039-02-01"},
		{"day.month.year", "01.02.40", "1940-02-01"},
		{"day.month.year", "01.02.126", ""},
		{"day.month.year", "001.02.2026", ""},
		{"day.month.year", "29.2.2024", "2024-02-29"},
		{"day.month.year", "29.2.2025", ""},
		{"day.month.year", "1.2.2026 ", ""},
		{"day month year", "3 june 2026", "2026-06-03"},
		{"day month year", "3 Jun 2026", ""},
		{"month day, year", "July 4, 2026", "2026-07-04"},
		{"yearmonthday", "20260131", "2026-01-31"},
		{"yearmonthday", "2026131", ""},
		{"year-month-day time", "2026-01-31 23:59", "2026-01-31"},
		{"year-month-day time", "2026-01-31 24:01", ""},
		{"year-month-day time", "2026-01-31", ""},
		{"month/year", "1/2026", "2026-01-01"},
		{"day/month/year", "-1/1/2026", ""},
	} {
		f, err := ParseDateFormat(c.format)
		if err != nil {
			t.Fatal(err)
		}
		day, ok, _ := f.Read(c.text, words)
		if got := day.Format(time.DateOnly); ok != (c.want != "") || (ok && got != c.want) {
			t.Errorf("%q as %s: %s, %t; want %s", c.text, c.format, got, ok, c.want)
		}
	}
	f, err := ParseDateFormat("day.month.year")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok, why := f.Read("1.2.26", DateWords{}); ok || !strings.Contains(why, "two digits") {
		t.Errorf("a year of two digits: %t, %q", ok, why)
	}
}

func TestLike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"day.month.year", "month.day.year", true},
		{"day.month.year", "day/month/year", false},
		{"day-month-year", "year-month-day", false},
		{"day-month-year", "day-month-year time", false},
	} {
		a, _ := ParseDateFormat(c.a)
		b, _ := ParseDateFormat(c.b)
		if a.Like(b) != c.want || b.Like(a) != c.want {
			t.Errorf("%s like %s: not %t", c.a, c.b, c.want)
		}
	}
}

func FuzzNumber(f *testing.F) {
	for _, text := range []string{"1.234,5", "-0", "\u22121", "1 000", ".", "12", "+,5"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, s := range []Signs{{Decimal: "."}, {Decimal: ",", Thousands: "."}, {Decimal: ".", Thousands: "'"}} {
			canonical, ok := s.Number(text)
			if !ok {
				continue
			}
			if again, ok := (Signs{Decimal: "."}).Number(canonical); !ok || again != canonical {
				t.Errorf("%q is %q, which is %q, %t", text, canonical, again, ok)
			}
			if _, ok := new(big.Rat).SetString(canonical); !ok {
				t.Errorf("%q is %q, no number", text, canonical)
			}
		}
	})
}

func FuzzDate(f *testing.F) {
	f.Add("day.month.year", "1.2.2026")
	f.Add("year-month-daytime", "2026-01-31T10:00:00Z")
	f.Add("month day, year", "July 4, 26")
	f.Fuzz(func(t *testing.T, format, text string) {
		d, err := ParseDateFormat(format)
		if err != nil {
			return
		}
		day, ok, why := d.Read(text, DateWords{Century: 1950})
		if ok && (day.Year() < 0 || day.Year() > 9999 || why != "") {
			t.Errorf("%q as %q is %v (%s)", text, format, day, why)
		}
	})
}
