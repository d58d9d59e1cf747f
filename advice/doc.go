// Package advice is one call: what is known of a vehicle goes in, and what to
// make of it comes out: a verdict for every reading, the likely causes with
// their odds, what each reading said, and the next safe steps with the hook-up
// that leads to them. The command line, the page, reports and practice all ask
// here, so that they cannot differ.
//
// It does no I/O and has no clock: the same input gives the same advice. It
// refuses, with words, a vehicle that the system cannot stand for (hybrid, other
// volts, other field arrangement). It does not decide: a verdict is for people,
// the odds come from the readings themselves.
//
// Open ask.go first, then prepare.go for what is made once for a system and
// result.go for what an answer holds.
package advice
