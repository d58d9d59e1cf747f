// Package diagnosis turns readings into probabilities of faults.
//
// A hypothesis is a fault (or a pair, or none); under each the free parameters
// and the fault's magnitude are fitted to the readings, and the evidence is the
// integral around the fit (Laplace), summed over magnitude components and over
// which readings are taken as wrong. "None of these" is a hypothesis of its
// own. A Belief is immutable: With returns a new one, so that a reading can be
// tried before it is saved.
//
// The method was measured against importance sampling before it was chosen; see
// docs/models/inference.md. It refuses a reading without any value taken.
//
// Open belief.go for the types, fit.go for one fit, update.go for what a new
// reading does, explain.go for suspects and evidence.
package diagnosis
