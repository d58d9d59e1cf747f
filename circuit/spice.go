package circuit

import (
	"fmt"
	"io"
	"strings"
)

// Spicer is a Device that can write itself as lines of a SPICE netlist that
// give the same currents at the same parameters.
type Spicer interface {
	Spice(name string, nodes []string, p []float64) []string
}

// Netlist writes the network at the parameters p as a SPICE netlist with an
// operating-point analysis: the same resistances, the same leaks, and every
// device's own lines. Node 0 is the reference. A device that cannot write
// itself is named in the returned problem.
func (c *Compiled) Netlist(w io.Writer, title string, p []float64) error {
	fmt.Fprintf(w, "* %s\n", title)
	name := func(n Node) string { return c.SpiceNode(n) }
	for i, r := range c.net.res {
		fmt.Fprintf(w, "R%d %s %s %.17g ; %s\n", i, name(r.a), name(r.b), p[r.p], r.name)
	}
	for i := 1; i <= c.nn; i++ {
		fmt.Fprintf(w, "Rleak%d %s 0 %.17g\n", i, name(Node(i)), 1/Leak)
	}
	for _, d := range c.devs {
		sp, ok := d.dev.(Spicer)
		if !ok {
			return fmt.Errorf("circuit: %s has no SPICE form: export a network built with its stand-in", d.name)
		}
		nodes := make([]string, len(d.terms))
		for i, t := range d.terms {
			nodes[i] = name(t)
		}
		lp := make([]float64, len(d.params))
		for i, q := range d.params {
			lp[i] = p[q]
		}
		fmt.Fprintf(w, "* %s\n%s\n", d.name, strings.Join(sp.Spice(spiceName(d.name), nodes, lp), "\n"))
	}
	return nil
}

// SpiceNode is the name of a node in the netlist: 0 for the reference, else n_
// and the point's id with only letters, digits and underscores.
func (c *Compiled) SpiceNode(n Node) string {
	if n == 0 {
		return "0"
	}
	return "n_" + spiceName(c.net.names[n])
}

func spiceName(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '_'
	}, s)
}

// Spice implements Spicer.
func (EMF) Spice(name string, n []string, p []float64) []string {
	return []string{
		fmt.Sprintf("V%s %s e_%s DC %.17g", name, n[0], name, p[0]),
		fmt.Sprintf("R%s e_%s %s %.17g", name, name, n[1], p[1]),
	}
}

// Spice implements Spicer.
func (Source) Spice(name string, n []string, p []float64) []string {
	return []string{fmt.Sprintf("I%s %s %s DC %.17g", name, n[1], n[0], p[0])}
}

// Spice implements Spicer. The temperature is 27 C, where kT/q is 25.8649 mV
// in SPICE (program: ngspice 39, read off a junction at 27 C).
func (Diode) Spice(name string, n []string, p []float64) []string {
	const vt = 0.02586491700715746
	return []string{
		fmt.Sprintf(".model M%s D(IS=%.17g N=%.17g RS=%.17g)", name, p[0], p[1]/vt, p[2]),
		fmt.Sprintf("D%s %s %s M%s", name, n[0], n[1], name),
	}
}
