// Package prediction compiles a system into its circuit and answers what every
// test reads under a hypothesis, with the derivative of each reading with
// respect to every free parameter.
//
// Free parameters are whitened: z has mean 0 and variance 1 in every
// coordinate. A fault changes quantities and resistances, never the solver.
// The package refuses a question that cannot be answered in its setup (amps
// through nothing, ohms on a live path) with the reason.
//
// Open model.go for how a system becomes a circuit, assemble.go for how z, a
// fault and a hook-up become numbers, read.go for how a reading is taken.
package prediction
