package oracle

import "math"

// Tiger is the two-door problem: listening costs, names the right door with a
// given accuracy, and opening a door ends the round and starts a new one.
type Tiger struct {
	Listen, Right, Wrong float64 // rewards
	Accuracy, Discount   float64
}

// Value is the worth of a round with nothing heard yet. What has been heard
// only counts by its difference, right less left, so the beliefs form a chain;
// it is cut where one more answer changes nothing in double precision.
func (t Tiger) Value() float64 {
	const reach = 30
	v := make([]float64, 2*reach+1)
	at := func(k int) float64 { return v[max(-reach, min(reach, k))+reach] }
	belief := func(k int) float64 { // that the tiger is on the left
		a, b := math.Pow(t.Accuracy, float64(k)), math.Pow(1-t.Accuracy, float64(k))
		return a / (a + b)
	}
	for range 100000 {
		worst := 0.0
		next := make([]float64, len(v))
		for k := -reach; k <= reach; k++ {
			p := belief(k)
			left := p*t.Wrong + (1-p)*t.Right + t.Discount*at(0)
			right := (1-p)*t.Wrong + p*t.Right + t.Discount*at(0)
			hear := p*t.Accuracy + (1-p)*(1-t.Accuracy)
			listen := t.Listen + t.Discount*(hear*at(k+1)+(1-hear)*at(k-1))
			next[k+reach] = max(left, right, listen)
			worst = math.Max(worst, math.Abs(next[k+reach]-v[k+reach]))
		}
		v = next
		if worst < 1e-13 {
			break
		}
	}
	return v[reach]
}
