package practice

import (
	"bytes"
	"testing"
)

// BenchmarkMillionBouts draws a practice of about a million bouts and writes
// its files; the project asks for less than 10 s.
func BenchmarkMillionBouts(b *testing.B) {
	s := Default()
	s.Episodes = 10_500
	for b.Loop() {
		p, err := Draw(s)
		if err != nil {
			b.Fatal(err)
		}
		rows := 0
		for _, d := range p.Deliveries() {
			for _, f := range d.Files {
				rows += bytes.Count(f.Data, []byte("\n"))
			}
		}
		b.ReportMetric(float64(len(p.rows[boutsTable])), "bouts")
		b.ReportMetric(float64(rows), "rows")
	}
}
