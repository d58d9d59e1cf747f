package machine

import (
	"fmt"
	"math"
)

// Table holds one pattern's outputs, each as a C2 tensor spline over u and
// ln y on every plane of the knee and drop coordinates.
type Table struct {
	Pattern Pattern
	Grid    Grid
	Source  string // hash of the program that made it
	// Values are the outputs at the grid points, ordered plane (knee, then
	// drop), output, u, y.
	Values []float32

	coef   []float64 // B-spline coefficients, same order, (NU+2) by (NY+2)
	planes int
	knee   axis
	drop   axis
	logY   [2]float64
	du, ds float64
}

// axis is the logarithm of a coordinate, on one plane or three, with a parabola
// through them.
type axis struct {
	at     [3]float64
	scale  [3]float64 // 1/((at[i]-at[j])(at[i]-at[k]))
	n      int
	margin float64 // beyond the outer planes the coordinate bends to a stop within this
}

func newAxis(planes []float64) (axis, error) {
	if len(planes) != 1 && len(planes) != 3 {
		return axis{}, fmt.Errorf("%d planes: one or three are known", len(planes))
	}
	a := axis{n: len(planes)}
	for i, p := range planes {
		a.at[i] = math.Log(p)
	}
	if a.n == 3 {
		a.margin = 0.2 * (a.at[2] - a.at[0])
		for i := range 3 {
			a.scale[i] = 1 / ((a.at[i] - a.at[(i+1)%3]) * (a.at[i] - a.at[(i+2)%3]))
		}
	}
	return a, nil
}

// weights returns the parabola's weights at x and their derivatives.
func (a *axis) weights(x float64) (w, d [3]float64) {
	if a.n == 1 {
		w[0] = 1
		return w, d
	}
	x, dx := bend(x, a.at[0], a.at[2], a.margin)
	p, q, r := x-a.at[0], x-a.at[1], x-a.at[2]
	w = [3]float64{q * r * a.scale[0], p * r * a.scale[1], p * q * a.scale[2]}
	d = [3]float64{(q + r) * a.scale[0] * dx, (p + r) * a.scale[1] * dx, (p + q) * a.scale[2] * dx}
	return w, d
}

// bend returns x where it lies in lo..hi and lets it run smoothly to a stop
// within margin beyond, with its derivative.
func bend(x, lo, hi, margin float64) (y, dy float64) {
	switch {
	case x > hi:
		e := math.Exp((hi - x) / margin)
		return hi + margin*(1-e), e
	case x < lo:
		e := math.Exp((x - lo) / margin)
		return lo - margin*(1-e), e
	}
	return x, 1
}

// tailPower is the power of u1/u with which outputs die away beyond the greatest
// u of a table; the spline ends with the slope that fits. So little flows there
// that only its being smooth and small counts.
const tailPower = 40

// prepare computes the spline coefficients from Values.
func (t *Table) prepare() error {
	g := &t.Grid
	if g.NU < 4 || g.NY < 4 || g.U[0] >= g.U[1] || g.Y[0] <= 0 || g.Y[0] >= g.Y[1] {
		return fmt.Errorf("grid %d by %d over u %v, y %v is no table", g.NU, g.NY, g.U, g.Y)
	}
	var err error
	if t.knee, err = newAxis(g.Knees); err != nil {
		return fmt.Errorf("knee axis: %w", err)
	}
	if t.drop, err = newAxis(g.Drops); err != nil {
		return fmt.Errorf("drop axis: %w", err)
	}
	t.planes = t.knee.n * t.drop.n
	if n := t.planes * int(NumOutputs) * g.NU * g.NY; len(t.Values) != n {
		return fmt.Errorf("%d values: the grid needs %d", len(t.Values), n)
	}
	t.logY = [2]float64{math.Log(g.Y[0]), math.Log(g.Y[1])}
	t.du = (g.U[1] - g.U[0]) / float64(g.NU-1)
	t.ds = (t.logY[1] - t.logY[0]) / float64(g.NY-1)
	size := (g.NU + 2) * (g.NY + 2)
	t.coef = make([]float64, t.planes*int(NumOutputs)*size)
	for b := range t.planes * int(NumOutputs) {
		tensor(t.Values[b*g.NU*g.NY:], t.coef[b*size:][:size], g.NU, g.NY, func(last float64) float64 {
			return -tailPower * last / g.U[1] * t.du
		})
	}
	return nil
}

// tensor computes the coefficients of one output's tensor spline from its values
// on nu by ny points. slope gives the slope by u (in steps) at the last u from
// the coefficient there.
func tensor(values []float32, out []float64, nu, ny int, slope func(last float64) float64) {
	column := make([]float64, nu)
	rows := make([]float64, nu*(ny+2))
	row := make([]float64, ny)
	for i := range nu {
		for j := range ny {
			row[j] = float64(values[i*ny+j])
		}
		copy(rows[i*(ny+2):], splineCoefficients(row, nil))
	}
	for j := range ny + 2 {
		for i := range nu {
			column[i] = rows[i*(ny+2)+j]
		}
		end := slope(column[nu-1])
		for i, c := range splineCoefficients(column, &end) {
			out[i*(ny+2)+j] = c
		}
	}
}

