package mixed

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

const (
	maxIterations = 200
	// settled is the expected fall of the criterion below which Newton has
	// arrived; the parameters are then within 1e-8 of their standard errors.
	settled = 1e-16
	// trusted is the expected fall below which a full step is taken unchecked,
	// because rounding of the criterion would hide the improvement.
	trusted = 1e-5
	// vanishing is the residual variance, relative to least squares, that
	// counts as none.
	vanishing = 1e-10
	// edge is the relative standard deviation that counts as zero.
	edge = 1e-4
	// flat is the share of the largest eigenvalue of the Hessian below which
	// the data hardly decide a direction.
	flat = 1e-8
)

// minimise finds the smallest criterion by Newton's method. The triangular
// factors are left unbounded: the criterion is even in each diagonal element,
// so a minimum on the boundary is an ordinary stationary point. Where the
// Hessian is not positive its eigenvalues are taken by size, which leads away
// from saddles.
func minimise(pr *problem) (*solution, error) {
	theta := make([]float64, pr.parameters())
	for k := range pr.levels {
		theta[pr.levels[k].first] = 1
		if pr.levels[k].size == 2 {
			theta[pr.levels[k].first+2] = 0.5
		}
	}
	s, ok := pr.evaluate(theta)
	if !ok {
		return nil, fmt.Errorf("starting values: %w", stats.ErrNotConverged)
	}
	before := math.Inf(1)
	for iteration := 1; iteration <= maxIterations; iteration++ {
		if s.sigma2 < vanishing {
			return nil, fmt.Errorf("the outcome within groups: %w", stats.ErrNoVariation)
		}
		pr.differentiate(s)
		step, fall, saddle := newtonStep(s)
		s.iterations = iteration
		// Rounding may keep the expected fall above settled; then it stops falling.
		if !saddle && (fall < settled || fall < 1e-10 && fall >= before) {
			return pr.settle(s), nil
		}
		before = fall
		if s, ok = pr.walk(s, step, fall); !ok {
			break
		}
	}
	return nil, fmt.Errorf("variance components after %d steps: %w", maxIterations, stats.ErrNotConverged)
}

// newtonStep gives the step, the fall of the criterion it promises and whether
// the point is a saddle.
func newtonStep(s *solution) (step []float64, fall float64, saddle bool) {
	q := len(s.theta)
	values, vectors := dense.Eigen(s.hessian, q)
	largest := 0.0
	for _, v := range values {
		largest = math.Max(largest, math.Abs(v))
	}
	step = make([]float64, q)
	for k, v := range values {
		var slope float64
		for a := range q {
			slope += vectors.At(a, k) * s.gradient[a]
		}
		size := math.Max(math.Abs(v), 1e-10*largest)
		along := -slope / size
		fall += slope * slope / size
		if v < -flat*largest {
			saddle = true
			if math.Abs(along) < 0.1 {
				along = math.Copysign(0.1, along)
			}
		}
		for a := range q {
			step[a] += along * vectors.At(a, k)
		}
	}
	return step, fall, saddle
}

// walk takes the step, shortened until the criterion falls.
func (pr *problem) walk(s *solution, step []float64, fall float64) (*solution, bool) {
	longest := 0.5 * (1 + math.Sqrt(dense.Dot(s.theta, s.theta)))
	length := 1.0
	if norm := math.Sqrt(dense.Dot(step, step)); norm > longest {
		length = longest / norm
	}
	slope := dense.Dot(s.gradient, step)
	theta := make([]float64, len(step))
	for range 60 {
		for a := range theta {
			theta[a] = s.theta[a] + length*step[a]
		}
		next, ok := pr.evaluate(theta)
		if ok && (fall < trusted || next.criterion <= s.criterion+1e-4*math.Min(0, length*slope)) {
			return next, true
		}
		length /= 2
	}
	return nil, false
}

// settle sets a diagonal element that has run to zero to zero exactly, where
// the criterion agrees, so that the same data always give the same zero.
func (pr *problem) settle(s *solution) *solution {
	for k := range pr.levels {
		l := &pr.levels[k]
		for a := l.first; a < l.first+l.parameters(); a += 2 {
			if s.theta[a] == 0 || math.Abs(s.theta[a]) >= edge {
				continue
			}
			theta := append([]float64(nil), s.theta...)
			theta[a] = 0
			zero, ok := pr.evaluate(theta)
			if ok && zero.criterion <= s.criterion+1e-7 {
				zero.iterations = s.iterations
				s = zero
			}
		}
	}
	pr.differentiate(s)
	return s
}

func warnings(pr *problem, s *solution) []stats.Warning {
	var out []stats.Warning
	boundary := false
	for k := range pr.levels {
		l := &pr.levels[k]
		f := l.factor(s.theta)
		what := "between groups"
		if k == 1 {
			what = "of the level above"
		}
		switch {
		case l.size == 1 && math.Abs(f[0]) < edge:
			boundary = true
			out = append(out, stats.Warning{Code: "boundary-fit", Text: "The variance " + what + " was estimated as zero."})
		case l.size == 2 && (math.Abs(f[0]) < edge || math.Abs(f[2]) < edge):
			boundary = true
			out = append(out, stats.Warning{Code: "boundary-fit", Text: "The data do not support both a random intercept and a random slope " + what + ": a variance was estimated as zero or their correlation as complete."})
		}
	}
	if boundary {
		return out
	}
	values, _ := dense.Eigen(s.hessian, len(s.theta))
	if values[0] < flat*values[len(values)-1] {
		out = append(out, stats.Warning{Code: "flat-fit", Text: "The data hardly tell how the variance divides between levels and slopes."})
	}
	return out
}
