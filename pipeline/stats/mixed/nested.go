package mixed

import (
	"math"

	"evenlimb/pipeline/stats/internal/dense"
)

// With a level above, a cluster holds the effects of the level above and those
// of each of its groups; its matrices are small but of any size.

// workspace is the scratch memory for one cluster.
type workspace struct {
	gram, root, u, gu, m, n, r []float64 // size x size
	px, pc                     []float64 // size x p
	w, y                       []float64 // size
}

func (pr *problem) newWorkspace() *workspace {
	var size int
	for k := range pr.clusters {
		size = max(size, pr.clusters[k].size)
	}
	square := func() []float64 { return make([]float64, size*size) }
	return &workspace{
		gram: square(), root: square(), u: square(), gu: square(), m: square(), n: square(), r: square(),
		px: make([]float64, size*pr.p), pc: make([]float64, size*pr.p),
		w: make([]float64, size), y: make([]float64, size),
	}
}

// transposeFactor multiplies b (size x m) from the left with the transposed
// covariance factor of the cluster.
func (pr *problem) transposeFactor(c *cluster, theta, b []float64, m int) {
	multiplyBlock := func(l *level, at int) {
		f := l.factor(theta)
		row := b[at*m : at*m+m]
		if l.size == 1 {
			for j := range row {
				row[j] *= f[0]
			}
			return
		}
		next := b[(at+1)*m : (at+2)*m]
		for j := range row {
			row[j], next[j] = f[0]*row[j]+f[1]*next[j], f[2]*next[j]
		}
	}
	if c.above > 0 {
		multiplyBlock(&pr.levels[1], 0)
	}
	for at := c.above; at < c.size; at += pr.levels[0].size {
		multiplyBlock(&pr.levels[0], at)
	}
}

// rootOf writes the lower Cholesky factor of I + L'Z'ZL, L the covariance factor.
func (pr *problem) rootOf(c *cluster, theta []float64, ws *workspace) bool {
	n := c.size
	a := ws.root[:n*n]
	copy(a, c.zz)
	pr.transposeFactor(c, theta, a, n)
	transpose(a, n)
	pr.transposeFactor(c, theta, a, n)
	for i := range n {
		a[i*n+i]++
	}
	return dense.Cholesky(a, n, 0) < 0
}

func transpose(a []float64, n int) {
	for i := range n {
		for j := range i {
			a[i*n+j], a[j*n+i] = a[j*n+i], a[i*n+j]
		}
	}
}

func (pr *problem) sumNested(theta []float64, sum *sums) bool {
	p := pr.p
	ws := pr.newWorkspace()
	for k := range pr.clusters {
		c := &pr.clusters[k]
		n := c.size
		if !pr.rootOf(c, theta, ws) {
			return false
		}
		x, y := ws.px[:n*p], ws.y[:n]
		copy(x, c.zx)
		copy(y, c.zy)
		pr.transposeFactor(c, theta, x, p)
		pr.transposeFactor(c, theta, y, 1)
		dense.SolveLower(ws.root, n, x, p)
		dense.SolveLower(ws.root, n, y, 1)
		for i := range n {
			sum.logDet += 2 * math.Log(ws.root[i*n+i])
			row := x[i*p : i*p+p]
			sum.yhy -= y[i] * y[i]
			for a, v := range row {
				sum.xhy[a] -= v * y[i]
				for b := 0; b <= a; b++ {
					sum.xhx[a*p+b] -= v * row[b]
				}
			}
		}
	}
	return true
}

// posterior writes U = (D^-1 + Z'Z)^-1, which times the residual variance is
// the covariance of the cluster's effects given the data.
func (pr *problem) posterior(c *cluster, theta []float64, ws *workspace) {
	n := c.size
	pr.rootOf(c, theta, ws)
	v := ws.gram[:n*n]
	for i := range v {
		v[i] = 0
	}
	for i := range n {
		v[i*n+i] = 1
	}
	pr.transposeFactor(c, theta, v, n)
	dense.SolveLower(ws.root, n, v, n)
	u := ws.u[:n*n]
	for i := range n {
		for j := range n {
			var s float64
			for k := range n {
				s += v[k*n+i] * v[k*n+j]
			}
			u[i*n+j] = s
		}
	}
}

