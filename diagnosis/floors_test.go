package diagnosis

import (
	"math"
	"testing"
	"time"
)

// TestNobodyWaitsForWhatIsNoNumber: a fit that comes to no number has ended all the same,
// and counts for nothing in the floors of those after it. The floor that is asked for rests on
// what stood before the row, e^0, and on two fits: one of e^0, and one that is no number. That
// is 2, times what counts (closed form).
func TestNobodyWaitsForWhatIsNoNumber(t *testing.T) {
	b := &Belief{LogNone: 0}
	r := newFloors(b, make([]int, behind+3))
	got := make(chan float64, 1)
	go func() { got <- r.of(behind + 2) }()
	r.done(1, &Hyp{LogEvidence: math.NaN()})
	r.done(0, &Hyp{})
	select {
	case f := <-got:
		if want := math.Log(2) + math.Log(counted); math.Abs(f-want) > 1e-12 {
			t.Errorf("the floor is %g, want %g", f, want)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("a floor waits for a fit that has ended")
	}
}
