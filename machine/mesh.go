package machine

import "math"

// maxMesh is the most nodes a build has: three rectifier terminals, three
// corners of a delta behind poor leads, output, D+.
const maxMesh = 9

// ground is the case, the reference of all node voltages.
const ground = -1

// mesh is a build as nodes and branches. Nodes 0 to n-1 are unknown; node n is
// the output terminal where its voltage is held stiffly.
type mesh struct {
	n, all   int    // unknown nodes; with the held one
	leg      [3]int // rectifier terminals a, b, c
	from, to [3]int // ends of the windings: current flows from the first to the second
	star     int    // ground where the winding is a delta
	output   int
	dplus    int                       // ground where there are no field diodes
	lin      [maxMesh][maxMesh]float64 // constant conductances [S]
	held     [maxMesh]float64          // constant currents into the nodes [A]
	diodes   []meshDiode
	mains    int // the first so many diodes are a+ b+ c+ a- b- c-
	open     [3]bool
	ohms     [3]float64 // windings with what is in series [Ohm]
}

// meshDiode is a diode's place. A nil junction is open.
type meshDiode struct {
	anode, cathode int
	j              *junction
	across         float64
}

// newMesh lays a build out.
func newMesh(c *Build) *mesh {
	m := &mesh{star: ground, dplus: ground, leg: [3]int{0, 1, 2}, n: 3}
	node := func() int { m.n++; return m.n - 1 }
	corner := m.leg
	if c.Winding == Star {
		m.star = node()
	} else {
		for k := range 3 {
			if c.Changes.LeadOhms[k] > 0 && !c.Changes.LeadOpen[k] {
				corner[k] = node()
			}
		}
	}
	if c.Field != nil {
		m.dplus = node()
	}
	if c.SourceOhms > 0 {
		m.output = node()
	} else {
		m.output = m.n
	}
	m.all = max(m.n, m.output+1)
	for k := range 3 {
		m.open[k], m.ohms[k] = c.Changes.WindingOpen[k], c.Ohms+c.Changes.WindingOhms[k]
		m.from[k], m.to[k] = m.star, m.leg[k]
		if c.Winding == Delta {
			m.from[k], m.to[k] = corner[(k+1)%3], corner[k]
			if corner[k] != m.leg[k] {
				m.conductance(corner[k], m.leg[k], 1/c.Changes.LeadOhms[k])
			}
			continue
		}
		m.open[k] = m.open[k] || c.Changes.LeadOpen[k]
		m.ohms[k] += c.Changes.LeadOhms[k]
	}
	m.place(c)
	return m
}

// place adds diodes, faults, source and what D+ feeds.
func (m *mesh) place(c *Build) {
	main := newJunction(c.Diode.Saturation, c.Diode.Emission*thermalVolts, c.Diode.Ohms, blockLeak)
	// A lead of a delta that is open leaves its diodes without a winding.
	dead := func(k int) bool { return c.Winding == Delta && c.Changes.LeadOpen[k] }
	put := func(anode, cathode int, j *junction, ch Change, gone bool) {
		if ch.Open || gone {
			j = nil
		}
		m.diodes = append(m.diodes, meshDiode{anode, cathode, j, ch.Across})
	}
	for k := range 3 {
		put(m.leg[k], m.output, &main, c.Changes.Main[k], dead(k))
	}
	for k := range 3 {
		put(ground, m.leg[k], &main, c.Changes.Main[k+3], dead(k))
	}
	m.mains = len(m.diodes)
	if c.StarDiodes {
		put(m.star, m.output, &main, c.Changes.Star[0], false)
		put(ground, m.star, &main, c.Changes.Star[1], false)
	}
	if f := c.Field; f != nil {
		small := newJunction(f.Diode.Saturation, f.Diode.Emission*thermalVolts, f.Diode.Ohms, blockLeak)
		for k := range 3 {
			put(m.leg[k], m.dplus, &small, c.Changes.Field[k], dead(k))
		}
		m.conductance(m.dplus, ground, f.Siemens+blockLeak)
		m.held[m.dplus] = f.Siemens*f.Behind - f.Amps
	}
	for k := range 3 {
		m.conductance(m.leg[k], ground, c.Changes.Earth[k]+blockLeak)
		m.conductance(m.leg[k], m.leg[(k+1)%3], c.Changes.Between[k])
	}
	if m.star != ground {
		m.conductance(m.star, ground, c.Changes.StarEarth+blockLeak)
	}
	if c.SourceOhms > 0 {
		m.conductance(m.output, ground, 1/c.SourceOhms)
		m.held[m.output] += c.Volts / c.SourceOhms
	}
	for _, d := range m.diodes {
		m.conductance(d.anode, d.cathode, d.across)
	}
}

