// Package machine models the alternator: a three-phase winding behind its
// rectifier, its rotor, and what a rectifier or stator fault does to output and
// ripple.
//
// There are two views of the same machine. In the time domain SteadyState
// integrates a star winding and six diodes until the currents repeat; it makes the
// tables. Run does the same for any Build: delta windings, diodes at the star
// point, field diodes with D+, changes at any element; a Description is a Build read
// from a machine file. For the operating-point solver Alternator is the
// circuit.Device that looks its current up in the tables, one for each Pattern;
// NineDiode is the one with field diodes and a terminal D+.
//
// The package refuses what it cannot answer: a point without inductance or diode
// resistance, a field current that no measured point brackets, a table file that
// is not whole, a machine whose currents do not settle. It knows no vehicle, no
// fault and no regulator: a fault reaches it as a changed parameter, another
// pattern or a changed element.
//
// Open alternator.go and nine.go first for the devices, steady.go and run.go for the
// physics, describe.go for the file, docs/models/machine.md for equations, sources and
// accuracy.
package machine

//go:generate go run ./tablegen
//go:generate go run ./tablegen/dplus
//go:generate go run ./tablegen/part
//go:generate go run ./tablegen/delta
