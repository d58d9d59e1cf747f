package regulator

// senseOhms is what the sensing divider takes, sense to case, 12 V set [Ohm]:
// 6 mA (memory).
const senseOhms = 2000

// positions in Sensing's x and f; the first three are those of Device.
const (
	sense = iota + ground + 1
	sensingCurrent
	sensingSize
)

// Sensing is the output stage of Device with a third wire: the freewheel diode
// and the sensing divider hang on the sense terminal, which the machine's own
// output feeds, and the supply terminal only wakes it. It is a circuit.Device
// with the terminals supply, field, case and sense, and one unknown, the
// current [A] into the field terminal.
type Sensing struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// Healthy returns the parameters of an output stage in order at a duty.
func (Sensing) Healthy(duty float64) []float64 { return Device{}.Healthy(duty) }

// Size returns four terminals (supply, field, case, sense), one unknown (the
// current into the field terminal [A]) and the parameters of Device.
func (Sensing) Size() (terminals, unknowns, params int) { return 4, 1, Params }

// at evaluates the output stage as Device does; y is x as Device has it.
func (d Sensing) at(x, p []float64) (c stage, y [size]float64) {
	y = [size]float64{x[supply], x[field], x[ground], x[sensingCurrent]}
	return Device(d).at(y[:], p), y
}

// back is the field terminal's voltage while the freewheel diode conducts.
func (c stage) back(to, i float64) float64 { return to + c.fw*c.s + c.fwo*i - blocking*c.n }

// Stamp writes the terminal currents and the residual
// V_field - D V_low - (1-D) V_high = 0.
func (d Sensing) Stamp(x, p, f, jac []float64) {
	c, y := d.at(x, p)
	i, low, high := x[sensingCurrent], c.low(y[:]), c.back(x[sense], x[sensingCurrent])
	const divider = 1.0 / senseOhms
	own, looks := ownDraw*(x[supply]-x[ground]), divider*(x[sense]-x[ground])
	f[supply] = own
	f[field] = i
	f[ground] = -own - looks - c.d*i
	f[sense] = looks - (1-c.d)*i
	f[sensingCurrent] = x[field] - c.d*low - (1-c.d)*high

	put := func(row int, bySupply, byField, byGround, bySense, byCurrent float64) {
		copy(jac[row*sensingSize:], []float64{bySupply, byField, byGround, bySense, byCurrent})
	}
	turn := c.dSupply // d D by supply; by case it is the opposite
	put(supply, ownDraw, 0, -ownDraw, 0, 0)
	put(field, 0, 0, 0, 0, 1)
	put(ground, -ownDraw-turn*i, 0, ownDraw+divider+turn*i, -divider, -c.d)
	put(sense, turn*i, 0, -divider-turn*i, divider, -(1 - c.d))
	put(sensingCurrent,
		turn*(high-low), 1, -turn*(high-low)-c.d, -(1 - c.d),
		-c.d*(c.drop*c.ds+c.on)-(1-c.d)*(c.fw*c.ds+c.fwo-blocking*c.dn))
}

// Grad writes the derivatives of Stamp's f by the parameters.
func (d Sensing) Grad(x, p, dfdp []float64) {
	c, y := d.at(x, p)
	i := x[sensingCurrent]
	dfdp[sense*Params+Duty] = c.dDuty * i
	dfdp[ground*Params+Duty] = -c.dDuty * i
	own := dfdp[sensingCurrent*Params : (sensingCurrent+1)*Params]
	own[Duty] = c.dDuty * (c.back(x[sense], i) - c.low(y[:]))
	own[Drop] = -c.d * c.s * c.dDrop
	own[OnOhms] = -c.d * i * c.dOn
	own[Freewheel] = -(1 - c.d) * c.s * c.dFw
	own[FreewheelOhms] = -(1 - c.d) * i * c.dFwo
}
