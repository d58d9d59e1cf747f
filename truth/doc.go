// Package truth holds hidden vehicles that answer questions: what a benchmark,
// a demonstration or an exercise asks instead of a car.
//
// There are four of them. Table is the product's own model with drawn figures, Timed
// the same with its machine solved in the time domain instead of looked up.
// Spice is the whole vehicle as a transient netlist for an independent circuit
// simulator, with the machine in the time domain and, if wanted, other physics
// than ours. Stored replays runs of Spice from a fixture, so that nothing but
// the fixture is needed. Meter puts an instrument and the technician's slips
// between any of them and the asker.
//
// The package runs no program and reads no file: Spice is handed what runs the
// simulator, Stored the bytes. It refuses a setup that was not stored. What the
// other physics are and what they are worth: docs/models/truth.md.
//
// Open answerer.go first, then netlist.go for how a vehicle becomes a netlist
// and settle.go for how a run becomes an answer.
package truth
