package regress

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// HC says how squared residuals stand in for variances that differ by row.
type HC int

// HC0 uses squared residuals as they are; HC1 scales them by n/(n-p); HC2 and
// HC3 divide each by 1-h or (1-h)^2, h the leverage of its row. HC3 holds its
// level best in small samples.
const (
	HC0 HC = iota
	HC1
	HC2
	HC3
)

// CR says how the residuals of a cluster stand in for their covariance.
type CR int

// CR0 uses them as they are; CR1 scales by clusters/(clusters-1); CR2 corrects
// each cluster so that it is unbiased when rows are independent.
const (
	CR0 CR = iota
	CR1
	CR2
)

// Covariance is a covariance of the coefficients of one model.
type Covariance struct {
	Matrix   [][]float64 // p rows of p
	SE       []float64
	Clusters int // 0 unless clustered
	Method   string
	Warnings []stats.Warning

	inner    []float64 // of the orthonormal coefficients
	df       float64   // of tests; 0: normal
	cluster  []int32   // of each row
	energy   [][]float64
	leverage [][]float64
}

// ModelBased is the covariance that holds when the model is true: equal
// variance in least squares, binomial or Poisson variance otherwise.
//
// Intervals then rest on n-p degrees of freedom in least squares, else on the
// normal distribution. Agrees with vcov of R. Cost: quadratic in the columns.
func (m *Model) ModelBased() *Covariance {
	dispersion, df := 1.0, 0.0
	if m.family == gaussian {
		dispersion, df = m.ResidualSD*m.ResidualSD, float64(m.N-m.p)
	}
	inner := make([]float64, len(m.bread))
	for i, v := range m.bread {
		inner[i] = v * dispersion
	}
	return m.covariance(inner, df, "model-based variance")
}

// Heteroscedastic is the covariance that holds when the variance differs from
// row to row in whatever way.
//
// Errors: stats.ErrRange for an unknown kind; stats.ErrTooFew, naming the row,
// when HC2 or HC3 meets a row that is fitted exactly because it is the only one
// of its kind (leverage above 1 - 1e-10).
//
// Method: White, Econometrica 48, 1980; MacKinnon and White, Journal of
// Econometrics 29, 1985. Degrees of freedom as in ModelBased. Agrees with vcovHC
// of the R package sandwich. Cost: rows times squared columns.
func (m *Model) Heteroscedastic(kind HC) (*Covariance, error) {
	if kind < HC0 || kind > HC3 {
		return nil, fmt.Errorf("kind HC%d: %w", kind, stats.ErrRange)
	}
	factor := make([]float64, m.N)
	for i, e := range m.residual {
		row := m.row(i)
		left := 1 - m.prior[i]*m.spread[i]*dense.Bilinear(m.bread, row, row)
		if kind >= HC2 && left < 1e-10 {
			return nil, fmt.Errorf("row %d is fitted exactly, HC%d needs another like it: %w", i, kind, stats.ErrTooFew)
		}
		u := m.prior[i] * e
		factor[i] = u * u
		switch kind {
		case HC0:
		case HC1:
			factor[i] *= float64(m.N) / float64(m.N-m.p)
		case HC2:
			factor[i] /= left
		case HC3:
			factor[i] /= left * left
		}
	}
	meat := m.information(func(i int) float64 { return factor[i] })
	var df float64
	if m.family == gaussian {
		df = float64(m.N - m.p)
	}
	return m.covariance(m.sandwich(meat), df, fmt.Sprintf("variance robust to unequal spread (HC%d)", kind)), nil
}

func (m *Model) sandwich(meat []float64) []float64 {
	return dense.Multiply(dense.Multiply(m.bread, meat, m.p), m.bread, m.p)
}

func (m *Model) covariance(inner []float64, df float64, method string) *Covariance {
	c := &Covariance{inner: inner, df: df, Method: method}
	c.Matrix = m.outside(inner)
	c.SE = roots(c.Matrix)
	return c
}

