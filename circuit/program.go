package circuit

// program is the elimination of one topology, compiled to flat lists of
// places: no searching, no pivoting and no allocation while solving.
type program struct {
	n      int
	place  [][]int32 // place[i][j] in the value array, -1 where the structure is empty
	nnz    int
	order  []int   // unknown eliminated at each step
	diag   []int32 // place of each step's pivot
	diagAt []int32 // place of each unknown's diagonal
	ops    []int32 // see emit
	rows   []int32 // a step's unknown, its number of later neighbours, then (neighbour, L place, U place)
	counts []int32 // later neighbours of each step
	starts []int   // where they begin in rows
	flops  int     // multiplications, additions and divisions of one factor and one solve
	// entries is every place that the resistors fill, for residuals; of a core.
	entries []entry
	// inner is how many steps come first for unknowns that only resistors
	// touch, innerOps the length of their part of ops, outside where the places
	// begin that belong to none of them.
	inner, innerOps, outside int
}

type entry struct{ i, j, at int32 }

// compile orders the elimination of p: first the unknowns below inner, then the
// others. core is the elimination of the others alone; its places are the last
// places of whole, in the same order, so that one array serves both. line is the
// structure that the resistors alone have.
func compile(p, line pattern, inner int) (whole, core *program) {
	n := len(p)
	order := p.eliminate(inner)
	core = newProgram(p.from(inner), shifted(order[inner:], -inner))
	whole = &program{n: n, order: order, inner: inner, place: make([][]int32, n)}
	for i := range n {
		whole.place[i] = make([]int32, n)
		for j := range n {
			whole.place[i][j] = -1
			if p[i][j] && (i < inner || j < inner) {
				whole.place[i][j] = int32(whole.nnz)
				whole.nnz++
			}
		}
	}
	whole.outside = whole.nnz
	for i := inner; i < n; i++ {
		for j := inner; j < n; j++ {
			if at := core.place[i-inner][j-inner]; at >= 0 {
				whole.place[i][j] = int32(whole.outside) + at
			}
		}
	}
	whole.nnz += core.nnz
	whole.emit(p)
	line.fill(order[:inner])
	core.entries = core.among(line.from(inner))
	return whole, core
}

// newProgram compiles a structure whose fill is in it already.
func newProgram(p pattern, order []int) *program {
	n := len(p)
	g := &program{n: n, order: order, place: make([][]int32, n)}
	for i := range n {
		g.place[i] = make([]int32, n)
		for j := range n {
			g.place[i][j] = -1
			if p[i][j] {
				g.place[i][j] = int32(g.nnz)
				g.nnz++
			}
		}
	}
	g.emit(p)
	return g
}

// among lists the places of p.
func (g *program) among(p pattern) (out []entry) {
	for i := range p {
		for j := range p {
			if p[i][j] {
				out = append(out, entry{int32(i), int32(j), g.place[i][j]})
			}
		}
	}
	return out
}

