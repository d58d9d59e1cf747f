// Package score judges stated probabilities against what was true: scores,
// calibration, and simulation-based calibration. Tests and the benchmark use
// it. It refuses nothing and returns NaN for an empty list; which probabilities
// to judge is the caller's business.
//
// Open score.go for scores of events and of faults, calibration.go for ranks
// and their chi-squared, Holm's rule and the noise floor.
package score

import "math"

// Brier is the mean of (p-y)^2 over events, y 0 or 1.
func Brier(p, y []float64) float64 {
	s := 0.0
	for i := range p {
		s += (p[i] - y[i]) * (p[i] - y[i])
	}
	return s / float64(len(p))
}

// Log is the mean of -ln P(what happened) over events [nat].
func Log(p, y []float64) float64 {
	s := 0.0
	for i := range p {
		s -= math.Log(y[i]*p[i] + (1-y[i])*(1-p[i]))
	}
	return s / float64(len(p))
}

// Spiegelhalter is his z: about normal (0, 1) when the probabilities are right.
// Source: Spiegelhalter 1986 (memory).
func Spiegelhalter(p, y []float64) float64 {
	num, v := 0.0, 0.0
	for i := range p {
		w := 1 - 2*p[i]
		num += (y[i] - p[i]) * w
		v += w * w * p[i] * (1 - p[i])
	}
	return num / math.Sqrt(v)
}

// Fault is a posterior over alternatives with the one that was true.
type Fault struct {
	P     []float64
	Truth int
}

// Brier is the sum of squares over all alternatives.
func (f Fault) Brier() float64 {
	s := 0.0
	for i, p := range f.P {
		y := 0.0
		if i == f.Truth {
			y = 1
		}
		s += (p - y) * (p - y)
	}
	return s
}

// Log is -ln P(truth) [nat].
func (f Fault) Log() float64 { return -math.Log(f.P[f.Truth]) }

// Top is the most probable alternative, of equals the first.
func (f Fault) Top() int {
	best := 0
	for i, p := range f.P {
		if p > f.P[best] {
			best = i
		}
	}
	return best
}

// FaultZ is about normal (0, 1) over many cases when posteriors are right:
// the sum of ln p(truth) less its expectation over its standard deviation.
func FaultZ(cases []Fault) float64 {
	num, v := 0.0, 0.0
	for _, c := range cases {
		mean, square := 0.0, 0.0
		for _, p := range c.P {
			if p > 0 {
				l := math.Log(p)
				mean += p * l
				square += p * l * l
			}
		}
		num += math.Log(c.P[c.Truth]) - mean
		v += square - mean*mean
	}
	return num / math.Sqrt(v)
}

// Murphy splits the Brier score of binned probabilities: score = reliability -
// resolution + uncertainty. Source: Murphy 1973.
func Murphy(stated []float64, n, hits []float64) (reliability, resolution, uncertainty float64) {
	total, all := 0.0, 0.0
	for i := range n {
		total += n[i]
		all += hits[i]
	}
	base := all / total
	for i := range n {
		if n[i] == 0 {
			continue
		}
		o := hits[i] / n[i]
		reliability += n[i] / total * (stated[i] - o) * (stated[i] - o)
		resolution += n[i] / total * (o - base) * (o - base)
	}
	return reliability, resolution, base * (1 - base)
}

// Gap is the expected and the largest calibration error over equal bins of the
// stated probability. Source: Guo et al. 2017, the definition.
func Gap(p, y []float64, bins int) (expected, largest float64) {
	n, conf, acc := make([]float64, bins), make([]float64, bins), make([]float64, bins)
	for i := range p {
		b := min(bins-1, int(p[i]*float64(bins)))
		n[b]++
		conf[b] += p[i]
		acc[b] += y[i]
	}
	for b := range n {
		if n[b] > 0 {
			d := math.Abs(acc[b]-conf[b]) / n[b]
			expected += d * n[b] / float64(len(p))
			largest = math.Max(largest, d)
		}
	}
	return expected, largest
}
