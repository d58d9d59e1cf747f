// Package fit finds a machine that a service manual's few figures describe: it
// reads a figures file, moves the free figures of a library system until the
// model gives what the manual gives, and writes a system file of it, with what
// each figure misses by and what the figures leave open.
//
// It measures nothing and passes nothing off as measured: a fitted figure has
// the basis computed and names the pages that it follows from. Figures that do
// not go together are named, and then no file comes out unless it is asked for.
//
// Open figures.go for what a figures file says, unknowns.go for what is free,
// predict.go for what the model gives, least.go for the optimiser,
// docs/models/fit.md for equations and choices.
package fit
