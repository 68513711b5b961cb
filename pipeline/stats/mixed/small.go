package mixed

import "math"

// One level needs at most two effects a cluster, and everything about a 2 x 2
// matrix has a closed form without cancellation. A random intercept alone is
// the same with zeros.

// small is D, the relative covariance, with its determinant.
type small struct {
	d11, d12, d22, det float64
}

func (pr *problem) small(theta []float64) small {
	f := pr.levels[0].factor(theta)
	d := pr.levels[0].relative(theta)
	return small{d[0], d[1], d[2], f[0] * f[0] * f[2] * f[2]}
}

// moments gives Z'Z of a cluster, its determinant and that of I + Z'Z D.
func (d *small) moments(c *cluster) (g11, g12, g22, detG, det float64) {
	g11 = c.zz[0]
	if c.size == 2 {
		g12, g22 = c.zz[1], c.zz[3]
		detG = math.Max(0, g11*g22-g12*g12)
	}
	return g11, g12, g22, detG, 1 + g11*d.d11 + 2*g12*d.d12 + g22*d.d22 + detG*d.det
}

// sumSmall takes from the cross-products of the data what the random effects
// explain: with U = (D^-1 + Z'Z)^-1, X'HX = X'X - X'Z U Z'X and so on.
func (pr *problem) sumSmall(theta []float64, sum *sums) {
	d := pr.small(theta)
	p := pr.p
	blank := make([]float64, p)
	// Logarithms of products: the product of 16 determinants cannot overflow
	// unless one passes 1e19, which would be a residual variance of nothing.
	product, pending := 1.0, 0
	for k := range pr.clusters {
		c := &pr.clusters[k]
		g11, g12, g22, _, det := d.moments(c)
		if product *= det; pending == 15 || product > 1e200 {
			sum.logDet += math.Log(product)
			product, pending = 1, -1
		}
		pending++
		u11 := (d.d11 + d.det*g22) / det
		u12 := (d.d12 - d.det*g12) / det
		u22 := (d.d22 + d.det*g11) / det

		x1, x2 := c.zx[:p:p], blank
		y1, y2 := c.zy[0], 0.0
		if c.size == 2 {
			x2, y2 = c.zx[p:2*p:2*p], c.zy[1]
		}
		uy1, uy2 := u11*y1+u12*y2, u12*y1+u22*y2
		sum.yhy -= y1*uy1 + y2*uy2
		for i, a := range x1 {
			b := x2[i]
			ux1, ux2 := u11*a+u12*b, u12*a+u22*b
			sum.xhy[i] -= a*uy1 + b*uy2
			row := sum.xhx[i*p : i*p+i+1]
			for j := range row {
				row[j] -= ux1*x1[j] + ux2*x2[j]
			}
		}
	}
	sum.logDet += math.Log(product)
}

// slopesSmall sums the derivatives of differentiate over the clusters.
func (pr *problem) slopesSmall(s *solution, out *slopes) {
	d := pr.small(s.theta)
	p := pr.p
	full := newSlopes(3, p)
	buffer := make([]float64, 5*p)
	p1, p2, c1, c2, blank := buffer[:p], buffer[p:2*p], buffer[2*p:3*p], buffer[3*p:4*p], buffer[4*p:]
	for k := range pr.clusters {
		c := &pr.clusters[k]
		g11, g12, g22, detG, det := d.moments(c)
		m11, m12, m22 := (g11+d.d22*detG)/det, (g12-d.d12*detG)/det, (g22+d.d11*detG)/det
		// B = (I + Z'Z D)^-1 turns Z'X into P and Z'r into w.
		b11, b12 := (1+g12*d.d12+g22*d.d22)/det, -(g11*d.d12+g12*d.d22)/det
		b21, b22 := -(g12*d.d11+g22*d.d12)/det, (1+g11*d.d11+g12*d.d12)/det

		x1, x2 := c.zx[:p:p], blank
		r1, r2 := c.zy[0], 0.0
		if c.size == 2 {
			x2, r2 = c.zx[p:2*p:2*p], c.zy[1]
		}
		for j, x := range x1 {
			r1 -= x * s.beta[j]
			r2 -= x2[j] * s.beta[j]
			p1[j], p2[j] = b11*x+b12*x2[j], b21*x+b22*x2[j]
		}
		w1, w2 := b11*r1+b12*r2, b21*r1+b22*r2
		q11, q12, q22 := w1*w1/s.sigma2, w1*w2/s.sigma2, w2*w2/s.sigma2
		n11, n12, n22 := q11, q12, q22
		if !pr.ml {
			for i := range p {
				row := s.xhxInverse[i*p : i*p+p]
				c1[i], c2[i] = 0, 0
				for j, x := range row {
					c1[i] += x * p1[j]
					c2[i] += x * p2[j]
				}
				n11 += p1[i] * c1[i]
				n12 += p2[i] * c1[i]
				n22 += p2[i] * c2[i]
			}
		}
		full.trace[0] += m11 - n11
		full.trace[1] += 2 * (m12 - n12)
		full.trace[2] += m22 - n22
		full.quad[0] += q11
		full.quad[1] += 2 * q12
		full.quad[2] += q22
		r11, r12, r22 := 2*n11-m11, 2*n12-m12, 2*n22-m22
		full.curve[0] += m11 * r11
		full.curve[1] += m11*r12 + m12*r11
		full.curve[2] += m12 * r12
		full.curve[4] += 2*m12*r12 + m22*r11 + m11*r22
		full.curve[5] += m22*r12 + m12*r22
		full.curve[8] += m22 * r22
		full.addColumns(p1, p2, w1, w2)
	}
	full.mirror(p)
	elements := len(s.theta)
	for e := range elements {
		out.trace[e], out.quad[e], out.ppe[e], out.pew[e] = full.trace[e], full.quad[e], full.ppe[e], full.pew[e]
		copy(out.curve[e*elements:(e+1)*elements], full.curve[e*3:])
	}
}

func (d *slopes) addColumns(p1, p2 []float64, w1, w2 float64) {
	p := len(p1)
	for i, a := range p1 {
		b := p2[i]
		d.pew[0][i] += a * w1
		d.pew[1][i] += a*w2 + b*w1
		d.pew[2][i] += b * w2
		s11, s12, s22 := d.ppe[0][i*p:i*p+i+1], d.ppe[1][i*p:i*p+i+1], d.ppe[2][i*p:i*p+i+1]
		for j := range s11 {
			s11[j] += a * p1[j]
			s12[j] += a*p2[j] + b*p1[j]
			s22[j] += b * p2[j]
		}
	}
}

// mirror fills the upper triangle of P'EP and the lower one of the second derivatives.
func (d *slopes) mirror(p int) {
	for _, m := range d.ppe {
		for i := range p {
			for j := range i {
				m[j*p+i] = m[i*p+j]
			}
		}
	}
	n := len(d.trace)
	for e := range n {
		for f := range e {
			d.curve[e*n+f] = d.curve[f*n+e]
		}
	}
}
