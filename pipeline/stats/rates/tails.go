package rates

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// poissonAtMost is P(X <= k) for X Poisson with the given mean, through the
// incomplete gamma function, so that a small tail keeps its relative accuracy.
func poissonAtMost(k, mean float64) float64 {
	if k < 0 {
		return 0
	}
	if mean <= 0 {
		return 1
	}
	return mathext.GammaIncRegComp(k+1, mean)
}

// poissonAtLeast is P(X >= k).
func poissonAtLeast(k, mean float64) float64 {
	if k <= 0 {
		return 1
	}
	if mean <= 0 {
		return 0
	}
	return mathext.GammaIncReg(k, mean)
}

// poissonExactly is P(X = k), by Loader's saddle-point form.
func poissonExactly(k, mean float64) float64 {
	switch {
	case k < 0:
		return 0
	case mean <= 0:
		if k == 0 {
			return 1
		}
		return 0
	case k == 0:
		return math.Exp(-mean)
	}
	return math.Exp(-stirlingError(k)-deviancePart(k, mean)) / math.Sqrt(2*math.Pi*k)
}

// binomialAtMost is P(X <= k) for X binomial(n, p) with q = 1-p handed in.
func binomialAtMost(k, n, p, q float64) float64 {
	if k < 0 {
		return 0
	}
	if k >= n {
		return 1
	}
	return incompleteBeta(n-k, k+1, q, p)
}

// binomialAtLeast is P(X >= k).
func binomialAtLeast(k, n, p, q float64) float64 {
	if k <= 0 {
		return 1
	}
	if k > n {
		return 0
	}
	return incompleteBeta(k, n-k+1, p, q)
}

// incompleteBeta is the regularised incomplete beta function I_x(a, b) with
// y = 1-x handed in, so that neither end loses digits. The leading factor comes
// from Loader's binomial density, which the plain form through log-gammas
// spoils beyond a few thousand; the rest is the continued fraction DLMF 8.17.22
// by Lentz's method.
func incompleteBeta(a, b, x, y float64) float64 {
	if x <= 0 {
		return 0
	}
	if y <= 0 {
		return 1
	}
	if x > (a+1)/(a+b+2) {
		return 1 - incompleteBeta(b, a, y, x)
	}
	return binomialDensity(a, b, x, y) * b / (a + b) * betaFraction(a, b, x)
}

// binomialDensity is C(a+b, a) x^a y^b for real a and b above 0.
func binomialDensity(a, b, x, y float64) float64 {
	n := a + b
	logRatio := stirlingError(n) - stirlingError(a) - stirlingError(b) - deviancePart(a, n*x) - deviancePart(b, n*y)
	return math.Exp(logRatio) * math.Sqrt(n/(2*math.Pi*a*b))
}

func betaFraction(a, b, x float64) float64 {
	const tiny = 1e-300
	floor := func(v float64) float64 {
		if math.Abs(v) < tiny {
			return tiny
		}
		return v
	}
	c := 1.0
	d := 1 / floor(1-(a+b)*x/(a+1))
	h := d
	for m := 1.0; m < 1e6; m++ {
		even := m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		d = 1 / floor(1+even*d)
		c = floor(1 + even/c)
		h *= d * c
		odd := -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		d = 1 / floor(1+odd*d)
		c = floor(1 + odd/c)
		h *= d * c
		if math.Abs(d*c-1) < 1e-16 {
			break
		}
	}
	return h
}

// stirlingError is log(gamma(n+1)) less Stirling's formula for it (Loader 2000,
// "Fast and accurate computation of binomial probabilities").
func stirlingError(n float64) float64 {
	if n <= 16 {
		lg, _ := math.Lgamma(n + 1)
		return lg - (n+0.5)*math.Log(n) + n - 0.5*math.Log(2*math.Pi)
	}
	nn := n * n
	return (1.0/12 - (1.0/360-(1.0/1260-(1.0/1680-(1.0/1188)/nn)/nn)/nn)/nn) / n
}

// deviancePart is x log(x/m) + m - x without cancellation when x is near m.
func deviancePart(x, m float64) float64 {
	if math.Abs(x-m) >= 0.1*(x+m) {
		return x*math.Log(x/m) + m - x
	}
	v := (x - m) / (x + m)
	sum := (x - m) * v
	term := 2 * x * v
	for j := 3.0; ; j += 2 {
		term *= v * v
		next := sum + term/j
		if next == sum {
			return sum
		}
		sum = next
	}
}

// crossing finds where the increasing function excess changes sign between lo
// and hi, to the last bit: halving cannot stall, and no limit here is computed
// often enough to need anything faster.
func crossing(lo, hi float64, excess func(float64) float64) float64 {
	for range 2000 {
		mid := lo + (hi-lo)/2
		if hi > 4*lo && lo > 0 {
			mid = math.Sqrt(lo) * math.Sqrt(hi) // far apart: halve the ratio
		}
		if mid <= lo || mid >= hi {
			break
		}
		if excess(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + (hi-lo)/2
}

// poissonMeanBelow is the mean under which k or more events have probability
// tail: the exact lower limit of a count. k need not be whole.
func poissonMeanBelow(k, tail float64) float64 {
	if k <= 0 {
		return 0
	}
	return crossing(0, k, func(mean float64) float64 { return poissonAtLeast(k, mean) - tail })
}

// poissonMeanAbove is the mean under which k or fewer events have probability
// tail: the exact upper limit of a count.
func poissonMeanAbove(k, tail float64) float64 {
	if k == 0 {
		return -math.Log(tail)
	}
	hi := upperBound(k, func(mean float64) bool { return poissonAtMost(k, mean) < tail })
	return crossing(k, hi, func(mean float64) float64 { return tail - poissonAtMost(k, mean) })
}

// upperBound doubles the step from k until past holds.
func upperBound(k float64, past func(float64) bool) float64 {
	step := 4*math.Sqrt(k) + 4
	for !past(k + step) {
		step *= 2
	}
	return k + step
}
