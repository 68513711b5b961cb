package mixed

import (
	"math"

	"evenlimb/pipeline/stats/internal/dense"
)

// solution is one point of the minimisation: the parameters, which are the
// lower triangles of the relative covariance factors, and what follows from
// them. H below is the inverse of I + Z D Z', with D the relative covariance.
type solution struct {
	theta      []float64
	criterion  float64   // -2 log-likelihood up to constants, variance and coefficients profiled out
	logDet     float64   // of I + Z D Z'
	logDetX    float64   // of X'HX
	sigma2     float64   // residual variance of the internal outcome
	beta       []float64 // coefficients of the orthonormal columns
	xhxInverse []float64 // p x p

	gradient []float64 // of the criterion by theta
	hessian  []float64 // of the criterion, q x q
	joint    []float64 // of the criterion with the log variance free, (q+1) x (q+1), that last
	xhxShift [][]float64

	iterations int
}

// sums are the cross-products that the value of the criterion needs.
type sums struct {
	logDet float64
	xhx    []float64 // p x p, lower triangle
	xhy    []float64
	yhy    float64
}

// divisor is the number of rows, less the columns with REML.
func (pr *problem) divisor() float64 {
	if pr.ml {
		return float64(pr.n)
	}
	return float64(pr.n - pr.p)
}

// evaluate gives the criterion at theta, or false where rounding leaves no
// positive definite system.
func (pr *problem) evaluate(theta []float64) (*solution, bool) {
	p := pr.p
	sum := &sums{xhx: make([]float64, p*p), xhy: append([]float64(nil), pr.xy...), yhy: pr.yy}
	for j := range p {
		sum.xhx[j*p+j] = 1
	}
	if len(pr.levels) == 1 {
		pr.sumSmall(theta, sum)
	} else if !pr.sumNested(theta, sum) {
		return nil, false
	}
	s := &solution{theta: append([]float64(nil), theta...), logDet: sum.logDet}

	factor := sum.xhx
	if dense.Cholesky(factor, p, 0) >= 0 {
		return nil, false
	}
	s.beta = sum.xhy
	dense.SolveLower(factor, p, s.beta, 1)
	rss := sum.yhy
	for j, b := range s.beta {
		rss -= b * b
		s.logDetX += 2 * math.Log(factor[j*p+j])
	}
	dense.SolveLowerTransposed(factor, p, s.beta, 1)
	s.xhxInverse = make([]float64, p*p)
	for j := range p {
		s.xhxInverse[j*p+j] = 1
	}
	dense.SolveLower(factor, p, s.xhxInverse, p)
	dense.SolveLowerTransposed(factor, p, s.xhxInverse, p)

	s.sigma2 = rss / pr.divisor()
	s.criterion = s.logDet + pr.divisor()*math.Log(s.sigma2)
	if !pr.ml {
		s.criterion += s.logDetX
	}
	return s, s.sigma2 > 0 && !math.IsInf(s.criterion, 0) && !math.IsNaN(s.criterion)
}

// logLik adds the constants and returns to the units of the data.
func (pr *problem) logLik(s *solution) float64 {
	m := pr.divisor()
	d := s.criterion + m*(1+math.Log(2*math.Pi)+2*math.Log(pr.scale))
	if !pr.ml {
		d += pr.columns.LogDeterminant()
	}
	return -d / 2
}

// slopes are the derivatives by the elements of D. Each level has the element
// (1,1) and, with a slope, the symmetric pair (1,2) and (2,2), in this order.
type slopes struct {
	trace []float64   // tr(E (M - N)): first derivative
	quad  []float64   // w'Ew / sigma2
	curve []float64   // tr(E M F (2N - M)), row-major
	ppe   [][]float64 // sum of P'EP, p x p, symmetric
	pew   [][]float64 // sum of P'Ew, p
}

func newSlopes(elements, p int) *slopes {
	d := &slopes{
		trace: make([]float64, elements),
		quad:  make([]float64, elements),
		curve: make([]float64, elements*elements),
		ppe:   make([][]float64, elements),
		pew:   make([][]float64, elements),
	}
	for e := range elements {
		d.ppe[e], d.pew[e] = make([]float64, p*p), make([]float64, p)
	}
	return d
}

