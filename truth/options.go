package truth

// Options say which physics a netlist has. The zero value has that of the
// product's own model, so that one netlist serves as a check of the model and,
// with Other, as a vehicle that the model does not know.
type Options struct {
	// The machine.
	Third, Fifth   float64 // EMF harmonics, shares of the fundamental
	InductanceFall float64 // share that phase inductance loses from no field to full field
	SlipWithTorque float64 // share of the belt's slip that grows with torque; 0 = constant

	// The battery.
	Polarisation float64 // times polarisation voltage; 0 = 1
	GassingFold  float64 // times the volts for e-fold gassing; 0 = 1
	GassingFast  bool    // gassing follows ripple instead of the mean voltage
	DoubleLayer  float64 // capacitance that carries ripple past the polarisation [F]; 0 = 1

	// The regulator.
	HardCorners bool // its band ends sharply

	// The hand that holds speed, volts and load, and the meter the hand goes by.
	// Standard deviations; drawn once for each setup.
	HandSpeed float64 // share
	HandVolts float64 // [V]
	HandAmps  float64 // share

	// Stud resistance to the case with the machine turning [Ohm]; 0 = our model's.
	StudOhms float64

	TurnSteps float64 // time steps in a turn at least; 0 = 200. 120 cost 0.1 % of output [measured]

	// Resting starts from no field instead of full field: where the regulator
	// has two answers it finds the other one.
	Resting bool
}

// Other returns the physics of the stress set. Basis: shapes from machine and
// battery texts (memory); sizes chosen to be as wrong as our model may well be
// (invented), argued in docs/models/truth.md.
func Other() Options {
	return Options{
		Third: 0.08, Fifth: 0.03, InductanceFall: 0.20, SlipWithTorque: 0.5,
		Polarisation: 1.2, GassingFold: 1.3, GassingFast: true, DoubleLayer: 0.3,
		HardCorners: true, HandSpeed: 0.01, HandVolts: 0.05, HandAmps: 0.03,
		StudOhms: 3e3, TurnSteps: 120,
	}
}

// or returns x, or what stands for nothing given.
func or(x, otherwise float64) float64 {
	if x == 0 {
		return otherwise
	}
	return x
}
