// Package circuit finds the DC operating point of a small network that is
// solved very often with changed values and an unchanged topology, and the
// sensitivity of any node voltage to every parameter.
//
// It knows no vehicles: an alternator, a battery or a regulator is a Device
// written elsewhere. It refuses networks with a part that no element joins to
// the reference, and answers *NoSolution, naming the worst node, where the
// convergence ladder ends.
//
// Open network.go first (how a network is described), then compile.go (which
// unknowns Newton works on, decision 012), newton.go, solve.go, control.go (the
// duty of a regulator as an outer unknown) and adjoint.go.
//
// Sources: modified nodal analysis as in any circuit text; ordering after
// Markowitz 1957; adjoint sensitivities after Director and Rohrer 1969; damping
// by the natural monotonicity test after Deuflhard 1974 (citations: memory).
package circuit