// Clustered is the covariance that holds when rows of one cluster, such as the
// episodes of one person or clinician, resemble each other in whatever way.
//
// cluster holds a code per row, any integers.
//
// Errors: stats.ErrLength, stats.ErrRange for an unknown kind, stats.ErrOneGroup
// with one cluster. Warnings: "few-clusters" below 10.
//
// Method: Liang and Zeger, Biometrika 73, 1986; CR2 after Bell and McCaffrey,
// Survey Methodology 28, 2002, and Pustejovsky and Tipton, Journal of Business &
// Economic Statistics 36, 2018, with the model's own variance as working model;
// single coefficients and sums of them on Satterthwaite degrees of freedom,
// joint tests on clusters-1. Agrees with vcovCR and coef_test of the R package
// clubSandwich. Cost: rows times squared columns; CR2 with weights or outside
// least squares also cubic in the largest cluster.
func (m *Model) Clustered(kind CR, cluster []int) (*Covariance, error) {
	if kind < CR0 || kind > CR2 {
		return nil, fmt.Errorf("kind CR%d: %w", kind, stats.ErrRange)
	}
	if err := stats.CheckLength("cluster", len(cluster), m.N); err != nil {
		return nil, err
	}
	numbers, members := byCluster(cluster)
	count := float64(len(members))
	if len(members) < 2 {
		return nil, fmt.Errorf("cluster: %w", stats.ErrOneGroup)
	}
	p := m.p
	meat := make([]float64, p*p)
	c := &Covariance{Clusters: len(members), cluster: numbers, df: count - 1}
	for _, rows := range members {
		score, energy, leverage := m.clusterSums(kind, rows)
		for a, x := range score {
			for b, y := range score {
				meat[a*p+b] += x * y
			}
		}
		c.energy = append(c.energy, energy)
		c.leverage = append(c.leverage, leverage)
	}
	c.inner = m.sandwich(meat)
	if kind == CR1 {
		for i := range c.inner {
			c.inner[i] *= count / (count - 1)
		}
	}
	c.Matrix = m.outside(c.inner)
	c.SE = roots(c.Matrix)
	c.Method = fmt.Sprintf("variance robust to %d clusters (CR%d), Satterthwaite", len(members), kind)
	if len(members) < 10 {
		c.Warnings = []stats.Warning{{Code: "few-clusters", Text: fmt.Sprintf("Only %d clusters: their variance can hardly be judged.", len(members))}}
	}
	return c, nil
}

func byCluster(cluster []int) (numbers []int32, members [][]int) {
	seen := map[int]int32{}
	numbers = make([]int32, len(cluster))
	for i, code := range cluster {
		k, ok := seen[code]
		if !ok {
			k = int32(len(members)) //nolint:gosec // bounded by the number of rows
			seen[code] = k
			members = append(members, nil)
		}
		numbers[i] = k
		members[k] = append(members[k], i)
	}
	return numbers, members
}

// clusterSums gives, for one cluster with adjustment A, working variance V and
// T = A W X (X the derivatives of the fitted values, W the working weights):
// the adjusted score T'e, T'VT and X'T, all by orthonormal columns.
func (m *Model) clusterSums(kind CR, rows []int) (score, energy, leverage []float64) {
	p := m.p
	adjusted := make([]float64, len(rows)*p)
	for k, i := range rows {
		for j, x := range m.row(i) {
			adjusted[k*p+j] = m.prior[i] * x
		}
	}
	if kind == CR2 {
		adjusted = m.adjust(rows, adjusted)
	}
	score, energy, leverage = make([]float64, p), make([]float64, p*p), make([]float64, p*p)
	for k, i := range rows {
		t := adjusted[k*p : k*p+p]
		working := m.spread[i] / m.prior[i]
		for a, x := range t {
			score[a] += x * m.residual[i]
			for b, y := range t {
				energy[a*p+b] += x * y * working
			}
		}
		for a, x := range m.row(i) {
			for b, y := range t {
				leverage[a*p+b] += m.spread[i] * x * y
			}
		}
	}
	return score, energy, leverage
}

