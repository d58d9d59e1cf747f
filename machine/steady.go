package machine

import (
	"errors"
	"fmt"
	"math"
)

// OperatingPoint is one machine at one operating point, for the time-domain solver.
type OperatingPoint struct {
	EMF        float64 // peak, line to neutral [V]
	Omega      float64 // electrical [rad/s]
	Ohms       float64 // winding, per phase [Ohm]
	Henries    float64 // winding, per phase [H]
	Volts      float64 // held at the output behind SourceOhms [V]
	SourceOhms float64 // between the output terminal and Volts [Ohm]
	Diode      Diode
	Bridge     Bridge
	// Third and Fifth are EMF harmonics as fractions of the fundamental, in
	// phase with it.
	Third, Fifth float64
	Steps        int  // per period; 0 takes DefaultSteps
	Wave         bool // keep the output current's samples
}

// DefaultSteps is the number of steps in a period. It is prime: multiples of
// six lock onto the commutation instants and converge unevenly.
const DefaultSteps = 727

// Output is one of the figures a table holds.
type Output int

// The outputs of a table, all of the output (DC side) current.
const (
	Mean   Output = iota // [A]
	Order1               // peak amplitude at the electrical frequency [A]
	Order2               // at 2, 3, 4, 6 and 12 times that
	Order3
	Order4
	Order6
	Order12
	PeakToPeak // [A]
	ACRms      // rms of the alternating part [A]
	NumOutputs
)

var outputNames = [NumOutputs]string{
	"mean", "order-1", "order-2", "order-3",
	"order-4", "order-6", "order-12", "peak-to-peak", "ac-rms",
}

// String returns the output's name in a table's header.
func (o Output) String() string {
	if o < 0 || o >= NumOutputs {
		return fmt.Sprintf("output %d", int(o))
	}
	return outputNames[o]
}

var orders = [6]int{1, 2, 3, 4, 6, 12}

// Steady is the periodic solution of an OperatingPoint.
type Steady struct {
	Out [NumOutputs]float64 // [A], indexed by Output
	// Phase of orders 1 and 2 [rad]: the component is Out*cos(n*theta + Phase)
	// with phase A's EMF at sin(theta).
	Phase   [2]float64
	RMS     [3]float64 // phase currents [A]
	Peak    [3]float64 // largest magnitude of the phase currents [A]
	Periods int        // integrated until the currents repeated
	Wave    []float64  // output current [A], Steps samples of one period, if asked for
}

// Problems found in an operating point, joined into one error.
func (c *OperatingPoint) check() error {
	var problems []error
	need := func(ok bool, what string, got float64) {
		if !ok || math.IsNaN(got) || math.IsInf(got, 0) {
			problems = append(problems, fmt.Errorf("machine: operating point: %s, not %g", what, got))
		}
	}
	need(c.EMF > 0, "EMF must be above 0 V (a machine without EMF delivers nothing: do not solve it)", c.EMF)
	need(c.Omega > 0, "Omega must be above 0 rad/s", c.Omega)
	need(c.Ohms >= 0, "Ohms must be 0 or more", c.Ohms)
	need(c.Henries > 0, "Henries must be above 0", c.Henries)
	need(true, "Volts must be a number", c.Volts)
	need(c.SourceOhms >= 0, "SourceOhms must be 0 or more", c.SourceOhms)
	need(c.Diode.Saturation > 0, "diode saturation current must be above 0 A", c.Diode.Saturation)
	need(c.Diode.Emission > 0, "diode emission must be above 0", c.Diode.Emission)
	need(c.Diode.Ohms > 0, "diode resistance must be above 0 Ohm (a micro-ohm will do)", c.Diode.Ohms)
	need(c.Steps == 0 || c.Steps >= 48, "Steps must be 0 or at least 48", float64(c.Steps))
	return errors.Join(problems...)
}

// SteadyState returns the periodic steady state at c. The error joins everything
// that is wrong with the point, or says that the currents did not
// repeat; then try more steps.
func SteadyState(c OperatingPoint) (Steady, error) {
	if err := c.check(); err != nil {
		return Steady{}, err
	}
	return steady(c, c.Diode.Emission*thermalVolts)
}

// periodicTo is how well the phase currents must repeat after a period, as a
// share of the short-circuit current E/wL. The halving of steps makes the period
// map jump by some 1e-6 of it, so asking for much more would turn in circles.
// maxPeriods bounds the search; 2 to 10 are usual.
const (
	periodicTo = 1e-5
	maxPeriods = 200
)

// steady solves c with nvt in place of emission and temperature.
func steady(c OperatingPoint, nvt float64) (Steady, error) {
	if c.Steps == 0 {
		c.Steps = DefaultSteps
	}
	b := newBridgeSolver(&c, nvt)
	scale := c.EMF / (c.Omega * c.Henries)
	start, end := b.guess(), [3]float64{}
	var search shooter
	for n := 1; n <= maxPeriods; n++ {
		if err := b.period(&start, &end); err != nil {
			return Steady{}, fmt.Errorf("machine: %g V EMF at %g rad/s against %g V: %w", c.EMF, c.Omega, c.Volts, err)
		}
		miss := max(math.Abs(end[0]-start[0]), math.Abs(end[1]-start[1]), math.Abs(end[2]-start[2]))
		if miss < periodicTo*scale {
			return b.summary(n), nil
		}
		start = search.next(&start, &end, miss, &b.sens)
	}
	return Steady{}, fmt.Errorf("machine: phase currents did not repeat within %d periods: raise Steps above %d", maxPeriods, c.Steps)
}
