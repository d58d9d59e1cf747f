package web

import "testing"

// TestSystemPageNamesEveryMachine: an arrangement with two alternators and two
// batteries is shown with both of each, one with one with none of a second.
func TestSystemPageNamesEveryMachine(t *testing.T) {
	s := theShop(t)
	s.get(t, "/systems/coach-24").want(t, 200, "<dt>Alternator</dt>", "<dt>Second alternator</dt>", "<dt>Second regulator</dt>", "<dt>Front battery</dt>", "<dt>Rear battery</dt>")
	s.get(t, "/systems/split-charge").want(t, 200, "<dt>Starter battery</dt>", "<dt>Second battery</dt>")
	s.get(t, "/systems/"+theSystem).want(t, 200, "<dt>Alternator</dt>", "<dt>Battery</dt>").without(t, "Second alternator")
}