// residual writes Z'H(y - Xb) given U.
func (pr *problem) residual(c *cluster, s *solution, ws *workspace) {
	n, p := c.size, pr.p
	gu := ws.gu[:n*n]
	copy(gu, dense.Multiply(c.zz, ws.u[:n*n], n))
	for i := range n {
		ws.y[i] = c.zy[i] - dense.Dot(c.zx[i*p:i*p+p], s.beta)
	}
	for i := range n {
		ws.w[i] = ws.y[i] - dense.Dot(gu[i*n:i*n+n], ws.y[:n])
	}
}

// slopesNested sums the derivatives of differentiate over the clusters.
func (pr *problem) slopesNested(s *solution, out *slopes) {
	p := pr.p
	ws := pr.newWorkspace()
	entries := make([][][2]int, len(s.theta))
	for k := range pr.clusters {
		c := &pr.clusters[k]
		n := c.size
		pr.posterior(c, s.theta, ws)
		pr.residual(c, s, ws)
		gug := dense.Multiply(ws.gu[:n*n], c.zz, n)
		for i := range n {
			for j := range n {
				ws.m[i*n+j] = c.zz[i*n+j] - gug[i*n+j]
				ws.n[i*n+j] = ws.w[i] * ws.w[j] / s.sigma2
			}
			for a := range p {
				v := c.zx[i*p+a]
				for j := range n {
					v -= ws.gu[i*n+j] * c.zx[j*p+a]
				}
				ws.px[i*p+a] = v
			}
		}
		if !pr.ml {
			for i := range n {
				for a := range p {
					ws.pc[i*p+a] = dense.Dot(s.xhxInverse[a*p:a*p+p], ws.px[i*p:i*p+p])
				}
			}
			for i := range n {
				for j := range n {
					ws.n[i*n+j] += dense.Dot(ws.pc[i*p:i*p+p], ws.px[j*p:j*p+p])
				}
			}
		}
		pr.entries(c, entries)
		ws.accumulate(entries, n, p, s.sigma2, out)
	}
}

// entries lists, for each element of D, where it stands in the cluster's D.
func (pr *problem) entries(c *cluster, entries [][][2]int) {
	for e := range entries {
		entries[e] = entries[e][:0]
	}
	place := func(l *level, at int) {
		e := l.first
		entries[e] = append(entries[e], [2]int{at, at})
		if l.size == 2 {
			entries[e+1] = append(entries[e+1], [2]int{at, at + 1}, [2]int{at + 1, at})
			entries[e+2] = append(entries[e+2], [2]int{at + 1, at + 1})
		}
	}
	if c.above > 0 {
		place(&pr.levels[1], 0)
	}
	for at := c.above; at < c.size; at += pr.levels[0].size {
		place(&pr.levels[0], at)
	}
}

func (ws *workspace) accumulate(entries [][][2]int, n, p int, sigma2 float64, out *slopes) {
	for i := range n * n {
		ws.r[i] = 2*ws.n[i] - ws.m[i]
	}
	for e, list := range entries {
		for _, ij := range list {
			i, j := ij[0], ij[1]
			out.trace[e] += ws.m[i*n+j] - ws.n[i*n+j]
			out.quad[e] += ws.w[i] * ws.w[j] / sigma2
			for a := range p {
				out.pew[e][a] += ws.px[i*p+a] * ws.w[j]
				for b := range p {
					out.ppe[e][a*p+b] += ws.px[i*p+a] * ws.px[j*p+b]
				}
			}
			for f, other := range entries {
				for _, kl := range other {
					out.curve[e*len(entries)+f] += ws.m[j*n+kl[0]] * ws.r[kl[1]*n+i]
				}
			}
		}
	}
}
