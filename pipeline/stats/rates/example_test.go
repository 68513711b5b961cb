package rates_test

import (
	"fmt"

	"evenlimb/pipeline/stats/rates"
)

func shown(value, low, high float64, err error) string {
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%.4g (%.4g to %.4g)", value, low, high)
}

// Eleven numb feet in 2,340 sessions, per 1,000 sessions.
func ExampleGarwood() {
	e, err := rates.Garwood(11, 2.340, 0.95)
	fmt.Println("per 1,000 sessions:", shown(e.Value, e.Low, e.High, err))
	// Output: per 1,000 sessions: 4.701 (2.347 to 8.411)
}

func ExampleMidP() {
	e, err := rates.MidP(11, 2.340, 0.95)
	fmt.Println("per 1,000 sessions:", shown(e.Value, e.Low, e.High, err))
	// Output: per 1,000 sessions: 4.701 (2.472 to 8.171)
}

func ExampleUpperWhenNone() {
	u, err := rates.UpperWhenNone(0.95)
	fmt.Printf("none in 800 sessions: up to %.4f per session %v\n", u/800, err)
	// Output: none in 800 sessions: up to 0.0046 per session <nil>
}

func ExampleRatio() {
	r, err := rates.Ratio(rates.Count{Events: 9, Exposure: 900}, rates.Count{Events: 6, Exposure: 1400}, 0.95)
	fmt.Println("ratio", shown(r.Value, r.Low, r.High, err))
	fmt.Printf("p = %.3f\n", r.P)
	// Output:
	// ratio 2.333 (0.7417 to 7.966)
	// p = 0.167
}

func ExampleObservedExpected() {
	r, err := rates.ObservedExpected(42, 51.3, 0.95)
	fmt.Println("observed over expected", shown(r.Value, r.Low, r.High, err))
	// Output: observed over expected 0.8187 (0.5901 to 1.107)
}

func ExampleWilson() {
	e, err := rates.Wilson(18, 40, 0.95)
	fmt.Println("share returned", shown(e.Value, e.Low, e.High, err))
	// Output: share returned 0.45 (0.3071 to 0.6017)
}

func ExampleClopperPearson() {
	e, err := rates.ClopperPearson(18, 40, 0.95)
	fmt.Println("share returned", shown(e.Value, e.Low, e.High, err))
	// Output: share returned 0.45 (0.2926 to 0.6151)
}

func ExampleClustered() {
	events := []int{0, 4, 0, 0, 1, 0, 0, 0, 3, 0}
	sessions := []float64{12, 20, 8, 15, 9, 22, 14, 10, 18, 11}
	r, err := rates.Clustered(events, sessions, rates.ClusterOptions{Level: 0.95, WidenAbove: 1.2})
	fmt.Println("per session", shown(r.Value, r.Low, r.High, err))
	fmt.Printf("variance ratio %.2f\n", r.VarianceRatio)
	// Output:
	// per session 0.05755 (0.01376 to 0.1571)
	// variance ratio 2.31
}

func ExamplePoissonLimits() {
	l, err := rates.PoissonLimits(6.2, 0.998)
	fmt.Println(l.Low, "to", l.High, err)
	// Output: 0 to 15 <nil>
}

func ExampleGammaPoissonLimits() {
	l, err := rates.GammaPoissonLimits(6.2, 0.3, 0.998)
	fmt.Println(l.Low, "to", l.High, err)
	// Output: 0 to 19 <nil>
}

func ExampleBinomialLimits() {
	l, err := rates.BinomialLimits(40, 0.85, 0.998)
	fmt.Println(l.Low, "to", l.High, err)
	// Output: 26 to 40 <nil>
}

func ExampleFunnel() {
	observed := []int{31, 44, 12, 70, 25}
	expected := []float64{35.2, 30.1, 14.8, 61.5, 27.0}
	s, err := rates.Funnel(observed, expected, rates.FunnelOptions{Winsor: 0.1, MinUnits: 5})
	fmt.Printf("phi %.2f, spread %.2f %v\n", s.Phi, s.Tau, err)
	// Output: phi 1.12, spread 0.11 <nil>
}

func ExampleSpread_Limits() {
	s := rates.Spread{Tau: 0.2}
	l, err := s.Limits(40, 0.998)
	fmt.Printf("%.2f to %.2f of expected %v\n", float64(l.Low)/40, float64(l.High)/40, err)
	// Output: 0.35 to 1.95 of expected <nil>
}
