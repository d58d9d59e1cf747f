package machine

import "math"

// dual is a number with its derivatives by what the D+ terminal depends on.
type dual struct {
	v float64
	d [dualSize]float64
}

// The order of a dual's derivatives.
const (
	byVolts     = iota // from stud to case [V]
	byEMF              // [V]
	byReactance        // [Ohm]
	byOhms             // of a winding [Ohm]
	byDPlus            // current out of D+ [A]
	dualSize
)

// variable is a number that is one of the five itself.
func variable(v float64, by int) dual {
	x := dual{v: v}
	x.d[by] = 1
	return x
}

// chain is f(a) with the slope df at a.
func (a dual) chain(f, df float64) dual {
	r := dual{v: f}
	for k := range a.d {
		r.d[k] = df * a.d[k]
	}
	return r
}

func (a dual) plus(b dual) dual {
	a.v += b.v
	for k := range a.d {
		a.d[k] += b.d[k]
	}
	return a
}

func (a dual) minus(b dual) dual { return a.plus(b.chain(-b.v, -1)) }

func (a dual) times(b dual) dual {
	r := dual{v: a.v * b.v}
	for k := range a.d {
		r.d[k] = a.d[k]*b.v + a.v*b.d[k]
	}
	return r
}

func (a dual) over(b dual) dual {
	return a.times(b.chain(1/b.v, -1/(b.v*b.v)))
}

// positive bends a number to stay above zero, within width of it.
func (a dual) positive(width float64) dual {
	root := math.Sqrt(a.v*a.v + width*width)
	return a.chain((a.v+root)/2, (1+a.v/root)/2)
}

// rounded is the magnitude of a number with the corner at zero rounded.
func (a dual) rounded(width float64) dual {
	root := math.Sqrt(a.v*a.v + width*width)
	return a.chain(a.v*a.v/root, a.v*(a.v*a.v+2*width*width)/(root*root*root))
}
