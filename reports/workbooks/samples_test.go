package workbooks

import (
	"bytes"
	"fmt"
	"math"
	"testing"
	"time"
)

// sample is a book with every kind of cell, two charts and awkward texts.
func sample() Book {
	day := time.Date(2026, 7, 3, 0, 0, 0, 0, time.UTC)
	flow := Sheet{
		Name: "Flow", Heading: "What became of everybody who began care",
		Lead: []string{"Episodes begun from 1 July 2024 to 30 June 2026. A count from 1 to 9 is \"fewer than 10\"."},
		Columns: []Column{
			{"Injury type", 34},
			{"Began care", 12},
			{"Followed for a return", 14},
			{"Back at their target", 14},
			{"Share back by week 12", 14},
			{"Mean weeks not yet back", 14},
			{"Data reach to", 14},
		},
		Notes: []string{"Routine records, not proof of cause. " + longText},
	}
	for i, label := range []string{"Achilles tendinopathy", "Anterior cruciate ligament reconstruction, with repair of the meniscus", "Calf strain", "=1+1", "+41", "-5 degrees", "@home"} {
		flow.Rows = append(flow.Rows, []Cell{
			Text(label), Number(float64(1200-60*i), 0), Number(float64(180-20*i), 0), Note("fewer than 10"),
			Percent(0.551+0.01*float64(i), 0), Number(11.27+float64(i), 1), Date(day.AddDate(0, 0, -i)),
		})
	}
	flow.Rows = append(flow.Rows, []Cell{Text("Short row")})
	curve := Sheet{
		Name: "Curve, calf's & 'other' strain", Heading: "Of 20 people who begin care for calf strain, about 11 are back at their target by week 12",
		Lead:    []string{"Shares by the end of each week with their 95 % interval."},
		Columns: []Column{{"Week", 8}, {"Share back", 12}, {"Low", 10}, {"High", 10}, {"Ended otherwise", 14}},
	}
	for week := range 27 {
		share := 0.75 * (1 - math.Exp(-float64(week)/9))
		curve.Rows = append(curve.Rows, []Cell{
			Number(float64(week), 0), Percent(share, 1), Percent(max(0, share-0.08), 1), Percent(share+0.08, 1), Percent(share/10, 1),
		})
	}
	for i := range 2 {
		curve.Charts = append(curve.Charts, LineChart{
			Title: fmt.Sprintf("Share back at their target, chart %d", i+1), Alt: "A rising curve", XTitle: "Weeks since care began", To: 27,
			Lines:   []Line{{1, Estimate}, {2, Limit}, {3, Limit}, {4, Other}},
			Percent: true, LabelEvery: 2,
		})
	}
	return Book{
		Title: "June 2026 & before", Author: "Tarn Street Physiotherapy", Date: day,
		Caution: "Routine records: not proof of cause, not a prescription.", Sheets: []Sheet{flow, curve},
	}
}

const longText = "The figures describe routine care as it was recorded; decisions belong to licensed clinicians, under local rules, the device's instructions and current guidance, and exercise with restricted blood flow has contraindications and can harm."

func written(tb testing.TB, b Book) []byte {
	tb.Helper()
	var out bytes.Buffer
	if err := Write(&out, b); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}