// differentiate adds first and second derivatives to a solution.
//
// With M = Z'HZ, P = Z'HX, w = Z'H(y - Xb), C the inverse of X'HX and
// N = PCP' + ww'/sigma2 (without the first term for ML) the derivatives of
// log|I+ZDZ'| + log|X'HX| + m log sigma2 + (y-Xb)'H(y-Xb)/sigma2 are, in the
// directions E and F of D,
//
//	tr(E(M-N))  and  tr(EMF(2N-M)) - tr(C P'EP C P'FP) - 2 (P'Ew)'C(P'Fw)/sigma2,
//
// where the middle term, too, belongs to REML alone.
func (pr *problem) differentiate(s *solution) {
	elements := len(s.theta)
	d := newSlopes(elements, pr.p)
	if len(pr.levels) == 1 {
		pr.slopesSmall(s, d)
	} else {
		pr.slopesNested(s, d)
	}

	p := pr.p
	half := make([][]float64, elements) // C P'EP
	for e := range half {
		half[e] = dense.Multiply(s.xhxInverse, d.ppe[e], p)
	}
	second := d.curve
	for e := range elements {
		for f := range elements {
			if !pr.ml {
				second[e*elements+f] -= dense.TraceOfProduct(half[e], half[f], p)
			}
			second[e*elements+f] -= 2 * dense.Bilinear(s.xhxInverse, d.pew[e], d.pew[f]) / s.sigma2
		}
	}
	pr.toParameters(s, d, half)
}

// toParameters applies the chain rule from D to its triangular factor and
// profiles the variance out of the joint Hessian.
func (pr *problem) toParameters(s *solution, d *slopes, half [][]float64) {
	q, p := len(s.theta), pr.p
	first := make([][]float64, q) // direction of D for each parameter
	for a := range q {
		first[a] = pr.direction(s.theta, a)
	}
	s.gradient = make([]float64, q)
	s.joint = make([]float64, (q+1)*(q+1))
	s.xhxShift = make([][]float64, q)
	for a := range q {
		s.gradient[a] = dense.Dot(first[a], d.trace)
		s.joint[a*(q+1)+q] = dense.Dot(first[a], d.quad)
		s.joint[q*(q+1)+a] = s.joint[a*(q+1)+q]
		for b := range q {
			s.joint[a*(q+1)+b] = dense.Bilinear(d.curve, first[a], first[b]) + dense.Dot(pr.bend(a, b), d.trace)
		}
		shift := make([]float64, p*p)
		for e, x := range first[a] {
			for i, v := range half[e] {
				shift[i] += x * v
			}
		}
		s.xhxShift[a] = dense.Multiply(shift, s.xhxInverse, p)
	}
	s.joint[(q+1)*(q+1)-1] = pr.divisor()
	s.hessian = make([]float64, q*q)
	for a := range q {
		for b := range q {
			s.hessian[a*q+b] = s.joint[a*(q+1)+b] - s.joint[a*(q+1)+q]*s.joint[b*(q+1)+q]/pr.divisor()
		}
	}
}

// direction is the derivative of D's elements by parameter a.
func (pr *problem) direction(theta []float64, a int) []float64 {
	out := make([]float64, len(theta))
	for k := range pr.levels {
		l := &pr.levels[k]
		f := l.factor(theta)
		switch a - l.first {
		case 0:
			out[l.first] = 2 * f[0]
			if l.size == 2 {
				out[l.first+1] = f[1]
			}
		case 1:
			if l.size == 2 {
				out[l.first+1], out[l.first+2] = f[0], 2*f[1]
			}
		case 2:
			if l.size == 2 {
				out[l.first+2] = 2 * f[2]
			}
		}
	}
	return out
}

// bend is the second derivative of D's elements by parameters a and b.
func (pr *problem) bend(a, b int) []float64 {
	a, b = min(a, b), max(a, b)
	out := make([]float64, pr.parameters())
	for k := range pr.levels {
		l := &pr.levels[k]
		if a < l.first || b >= l.first+l.parameters() {
			continue
		}
		switch {
		case a == b:
			out[l.first+min(2, 2*(a-l.first))] = 2
		case b == l.first+1:
			out[l.first+1] = 1
		}
	}
	return out
}

func (pr *problem) parameters() int {
	last := &pr.levels[len(pr.levels)-1]
	return last.first + last.parameters()
}