// adjust multiplies t (rows x p) by the CR2 matrix of a cluster, which is
// symmetric: D (D (V - X M X') D)^(-1/2) D with V the working variance, D its
// root. Directions without variance left are dropped.
func (m *Model) adjust(rows []int, t []float64) []float64 {
	n, p := len(rows), m.p
	plain := m.family == gaussian
	for _, i := range rows {
		plain = plain && m.prior[i] == 1
	}
	if plain && n > p {
		return m.adjustPlain(rows, t)
	}
	root := make([]float64, n)
	for k, i := range rows {
		root[k] = math.Sqrt(m.spread[i] / m.prior[i])
	}
	inner := make([]float64, n*n)
	for k, i := range rows {
		mx := times(m.bread, m.row(i))
		for l, j := range rows {
			v := -m.spread[i] * m.spread[j] * dense.Dot(mx, m.row(j))
			if k == l {
				v += root[k] * root[k]
			}
			inner[k*n+l] = root[k] * v * root[l]
		}
	}
	values, vectors := dense.Eigen(inner, n)
	out := make([]float64, n*p)
	along := make([]float64, p)
	for k, v := range values {
		if v <= dropped {
			continue
		}
		clear(along)
		for i := range n {
			f := vectors.At(i, k) * root[i]
			for j := range along {
				along[j] += f * t[i*p+j]
			}
		}
		for i := range n {
			f := vectors.At(i, k) * root[i] / math.Sqrt(v)
			for j, x := range along {
				out[i*p+j] += f * x
			}
		}
	}
	return out
}

// dropped is the eigenvalue below which the reference package sees none.
const dropped = 1e-12

// adjustPlain does the same without weights in least squares, where
// (I - QMQ')^(-1/2) differs from the identity only in the span of the columns Q.
func (m *Model) adjustPlain(rows []int, t []float64) []float64 {
	p := m.p
	// M is the identity up to rounding, the columns being orthonormal.
	gram := make([]float64, p*p)
	for _, i := range rows {
		row := m.row(i)
		for a, x := range row {
			for b, y := range row {
				gram[a*p+b] += x * y
			}
		}
	}
	values, vectors := dense.Eigen(gram, p)
	out := append([]float64(nil), t...)
	project, along := make([]float64, len(rows)), make([]float64, p)
	for k, s := range values {
		if s <= dropped {
			continue
		}
		factor := -1 / s
		if left := math.Sqrt(math.Max(0, 1-s)); 1-s > dropped {
			factor = 1 / (left * (1 + left))
		}
		clear(along)
		for r, i := range rows {
			project[r] = 0
			for a, x := range m.row(i) {
				project[r] += x * vectors.At(a, k)
			}
			for j := range along {
				along[j] += project[r] * t[r*p+j]
			}
		}
		for r := range rows {
			for j, x := range along {
				out[r*p+j] += factor * project[r] * x
			}
		}
	}
	return out
}

// satterthwaite gives the degrees of freedom of a sum of coefficients, weights
// by orthonormal columns, when the working variance holds.
func (m *Model) satterthwaite(c *Covariance, weights []float64) float64 {
	// The variance estimate is a quadratic form with matrix P,
	// P_ij = [i=j] energy_i - h_i'h_j, whose mean is tr P and variance 2 |P|^2.
	p := m.p
	ml := times(m.bread, weights)
	outer := make([]float64, p*p)
	var trace, square float64
	for k := range c.energy {
		x := times(c.leverage[k], ml)
		mx := times(m.bread, x)
		energy, own := dense.Bilinear(c.energy[k], ml, ml), dense.Dot(x, mx)
		trace += energy - own
		square += (energy-own)*(energy-own) - own*own
		for a := range p {
			for b := range p {
				outer[a*p+b] += x[a] * x[b]
			}
		}
	}
	// Sum over all pairs of (h_i'h_j)^2 = |sum x x' M|^2.
	om := dense.Multiply(outer, m.bread, p)
	square += dense.TraceOfProduct(om, om, p)
	return trace * trace / square
}
