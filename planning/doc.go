// Package planning proposes the next safe step: the test, look or repair that
// gets the vehicle right and proved right in the least expected time and money.
//
// A test scores what it is expected to say about which repair is needed, in
// bits, per minute of work, the change of the hook-up counted in. A repair is
// proposed when being wrong about it costs less than another test. Every step
// carries the moves that lead to it from the present hook-up; package rig makes
// an unsafe order impossible. Budgets are counted in work; there is no clock.
//
// Open next.go first, then gain.go for the score and policies.go for the
// baselines that the planner is measured against.
package planning
