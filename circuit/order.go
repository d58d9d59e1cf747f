package circuit

// pattern is the symmetric nonzero structure of the Jacobian: rows of column
// sets. The structure is made symmetric so that a diagonal order works for L
// and U alike.
type pattern []map[int]bool

func newPattern(n int) pattern {
	p := make(pattern, n)
	for i := range p {
		p[i] = map[int]bool{i: true}
	}
	return p
}

func (p pattern) add(i, j int) {
	if i >= 0 && j >= 0 {
		p[i][j] = true
		p[j][i] = true
	}
}

func (p pattern) clone() pattern {
	q := make(pattern, len(p))
	for i := range p {
		q[i] = make(map[int]bool, len(p[i]))
		for j := range p[i] {
			q[i][j] = true
		}
	}
	return q
}

// from is the structure among the unknowns from k on, counted from there.
func (p pattern) from(k int) pattern {
	q := newPattern(len(p) - k)
	for i := k; i < len(p); i++ {
		for j := range p[i] {
			if j >= k {
				q[i-k][j-k] = true
			}
		}
	}
	return q
}

// eliminate orders the unknowns by least fill (Markowitz on a symmetric
// structure: least degree, ties to the lower index), those below inner first,
// and adds the fill to p.
func (p pattern) eliminate(inner int) (order []int) {
	work := p.clone()
	done := make([]bool, len(p))
	for len(order) < len(p) {
		end := len(p)
		if len(order) < inner {
			end = inner
		}
		best := -1
		for i := range end {
			if !done[i] && (best < 0 || len(work[i]) < len(work[best])) {
				best = i
			}
		}
		done[best] = true
		order = append(order, best)
		drop(work, p, best)
	}
	return order
}

// fill adds the fill of eliminating the unknowns in this order.
func (p pattern) fill(order []int) {
	work := p.clone()
	for _, k := range order {
		drop(work, p, k)
	}
}

// drop eliminates one unknown of what is left, and adds its fill to p as well.
func drop(work, p pattern, k int) {
	var near []int
	for j := range work[k] {
		if j != k {
			near = append(near, j)
		}
	}
	for _, i := range near {
		delete(work[i], k)
		for _, j := range near {
			work[i][j] = true
			p[i][j] = true
		}
	}
}

func shifted(order []int, by int) []int {
	out := make([]int, len(order))
	for i, k := range order {
		out[i] = k + by
	}
	return out
}
