package drawing

// node is a cell that a search has reached: f is what the whole way through it
// costs at least, g what it cost so far.
type node struct {
	i    int
	f, g float64
}

func (n node) before(m node) bool { return n.f < m.f || n.f == m.f && n.i < m.i }

// queue is a binary heap of nodes, the least first. container/heap would put each
// node into an interface: an allocation a node.
type queue []node

func (q *queue) push(n node) {
	h := append(*q, n)
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !n.before(h[up]) {
			break
		}
		h[i] = h[up]
		i = up
	}
	h[i], *q = n, h
}

func (q *queue) pop() node {
	h := *q
	top, last := h[0], h[len(h)-1]
	h = h[:len(h)-1]
	*q = h
	if len(h) == 0 {
		return top
	}
	i := 0
	for {
		down := 2*i + 1
		if down >= len(h) {
			break
		}
		if down+1 < len(h) && h[down+1].before(h[down]) {
			down++
		}
		if !h[down].before(last) {
			break
		}
		h[i] = h[down]
		i = down
	}
	h[i] = last
	return top
}
