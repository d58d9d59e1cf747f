package circuit

// Compiled is a network with its elimination program. It is safe to share;
// every goroutine takes its own Solver.
//
// Only the nodes on which a device or the control hangs are iterated on: what
// the resistors between them do is linear, so the inner nodes are eliminated
// once per solve and Newton works on the rest.
type Compiled struct {
	net  *Network
	prog *program // the whole elimination, inner nodes first
	core *program // its last part: outer nodes and own unknowns
	nn   int      // nodes without the reference
	n    int      // unknowns: inner nodes, outer nodes, own unknowns
	ni   int      // inner nodes
	nk   int      // parameters and figures of all devices
	ng   int      // their gradients
	pos  []int32  // unknown of each node; -1 for the reference
	res  []resStamp
	devs []devStamp
	// loop is the core's unknown that Feeds named, loopRow its equation's places; -1 and none.
	loop    int
	loopRow []entry
}

type resStamp struct {
	a, b           int32 // unknowns, -1 for the reference
	aa, ab, ba, bb int32 // places, -1 where an end is the reference
	p              Param
}

type devStamp struct {
	placed
	n, np int
	prep  Preparer // nil where it is none
	g     int      // where its gradient stands in Solver.lg
	k     int      // where its parameters and figures begin in Solver.own
	nk    int      // how many figures it has
	x     []int32  // place of each local variable among the core's unknowns, -1 for the reference
	at    []int32  // place in core of each local Jacobian entry, -1 where it falls on the reference
}

// Compile checks the network and orders the elimination.
func (n *Network) Compile() (*Compiled, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	c := &Compiled{net: n, nn: len(n.names) - 1}
	c.n = c.nn + n.nOwn
	c.sort()
	pat, line := newPattern(c.n), newPattern(c.n)
	for _, r := range n.res {
		a, b := int(c.pos[r.a]), int(c.pos[r.b])
		pat.add(a, b)
		line.add(a, b)
	}
	for _, d := range n.devs {
		s := c.local(d)
		for _, i := range s.x {
			for _, j := range s.x {
				if i >= 0 && j >= 0 {
					pat.add(c.ni+int(i), c.ni+int(j))
				}
			}
		}
		c.devs = append(c.devs, s)
	}
	c.prog, c.core = compile(pat, line, c.ni)
	c.place()
	c.placeLoop()
	return c, nil
}

// sort puts the nodes that only resistors touch first.
func (c *Compiled) sort() {
	outer := make([]bool, c.nn+1)
	for _, d := range c.net.devs {
		for _, t := range d.terms {
			outer[t] = true
		}
	}
	for _, ctl := range c.net.ctls {
		outer[ctl.Plus], outer[ctl.Minus] = true, true
	}
	c.pos = make([]int32, c.nn+1)
	c.pos[0] = -1
	at := int32(0)
	for _, want := range []bool{false, true} {
		for k := 1; k <= c.nn; k++ {
			if outer[k] == want {
				c.pos[k] = at
				at++
			}
		}
		if !want {
			c.ni = int(at)
		}
	}
}

func (c *Compiled) local(d placed) devStamp {
	nt, nu, np := d.dev.Size()
	s := devStamp{placed: d, n: nt + nu, np: np, k: c.nk, g: c.ng}
	if prep, ok := d.dev.(Preparer); ok {
		s.prep, s.nk = prep, prep.Figures()
	}
	c.nk += s.np + s.nk
	c.ng += s.n * s.np
	for _, t := range d.terms {
		at := int32(-1)
		if t > 0 {
			at = c.pos[t] - int32(c.ni)
		}
		s.x = append(s.x, at)
	}
	for u := range nu {
		s.x = append(s.x, int32(c.nn-c.ni+d.u+u))
	}
	return s
}

func (c *Compiled) place() {
	at := func(g *program, i, j int32) int32 {
		if i < 0 || j < 0 {
			return -1
		}
		return g.place[i][j]
	}
	for _, r := range c.net.res {
		a, b := c.pos[r.a], c.pos[r.b]
		c.res = append(c.res, resStamp{a, b, at(c.prog, a, a), at(c.prog, a, b), at(c.prog, b, a), at(c.prog, b, b), r.p})
	}
	for k := range c.devs {
		s := &c.devs[k]
		for _, i := range s.x {
			for _, j := range s.x {
				s.at = append(s.at, at(c.core, i, j))
			}
		}
	}
}

// Flops counts the arithmetic of one factorisation and one solve, read off the
// compiled program.
func (c *Compiled) Flops() int { return c.prog.flops }

// StepFlops counts the arithmetic of one Newton step, in which only the outer
// unknowns move.
func (c *Compiled) StepFlops() int { return c.core.flops }

// Unknowns returns the length of a solution vector: nodes, then own unknowns.
func (c *Compiled) Unknowns() int { return c.n }

// At returns where a node stands in the solution vector, -1 for the reference.
func (c *Compiled) At(n Node) int { return int(c.pos[n]) }

// Own returns where a device's own unknown stands in the solution vector.
func (c *Compiled) Own(u int) int { return c.nn + u }

// Network returns the description that was compiled.
func (c *Compiled) Network() *Network { return c.net }

// placeLoop finds the equation of the branch that feeds itself.
func (c *Compiled) placeLoop() {
	c.loop = -1
	if c.net.loop == 0 || len(c.net.ctls) == 0 {
		return
	}
	c.loop = c.nn - c.ni + c.net.loop - 1
	for j, at := range c.core.place[c.loop] {
		if at >= 0 {
			c.loopRow = append(c.loopRow, entry{int32(c.loop), int32(j), at})
		}
	}
}
