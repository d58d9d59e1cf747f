package prediction

import "math"

// loadTester is the adjustable load across the battery: a current that the
// technician sets, plus what it takes to hold the battery at a voltage when
// they hold volts. Parameters: amps [A], hold volts [V] (far above any battery
// when volts are not held). The hand's own slackness is a droop of 1 mOhm and
// a soft start 1 A wide (invented; it only has to be smooth and stiff).
type loadTester struct{}

const (
	testerAmps = iota
	testerHold
)

const (
	holdDroop = 0.001 // [Ohm]
	holdSoft  = 0.001 // [V], 1 A wide at the droop
	notHeld   = 1000  // [V]
	testerOn  = 2.0   // [V] below which a load tester draws less and less
)

// Size implements circuit.Device.
func (loadTester) Size() (terminals, unknowns, params int) { return 2, 0, 2 }

func testerCurrent(v float64, p []float64) (i, di, dAmps, dHold float64) {
	t := v / testerOn
	root := math.Sqrt(1 + t*t)
	k := t / root // resistive when flat, constant current when not
	dk := 1 / (testerOn * root * root * root)
	x := v - p[testerHold]
	r := math.Sqrt(x*x + 4*holdSoft*holdSoft)
	soft, dsoft := 2*holdSoft*holdSoft/(r-x), (1+x/r)/2
	if x > 0 {
		soft = (x + r) / 2
	}
	return p[testerAmps]*k + soft/holdDroop, p[testerAmps]*dk + dsoft/holdDroop, k, -dsoft / holdDroop
}

// Stamp implements circuit.Device.
func (loadTester) Stamp(x, p, f, jac []float64) {
	i, di, _, _ := testerCurrent(x[0]-x[1], p)
	f[0], f[1] = i, -i
	jac[0], jac[1], jac[2], jac[3] = di, -di, -di, di
}

// Grad implements circuit.Device.
func (loadTester) Grad(x, p, dfdp []float64) {
	_, _, a, h := testerCurrent(x[0]-x[1], p)
	dfdp[0], dfdp[1], dfdp[2], dfdp[3] = a, h, -a, -h
}