// splineCoefficients returns the n+2 coefficients of the cubic B-spline through
// f at unit steps: not-a-knot at the first end, and at the last too unless a
// slope is given there [closed form: de Boor, A Practical Guide to Splines,
// ch. IV].
func splineCoefficients(f []float64, slope *float64) []float64 {
	n := len(f)
	// Second derivatives m from m[i-1] + 4 m[i] + m[i+1] = 6 (second difference).
	// Not-a-knot, m[0] = 2 m[1] - m[2], turns equation 1 into 6 m[1] = rhs.
	low, diag, up := make([]float64, n), make([]float64, n), make([]float64, n)
	m := make([]float64, n)
	for i := 1; i < n-1; i++ {
		low[i], diag[i], up[i] = 1, 4, 1
		m[i] = 6 * (f[i-1] - 2*f[i] + f[i+1])
	}
	diag[1], up[1], low[1] = 6, 0, 0
	last := n - 2
	if slope == nil {
		diag[last], low[last], up[last] = 6, 0, 0
	} else {
		last = n - 1
		low[last], diag[last] = 1, 2
		m[last] = 6 * (*slope - (f[n-1] - f[n-2]))
	}
	for i := 2; i <= last; i++ {
		l := low[i] / diag[i-1]
		diag[i] -= l * up[i-1]
		m[i] -= l * m[i-1]
	}
	m[last] /= diag[last]
	for i := last - 1; i >= 1; i-- {
		m[i] = (m[i] - up[i]*m[i+1]) / diag[i]
	}
	m[0] = 2*m[1] - m[2]
	if slope == nil {
		m[n-1] = 2*m[n-2] - m[n-3]
	}
	c := make([]float64, n+2)
	for i := range n {
		c[i+1] = f[i] - m[i]/6
	}
	c[0] = m[0] + 2*c[1] - c[2]
	c[n+1] = m[n-1] + 2*c[n] - c[n-1]
	return c
}

// jet is a value with its derivatives.
type jet struct{ f, s, k, d float64 } // value, by ln y, by ln knee, by ln drop

// at returns an output and its derivative by u, each with derivatives by the
// other coordinates, inside the grid.
func (t *Table) at(o Output, u, s, lnKnee, lnDrop float64) (v, du jet) {
	g := &t.Grid
	iu, bu, cu := stencil((u-g.U[0])/t.du, g.NU)
	is, bs, cs := stencil((s-t.logY[0])/t.ds, g.NY)
	wk, dk := t.knee.weights(lnKnee)
	wd, dd := t.drop.weights(lnDrop)
	width := g.NY + 2
	size := (g.NU + 2) * width
	for a := range t.knee.n {
		for b := range t.drop.n {
			c := t.coef[((a*t.drop.n+b)*int(NumOutputs)+int(o))*size+iu*width+is:]
			var f, fu, fs, fus float64
			for i := range 4 {
				r := c[i*width : i*width+4]
				x := bs[0]*r[0] + bs[1]*r[1] + bs[2]*r[2] + bs[3]*r[3]
				y := cs[0]*r[0] + cs[1]*r[1] + cs[2]*r[2] + cs[3]*r[3]
				f += bu[i] * x
				fu += cu[i] * x
				fs += bu[i] * y
				fus += cu[i] * y
			}
			w := wk[a] * wd[b]
			v.f += w * f
			v.s += w * fs
			v.k += dk[a] * wd[b] * f
			v.d += wk[a] * dd[b] * f
			du.f += w * fu
			du.s += w * fus
			du.k += dk[a] * wd[b] * fu
			du.d += wk[a] * dd[b] * fu
		}
	}
	v.s /= t.ds
	du.f, du.k, du.d = du.f/t.du, du.k/t.du, du.d/t.du
	du.s /= t.du * t.ds
	return v, du
}

// stencil returns the first of four coefficients that matter at x (in steps)
// and the cubic B-spline's weights and their derivatives.
func stencil(x float64, n int) (i int, b, d [4]float64) {
	i = min(max(int(x), 0), n-2)
	r := x - float64(i)
	q := 1 - r
	b = [4]float64{q * q * q / 6, (4 - 6*r*r + 3*r*r*r) / 6, (4 - 6*q*q + 3*q*q*q) / 6, r * r * r / 6}
	d = [4]float64{-q * q / 2, (-4*r + 3*r*r) / 2, (4*q - 3*q*q) / 2, r * r / 2}
	return i, b, d
}
