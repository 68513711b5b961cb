package nightly

import (
	"testing"
	"time"
)

func day(text string) time.Time {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return t
}

func days(texts ...string) []time.Time {
	var out []time.Time
	for _, text := range texts {
		if text == "" {
			out = append(out, time.Time{})
			continue
		}
		out = append(out, day(text))
	}
	return out
}

func TestDue(t *testing.T) {
	const start = "2024-01-10"
	for _, c := range []struct {
		name      string
		received  string
		reach     []time.Time
		published []time.Time
		first     string
		want      []time.Time
	}{
		{"every site reaches past the month", "2025-07-02", days("2025-07-01", "2025-06-30"), nil, start, days("2025-06-01")},
		{"one site a day short", "2025-07-02", days("2025-07-01", "2025-06-29"), nil, start, days("2025-05-01")},
		{"silent site, the day before the grace ends", "2025-07-20", days("2025-07-19", ""), days("2025-05-01"), start, nil},
		{"silent site, the grace has ended", "2025-07-21", days("2025-07-20", ""), days("2025-05-01"), start, days("2025-06-01")},
		{"two months behind, oldest first", "2025-07-21", days("2025-07-20"), days("2025-04-01"), start, days("2025-05-01", "2025-06-01")},
		{"published already", "2025-07-21", days("2025-07-20"), days("2025-06-01"), start, nil},
		{"the last day itself is not past", "2025-06-30", days("2025-06-30"), days("2025-05-01"), start, nil},
		{"nobody has begun", "2025-07-21", days("2025-07-20"), nil, "", nil},
		{"first start in the running month", "2025-07-21", days("2025-07-20"), nil, "2025-07-03", nil},
		{"first start in the month before", "2025-07-21", days("2025-07-20"), nil, "2025-06-30", days("2025-06-01")},
	} {
		t.Run(c.name, func(t *testing.T) {
			first := time.Time{}
			if c.first != "" {
				first = day(c.first)
			}
			got := Due(day(c.received), c.reach, 21, c.published, first)
			if len(got) != len(c.want) {
				t.Fatalf("due %v, want %v", got, c.want)
			}
			for i := range got {
				if !got[i].Equal(c.want[i]) {
					t.Fatalf("due %v, want %v", got, c.want)
				}
			}
		})
	}
}
