package diagnosis

// MostDoubted is how many values of a job can be taken as wrong: what comes later
// counts as right. Six values a reading, as along a coach's lines, pass 64 after a dozen.
const MostDoubted = 256

// wrongs is a set of values taken as wrong, by their places among the data.
type wrongs [MostDoubted / 64]uint64

func (w wrongs) has(i int) bool { return i < MostDoubted && w[i/64]>>(i%64)&1 == 1 }

func (w wrongs) none() bool { return w == wrongs{} }

// with is the set and one value more.
func (w wrongs) with(i int) wrongs {
	if i < MostDoubted {
		w[i/64] |= 1 << (i % 64)
	}
	return w
}

// or is what is in one of two sets.
func (w wrongs) or(o wrongs) wrongs {
	for k := range w {
		w[k] |= o[k]
	}
	return w
}

// less is the set without another.
func (w wrongs) less(o wrongs) wrongs {
	for k := range w {
		w[k] &^= o[k]
	}
	return w
}

// only is the set of one value.
func only(i int) wrongs { return wrongs{}.with(i) }
