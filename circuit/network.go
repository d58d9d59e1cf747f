package circuit

import (
	"fmt"
	"strings"
)

// Node is a node of a network; 0 is the reference.
type Node int

// Param is the place of one number in the parameter vector of a solve.
type Param int

// Leak is the conductance [S] that every node has to the reference: the input
// resistance of a 10 MOhm voltmeter, put on all points at once. It gives a
// point that nothing feeds the potential a meter would show there, and keeps
// the elimination regular without pivoting (docs/decisions/004).
const Leak = 1e-7

// Open is the resistance [Ohm] that stands for an open connection. Behind it a
// point reads Leak*Open*V = V/1000 at most, as good as nothing on a meter.
const Open = 1e10

type resistor struct {
	name string
	a, b Node
	p    Param
}

type placed struct {
	name   string
	dev    Device
	terms  []Node
	params []Param
	u      int // first own unknown, counted after the nodes
}

// Network is a description under construction.
type Network struct {
	names  []string // node names; 0 is the reference
	index  map[string]Node
	res    []resistor
	devs   []placed
	nParam int
	nOwn   int
	ctls   []Control
	loop   int // own unknown of the branch that feeds itself, counted from 1; 0 = none
}

// New starts a network whose reference node has the given name.
func New(reference string) *Network {
	return &Network{names: []string{reference}, index: map[string]Node{reference: 0}}
}

// Node returns the node with the name, adding it when it is new.
func (n *Network) Node(name string) Node {
	if k, ok := n.index[name]; ok {
		return k
	}
	k := Node(len(n.names))
	n.names = append(n.names, name)
	n.index[name] = k
	return k
}

// Find returns a node that exists already.
func (n *Network) Find(name string) (Node, bool) { k, ok := n.index[name]; return k, ok }

// Param reserves the next place in the parameter vector.
func (n *Network) Param() Param {
	n.nParam++
	return Param(n.nParam - 1)
}

// Resistor joins two nodes; its parameter is the resistance [Ohm].
func (n *Network) Resistor(name string, a, b Node) Param {
	p := n.Param()
	n.res = append(n.res, resistor{name, a, b, p})
	return p
}

// Add places a device; it returns the device's first parameter (the others
// follow) and the position in the solution vector of its first own unknown.
func (n *Network) Add(name string, d Device, terms ...Node) (first Param, own int, err error) {
	nt, nu, np := d.Size()
	if len(terms) != nt {
		return 0, 0, fmt.Errorf("circuit: device %s has %d terminals, %d nodes were given", name, nt, len(terms))
	}
	first = Param(n.nParam)
	ps := make([]Param, np)
	for i := range ps {
		ps[i] = n.Param()
	}
	n.devs = append(n.devs, placed{name, d, append([]Node(nil), terms...), ps, n.nOwn})
	own = n.nOwn
	n.nOwn += nu
	return first, own, nil
}

// Control adds an outer unknown: one parameter that a law sets from a voltage. Of
// several the first is the outermost of the search: decision 030.
func (n *Network) Control(c Control) { n.ctls = append(n.ctls, c) }

// Params returns the length of the parameter vector.
func (n *Network) Params() int { return n.nParam }

// Names returns the node names, the reference first.
func (n *Network) Names() []string { return n.names }

// check refuses a network in which an element is missing its ends or a group
// of nodes hangs on nothing but its leak.
func (n *Network) check() error {
	group := make([]int, len(n.names))
	for i := range group {
		group[i] = i
	}
	join := func(a, b Node) { group[root(group, int(a))] = root(group, int(b)) }
	for _, r := range n.res {
		if r.a == r.b {
			return fmt.Errorf("circuit: %s has both ends on %s: give it two different points", r.name, n.names[r.a])
		}
		join(r.a, r.b)
	}
	for _, d := range n.devs {
		for _, t := range d.terms[1:] {
			join(d.terms[0], t)
		}
	}
	if n.loop > 0 && len(n.ctls) > 1 {
		return fmt.Errorf("circuit: a branch that feeds itself is followed with one control, and there are %d: take Feeds away", len(n.ctls))
	}
	var loose []string
	for i := range n.names {
		if root(group, i) != root(group, 0) {
			loose = append(loose, n.names[i])
		}
	}
	if len(loose) > 0 {
		return fmt.Errorf("circuit: nothing joins %s to %s: add the joint or wire that does", strings.Join(loose, ", "), n.names[0])
	}
	return nil
}

// root is the representative of a node's group.
func root(group []int, i int) int {
	for group[i] != i {
		group[i] = group[group[i]]
		i = group[i]
	}
	return i
}
