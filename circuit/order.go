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

// eliminate orders the unknowns by least fill (Markowitz on a symmetric
// structure: least degree, ties to the lower index) and adds the fill to p.
func (p pattern) eliminate() (order []int) {
	n := len(p)
	work := make(pattern, n)
	for i := range p {
		work[i] = make(map[int]bool, len(p[i]))
		for j := range p[i] {
			work[i][j] = true
		}
	}
	done := make([]bool, n)
	for len(order) < n {
		best := -1
		for i := range work {
			if !done[i] && (best < 0 || len(work[i]) < len(work[best])) {
				best = i
			}
		}
		done[best] = true
		order = append(order, best)
		var near []int
		for j := range n {
			if j != best && work[best][j] {
				near = append(near, j)
			}
		}
		for _, i := range near {
			delete(work[i], best)
			for _, j := range near {
				work[i][j] = true
				p[i][j] = true
			}
		}
	}
	return order
}
