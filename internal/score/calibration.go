package score

import (
	"cmp"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rank is how many posterior draws are below the truth: uniform on 0..len when
// the posterior is right. Source: Talts et al. 2018 (arXiv 1804.06788).
func Rank(truth float64, draws []float64) int {
	r := 0
	for _, d := range draws {
		if d < truth {
			r++
		}
	}
	return r
}

// Bin is the bin 1..bins of a rank among draws posterior draws.
func Bin(rank, draws, bins int) int { return 1 + rank*bins/(draws+1) }

// ChiSquared compares counts of bins with equal expectations and returns the
// statistic and the probability of one as large.
func ChiSquared(counts []int) (x2, p float64) {
	n := 0
	for _, c := range counts {
		n += c
	}
	e := float64(n) / float64(len(counts))
	for _, c := range counts {
		x2 += (float64(c) - e) * (float64(c) - e) / e
	}
	return x2, distuv.ChiSquared{K: float64(len(counts) - 1)}.Survival(x2)
}

// Holm returns which of several tests fall at a level held over all of them.
// Source: Holm 1979 (memory).
func Holm(p []float64, level float64) []bool {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	out := make([]bool, len(p))
	for k, i := range order {
		if p[i] > level/float64(len(p)-k) {
			break
		}
		out[i] = true
	}
	return out
}

// Floor is the gap that right probabilities would show by chance: the mean and
// the 95 % quantile of Gap over resamplings of what happens, drawn from the
// stated probabilities themselves.
func Floor(p []float64, bins, resamplings int, seed uint64) (mean, high float64) {
	rng := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	y, all := make([]float64, len(p)), make([]float64, resamplings)
	for r := range all {
		for i := range p {
			y[i] = 0
			if rng.Float64() < p[i] {
				y[i] = 1
			}
		}
		all[r], _ = Gap(p, y, bins)
		mean += all[r] / float64(resamplings)
	}
	slices.Sort(all)
	return mean, all[int(0.95*float64(resamplings-1))]
}
