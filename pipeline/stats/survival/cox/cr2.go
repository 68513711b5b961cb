package cox

import (
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/mat"
)

// smallSample sets Cov and DF to those of few clusters. A cluster's score U is
// nearer to 0 at the estimate than at the truth, because the cluster pulled the
// estimate towards itself. With its share O of the information, V the inverse
// information and
//
//	C = (I - O V)^(-1/2), taken symmetric in the metric of V,
//
// C U has about the right spread (Kauermann & Carroll, J Am Stat Assoc
// 2001;96:1387; the idea of CR2 of Bell & McCaffrey 2002 for a score of p
// numbers). Were the scores independent with covariances O, the estimated
// variance of a coefficient would be a quadratic form in them whose first two
// moments give Satterthwaite's degrees of freedom.
func (m *Model) smallSample(inverse *mat.SymDense) {
	p := m.layout.p
	root, rootInv := roots(inverse)
	scores := m.byPerson(m.scoreResiduals(m.top))
	shares := m.informationShares()

	v := mat.NewSymDense(p, nil)
	adjusted := make([]*mat.Dense, m.Persons) // V C of each cluster
	bound := false
	for c := range adjusted {
		vc, cut := adjustment(inverse, root, rootInv, shares[c])
		bound = bound || cut
		adjusted[c] = vc
		u := mat.NewVecDense(p, scores[c*p:(c+1)*p])
		var d mat.VecDense
		d.MulVec(vc, u)
		for a := range p {
			for b := a; b < p; b++ {
				v.SetSym(a, b, v.At(a, b)+d.AtVec(a)*d.AtVec(b))
			}
		}
	}
	m.Cov = m.unscale(v)
	m.DF = make([]float64, p)
	for j := range m.DF {
		m.DF[j] = satterthwaite(j, inverse, adjusted, shares)
	}
	if bound {
		m.Warnings = append(m.Warnings, stats.Warning{
			Code: "few-clusters",
			Text: "One cluster holds nearly all that is known of a coefficient; its interval cannot be judged.",
		})
	}
}

// roots returns the symmetric square root of v and its inverse.
func roots(v *mat.SymDense) (root, inverse *mat.Dense) {
	return power(v, 0.5), power(v, -0.5)
}

// power is the symmetric matrix v to a power, by its eigenvalues.
func power(v *mat.SymDense, exponent float64) *mat.Dense {
	var eigen mat.EigenSym
	eigen.Factorize(v, true)
	values := eigen.Values(nil)
	var q, scaled, out mat.Dense
	eigen.VectorsTo(&q)
	scaled.Apply(func(_, j int, x float64) float64 { return x * math.Pow(values[j], exponent) }, &q)
	out.Mul(&scaled, q.T())
	return &out
}

// smallestRest is the least part of the information that a cluster is taken to
// leave to the others, in any direction.
const smallestRest = 1e-6

// adjustment returns V C for a cluster with the share o of the information,
// and whether the share had to be cut to leave something to the others.
func adjustment(inverse *mat.SymDense, root, rootInv *mat.Dense, o *mat.SymDense) (*mat.Dense, bool) {
	p := inverse.SymmetricDim()
	var half, full mat.Dense
	half.Mul(root, o)
	full.Mul(&half, root)
	rest := mat.NewSymDense(p, nil)
	for a := range p {
		for b := a; b < p; b++ {
			x := -(full.At(a, b) + full.At(b, a)) / 2
			if a == b {
				x++
			}
			rest.SetSym(a, b, x)
		}
	}
	var eigen mat.EigenSym
	eigen.Factorize(rest, true)
	values := eigen.Values(nil)
	cut := false
	for i, x := range values {
		if x < smallestRest {
			values[i], cut = smallestRest, true
		}
	}
	var q, scaled, middle, c, out mat.Dense
	eigen.VectorsTo(&q)
	scaled.Apply(func(_, j int, x float64) float64 { return x / math.Sqrt(values[j]) }, &q)
	middle.Mul(&scaled, q.T())
	c.Mul(rootInv, &middle)
	half.Mul(&c, root)
	out.Mul(inverse, &half)
	return &out, cut
}

// satterthwaite is (tr G)^2 / tr(G^2) for coefficient j, where G is the
// covariance of the clusters' contributions to it: with a row a of V C for each
// cluster and t = O a, G has a't on the diagonal less t'Vt' everywhere.
func satterthwaite(j int, inverse *mat.SymDense, adjusted []*mat.Dense, shares []*mat.SymDense) float64 {
	p := inverse.SymmetricDim()
	all := mat.NewSymDense(p, nil) // sum of t t'
	trace, square := 0.0, 0.0
	for c := range adjusted {
		a := mat.NewVecDense(p, append([]float64(nil), adjusted[c].RawRowView(j)...))
		var t, vt mat.VecDense
		t.MulVec(shares[c], a)
		vt.MulVec(inverse, &t)
		own, pull := mat.Dot(a, &t), mat.Dot(&t, &vt)
		trace += own - pull
		square += own*own - 2*own*pull
		all.SymRankOne(all, 1, &t)
	}
	var va, vava mat.Dense
	va.Mul(inverse, all)
	vava.Mul(&va, &va)
	square += mat.Trace(&vava)
	if !(square > 0) {
		return 1
	}
	return math.Max(1, trace*trace/square)
}