// emit writes the factor program. For every pivot k: the number of rows below,
// then for each row its l-place, the number of updates, and pairs of places
// (target, from): target -= l*from.
func (g *program) emit(p pattern) {
	pos := make([]int, g.n)
	for k, i := range g.order {
		pos[i] = k
	}
	for i := range g.n {
		g.diagAt = append(g.diagAt, g.place[i][i])
	}
	for step, k := range g.order {
		if step == g.inner {
			g.innerOps = len(g.ops)
		}
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
		g.starts = append(g.starts, len(g.rows))
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
	if g.inner == len(g.order) {
		g.innerOps = len(g.ops)
	}
}

// factorInner eliminates the inner unknowns: their rows become L and U, the rest
// of the values what the inner network looks like from outside.
func (g *program) factorInner(v []float64) bool {
	return factor(v, g.diag[:g.inner], g.ops[:g.innerOps])
}

// factor replaces the values by L (unit diagonal, below) and U, of whose pivots it
// leaves the reciprocals.
func (g *program) factor(v []float64) bool { return factor(v, g.diag, g.ops) }

func factor(v []float64, diag, ops []int32) bool {
	at := 0
	for _, d := range diag {
		pivot := v[d]
		if pivot == 0 || pivot != pivot {
			return false
		}
		inv := 1 / pivot
		v[d] = inv
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
		next := rows[at : at+3*cnt]
		at += 3 * cnt
		if bk := b[k]; bk != 0 {
			for q := 0; q+2 < len(next); q += 3 {
				b[next[q]] -= v[next[q+1]] * bk
			}
		}
	}
	for s := g.n - 1; s >= 0; s-- {
		next := g.later(s)
		k := g.order[s]
		sum := b[k]
		for q := 0; q+2 < len(next); q += 3 {
			sum -= v[next[q+2]] * b[next[q]]
		}
		b[k] = sum * v[g.diag[s]]
	}
}

// solveBoth is solve for two right-hand sides, which share the look-ups.
func (g *program) solveBoth(v, b, c []float64) {
	rows, at := g.rows, 0
	for at < len(rows) {
		k, cnt := rows[at], int(rows[at+1])
		at += 2
		next := rows[at : at+3*cnt]
		at += 3 * cnt
		bk, ck := b[k], c[k]
		if bk == 0 && ck == 0 {
			continue
		}
		for q := 0; q+2 < len(next); q += 3 {
			i, l := next[q], v[next[q+1]]
			b[i] -= l * bk
			c[i] -= l * ck
		}
	}
	for s := g.n - 1; s >= 0; s-- {
		next := g.later(s)
		k, inv := g.order[s], v[g.diag[s]]
		sb, sc := b[k], c[k]
		for q := 0; q+2 < len(next); q += 3 {
			i, u := next[q], v[next[q+2]]
			sb -= u * b[i]
			sc -= u * c[i]
		}
		b[k], c[k] = sb*inv, sc*inv
	}
}

// transposed replaces b by the solution of Aᵀ x = b.
func (g *program) transposed(v, b []float64) {
	rows, at := g.rows, 0
	for s := 0; at < len(rows); s++ {
		k, cnt := rows[at], int(rows[at+1])
		at += 2
		next := rows[at : at+3*cnt]
		at += 3 * cnt
		bk := b[k]
		if bk == 0 {
			continue
		}
		bk *= v[g.diag[s]]
		b[k] = bk
		for q := 0; q+2 < len(next); q += 3 {
			b[next[q]] -= v[next[q+2]] * bk
		}
	}
	for s := g.n - 1; s >= 0; s-- {
		next := g.later(s)
		k := g.order[s]
		sum := b[k]
		for q := 0; q+2 < len(next); q += 3 {
			sum -= v[next[q+1]] * b[next[q]]
		}
		b[k] = sum
	}
}

// transposedBoth is transposed for two right-hand sides, which share the look-ups.
func (g *program) transposedBoth(v, b, c []float64) {
	rows, at := g.rows, 0
	for s := 0; at < len(rows); s++ {
		k, cnt := rows[at], int(rows[at+1])
		at += 2
		next := rows[at : at+3*cnt]
		at += 3 * cnt
		bk, ck := b[k], c[k]
		if bk == 0 && ck == 0 {
			continue
		}
		inv := v[g.diag[s]]
		bk *= inv
		ck *= inv
		b[k], c[k] = bk, ck
		for q := 0; q+2 < len(next); q += 3 {
			i, u := next[q], v[next[q+2]]
			b[i] -= u * bk
			c[i] -= u * ck
		}
	}
	for s := g.n - 1; s >= 0; s-- {
		next := g.later(s)
		k := g.order[s]
		sb, sc := b[k], c[k]
		for q := 0; q+2 < len(next); q += 3 {
			i, l := next[q], v[next[q+1]]
			sb -= l * b[i]
			sc -= l * c[i]
		}
		b[k], c[k] = sb, sc
	}
}

// later are the neighbours eliminated after a step, with their places.
func (g *program) later(s int) []int32 {
	at := g.starts[s]
	return g.rows[at : at+3*int(g.counts[s])]
}

// inward gives the inner unknowns the values that follow from the others, when
// nothing drives them from within; v holds the factors of the inner part.
func (g *program) inward(v, x []float64) {
	for s := g.inner - 1; s >= 0; s-- {
		sum := 0.0
		next := g.later(s)
		for q := 0; q+2 < len(next); q += 3 {
			sum -= v[next[q+2]] * x[next[q]]
		}
		x[g.order[s]] = sum * v[g.diag[s]]
	}
}
