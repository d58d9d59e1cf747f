package circuit

// program is the elimination of one topology, compiled to flat lists of
// places: no searching, no pivoting and no allocation while solving.
type program struct {
	n       int
	place   [][]int32 // place[i][j] in the value array, -1 where the structure is empty
	nnz     int
	order   []int   // unknown eliminated at each step
	diag    []int32 // place of each step's pivot
	diagAt  []int32 // place of each unknown's diagonal
	ops     []int32 // see factor
	rows    []int32 // a step's unknown, its number of later neighbours, then (neighbour, L place, U place)
	counts  []int32 // later neighbours of each step
	flops   int     // multiplications, additions and divisions of one factor and one solve
	entries []entry // every nonzero before fill, for residuals
}

type entry struct{ i, j, at int32 }

func compile(p pattern) *program {
	n := len(p)
	order := p.eliminate()
	pos := make([]int, n)
	for k, i := range order {
		pos[i] = k
	}
	g := &program{n: n, order: order, place: make([][]int32, n)}
	for i := range n {
		g.place[i] = make([]int32, n)
		for j := range n {
			g.place[i][j] = -1
			if p[i][j] {
				g.place[i][j] = int32(g.nnz)
				g.entries = append(g.entries, entry{int32(i), int32(j), int32(g.nnz)})
				g.nnz++
			}
		}
	}
	for i := range n {
		g.diagAt = append(g.diagAt, g.place[i][i])
	}
	g.emit(p, pos)
	return g
}

// emit writes the factor program. For every pivot k: the number of rows below,
// then for each row its l-place, the number of updates, and pairs of places
// (target, from): target -= l*from.
func (g *program) emit(p pattern, pos []int) {
	for _, k := range g.order {
		g.diag = append(g.diag, g.place[k][k])
		var later []int
		for j := range g.n {
			if p[k][j] && pos[j] > pos[k] {
				later = append(later, j)
			}
		}
		g.ops = append(g.ops, int32(len(later)))
		g.rows = append(g.rows, int32(k), int32(len(later)))
		g.counts = append(g.counts, int32(len(later)))
		for _, i := range later {
			g.ops = append(g.ops, g.place[i][k], int32(len(later)))
			g.rows = append(g.rows, int32(i), g.place[i][k], g.place[k][i])
			for _, j := range later {
				g.ops = append(g.ops, g.place[i][j], g.place[k][j])
			}
			g.flops += 1 + 2*len(later) // the division, the updates
			g.flops += 4                // forward and backward solve
		}
		g.flops++ // division by the pivot
	}
}

// factor replaces the values by L (unit diagonal, below) and U.
func (g *program) factor(v []float64) bool {
	ops, at := g.ops, 0
	for _, d := range g.diag {
		pivot := v[d]
		if pivot == 0 || pivot != pivot {
			return false
		}
		inv := 1 / pivot
		rows := ops[at]
		at++
		for range rows {
			lp, cnt := ops[at], int(ops[at+1])
			at += 2
			l := v[lp] * inv
			v[lp] = l
			if l == 0 {
				at += 2 * cnt
				continue
			}
			pairs := ops[at : at+2*cnt]
			for q := 0; q+1 < len(pairs); q += 2 {
				v[pairs[q]] -= l * v[pairs[q+1]]
			}
			at += 2 * cnt
		}
	}
	return true
}

// solve replaces b by the solution of A x = b.
func (g *program) solve(v, b []float64) {
	rows, at := g.rows, 0
	for at < len(rows) {
		k, cnt := rows[at], int(rows[at+1])
		at += 2
		if bk := b[k]; bk != 0 {
			for q := at; q < at+3*cnt; q += 3 {
				b[rows[q]] -= v[rows[q+1]] * bk
			}
		}
		at += 3 * cnt
	}
	g.back(v, b, false)
}

// transposed replaces b by the solution of Aᵀ x = b.
func (g *program) transposed(v, b []float64) {
	rows, at := g.rows, 0
	for s := 0; at < len(rows); s++ {
		k, cnt := rows[at], int(rows[at+1])
		at += 2
		b[k] /= v[g.diag[s]]
		if bk := b[k]; bk != 0 {
			for q := at; q < at+3*cnt; q += 3 {
				b[rows[q]] -= v[rows[q+2]] * bk
			}
		}
		at += 3 * cnt
	}
	g.back(v, b, true)
}

// back runs the second half: the pivots in reverse.
func (g *program) back(v, b []float64, lower bool) {
	rows, at := g.rows, len(g.rows)
	for s := g.n - 1; s >= 0; s-- {
		k := int32(g.order[s])
		width := 3 * int(g.counts[s])
		at -= 2 + width
		sum := b[k]
		off := 1
		if !lower {
			off = 2
		}
		for q := at + 2; q < at+2+width; q += 3 {
			sum -= v[rows[q+off]] * b[rows[q]]
		}
		if !lower {
			sum /= v[g.diag[s]]
		}
		b[k] = sum
	}
}
