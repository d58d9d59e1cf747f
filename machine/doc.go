// Package machine models the alternator: a three-phase star winding behind a
// six-diode bridge, its rotor, and what a rectifier or stator fault does to
// output and ripple.
//
// There are two views of the same machine. SteadyState integrates the winding
// and the diodes in time until the currents repeat; it makes the tables and
// serves anyone who needs a waveform. Alternator is the circuit.Device for the
// operating-point solver; it looks its current up in tables that tablegen made
// with SteadyState, one for each Pattern.
//
// The package refuses what it cannot answer: an operating point without EMF,
// inductance or diode resistance, a table file that is not whole, a bridge whose
// currents do not settle. It knows no vehicle, no fault and no regulator: a
// fault reaches it as a changed parameter or another pattern.
//
// Open alternator.go first for the device, steady.go for the physics,
// docs/models/machine.md for equations, sources and accuracy.
package machine

//go:generate go run ./tablegen
