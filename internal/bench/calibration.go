package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
)

// bin counts statements of about one probability.
type bin struct{ n, p, right float64 }

// early is the last reading after which statements are looked at.
const early = 5

// binned sorts what was stated after the first readings; right says whether it
// was true.
func binned(o []outcome, right func(stated) bool) (bins [10]bin, total float64) {
	for _, x := range o {
		for _, s := range x.stated {
			if s.after > early {
				continue
			}
			k := min(9, int(s.p*10))
			bins[k].n++
			bins[k].p += s.p
			bins[k].right += b2f(right(s))
			total++
		}
	}
	return bins, total
}

// gap is the mean distance between what was stated and what was so, by bins.
func gap(bins [10]bin, total float64) float64 {
	sum := 0.0
	for _, b := range bins {
		sum += math.Abs(b.p-b.right) / math.Max(total, 1)
	}
	return sum
}

const (
	resamplings  = 400
	resampleSeed = 5
)

// gapFloor is the gap of a program whose shares are right and that states what
// was stated here: its mean and its 95 % quantile.
func gapFloor(o []outcome) (mean, high float64) {
	rng := rand.New(rand.NewPCG(resampleSeed, 0))
	gaps := make([]float64, resamplings)
	for i := range gaps {
		gaps[i] = gap(binned(o, func(s stated) bool { return rng.Float64() < s.p }))
		mean += gaps[i] / resamplings
	}
	slices.Sort(gaps)
	return mean, quantileOf(gaps, 0.95)
}

// calibration is the stated probability of the leading class after the first
// readings against how often it was right.
func calibration(out io.Writer, o []outcome) {
	bins, total := binned(o, func(s stated) bool { return s.right })
	fmt.Fprintln(out, "\n| stated | pairs | mean stated | right |\n|---|---|---|---|")
	for k, b := range bins {
		if b.n > 0 {
			fmt.Fprintf(out, "| %.1f-%.1f | %.0f | %.3f | %.3f |\n", float64(k)/10, float64(k+1)/10, b.n, b.p/b.n, b.right/b.n)
		}
	}
	mean, high := gapFloor(o)
	fmt.Fprintf(out, "\nWeighted gap %.3f over %.0f pairs; a program whose shares are right has %.3f on average with these, and under %.3f in 95 %% of %d resamplings.\n",
		gap(bins, total), total, mean, high, resamplings)
}