// conductance adds g between two nodes.
func (m *mesh) conductance(p, q int, g float64) {
	couple(&m.lin, p, q, g)
}

func couple(to *[maxMesh][maxMesh]float64, p, q int, g float64) {
	if p != ground {
		to[p][p] += g
	}
	if q != ground {
		to[q][q] += g
	}
	if p != ground && q != ground {
		to[p][q] -= g
		to[q][p] -= g
	}
}

// windings are the three windings' implicit step: i = g (e + v_from - v_to) + q i0.
type windings struct {
	g, q [3][3]float64
	// The same as node conductances, with what is constant beside it.
	base [maxMesh][maxMesh]float64
}

// windings works out a step of the given width [s]; 0 is the standing state,
// in which inductance does not count.
func (m *mesh) windings(c *Build, width float64) *windings {
	w := &windings{base: m.lin}
	var z, l [3][3]float64
	zero := c.ZeroHenries
	if zero == 0 {
		zero = c.Henries
	}
	mutual := (zero - c.Henries) / 3
	for k := range 3 {
		for j := range 3 {
			if width > 0 && !m.open[k] && !m.open[j] {
				l[k][j] = mutual / width
			}
		}
		if m.open[k] {
			z[k][k] = 1
			continue
		}
		if width > 0 {
			l[k][k] += c.Henries / width
		}
		z[k][k] = m.ohms[k]
	}
	for k := range 3 {
		for j := range 3 {
			z[k][j] += l[k][j]
		}
	}
	w.g = inverse3(&z)
	for k := range 3 {
		if m.open[k] {
			w.g[k] = [3]float64{}
		}
		for j := range 3 {
			for n := range 3 {
				w.q[k][j] += w.g[k][n] * l[n][j]
			}
		}
	}
	for k := range 3 {
		for j := range 3 {
			for _, p := range [2]struct {
				node int
				sign float64
			}{{m.from[k], 1}, {m.to[k], -1}} {
				for _, q := range [2]struct {
					node int
					sign float64
				}{{m.from[j], 1}, {m.to[j], -1}} {
					w.base[p.node][q.node] += p.sign * q.sign * w.g[k][j]
				}
			}
		}
	}
	return w
}

// inverse3 inverts a symmetric positive definite matrix by cofactors.
func inverse3(a *[3][3]float64) (b [3][3]float64) {
	cof := func(i, j int) float64 {
		r, s, p, q := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return a[r][p]*a[s][q] - a[r][q]*a[s][p]
	}
	det := a[0][0]*cof(0, 0) + a[0][1]*cof(0, 1) + a[0][2]*cof(0, 2)
	for i := range 3 {
		for j := range 3 {
			b[i][j] = cof(j, i) / det
		}
	}
	return b
}

// greatest is the largest conductance that rounding of a voltage goes through.
func (m *mesh) greatest(c *Build) float64 {
	g := 1 / c.Diode.Ohms
	if c.Field != nil {
		g = max(g, 1/c.Field.Diode.Ohms, c.Field.Siemens)
	}
	for k := range m.n {
		g = max(g, math.Abs(m.lin[k][k]))
	}
	return g
}
