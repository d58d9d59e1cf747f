// Package chargewright is the root of the module and holds nothing but this
// comment and house_test.go, which keeps the house: import order, what may
// touch clock, disk and network, sizes of functions and files.
//
// It refuses to hold code: a shared word lives with the package that owns it
// (a State in rig, a Question in question, a System in system). Open
// ARCHITECTURE.md first for the way of one reading through the packages, then
// cmd/chargewright for the program.
package chargewright
