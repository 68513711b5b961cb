package order

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{0, 1, 2, 50, 5000} {
		for _, draw := range []func() float64{
			func() float64 { return float64(r.IntN(30)) },
			func() float64 { return r.NormFloat64() * math.Exp(100*r.NormFloat64()) },
			func() float64 { return 7 },
			func() float64 { return math.Copysign(0, float64(r.IntN(2))-0.5) },
		} {
			xs := make([]float64, n)
			for i := range xs {
				xs[i] = draw()
			}
			want := make([]int32, n)
			for i := range want {
				want[i] = int32(i)
			}
			slices.SortStableFunc(want, func(a, b int32) int {
				switch {
				case xs[a] < xs[b]:
					return -1
				case xs[a] > xs[b]:
					return 1
				}
				return 0
			})
			if got := Of(xs); !slices.Equal(got, want) {
				t.Fatalf("%d rows: not in stable ascending order", n)
			}
		}
	}
}
