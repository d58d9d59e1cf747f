package diagnosis

import "math"

// cutOff is a standard normal between two edges: the log of its probability, its mean and
// its variance. Far in the tail it lies at the near edge.
func cutOff(lo, hi float64) (logp, mean, variance float64) {
	if lo+hi < 0 { // mirrored, so that the nearer tail is the upper one
		logp, mean, variance = cutOff(-hi, -lo)
		return logp, -mean, variance
	}
	logp = logUpper(lo)
	if !math.IsInf(hi, 1) {
		logp += math.Log1p(-math.Exp(logUpper(hi) - logp))
	}
	at := func(x float64) (density, times float64) {
		if math.IsInf(x, 0) {
			return 0, 0
		}
		density = math.Exp(-x*x/2 - halfLog2Pi - logp)
		return density, x * density
	}
	a, ax := at(lo)
	b, bx := at(hi)
	mean = a - b
	return logp, mean, math.Max(0, 1+ax-bx-mean*mean)
}

// logUpper is the log of the probability that a standard normal is over x. Beyond
// farOut the first terms of its asymptotic series stand in: 15/x^6 of it is left out.
func logUpper(x float64) float64 {
	if x < farOut {
		return math.Log(math.Erfc(x/math.Sqrt2) / 2)
	}
	return -x*x/2 - halfLog2Pi - math.Log(x) + math.Log1p(-1/(x*x)+3/(x*x*x*x))
}

const farOut = 20
