package regulator

// SelfFed is the output stage of Device built into the machine: its supply is the
// point that feeds the field, D+. Its transistor is driven from there and conducts
// as soon as there is anything to conduct, so no voltage puts it to sleep; a warning
// lamp's tenths of an ampere pass it. Its divider takes 6 mA at the nominal voltage. It is a circuit.Device with the
// terminals supply, field and case, and one unknown, the current [A] into the field terminal.
type SelfFed struct {
	Volts float64 // nominal of the system [V]: 6, 12, 24; 0 means 12
}

// Healthy returns the parameters of an output stage in order at a duty.
func (SelfFed) Healthy(duty float64) []float64 { return Device{}.Healthy(duty) }

// Size returns three terminals (supply, field, case), one unknown (the current
// into the field terminal [A]) and the parameters of Device.
func (SelfFed) Size() (terminals, unknowns, params int) { return 3, 1, Params }

// Stamp writes the terminal currents and the residual of the field terminal's mean
// voltage, as Device does.
func (d SelfFed) Stamp(x, p, f, jac []float64) { stageAt(x, p, 1, 0, d.divider()).stamp(x, f, jac) }

// divider is what the divider conducts [S].
func (d SelfFed) divider() float64 { return 1 / (senseOhms * scale(d.Volts)) }

// Grad writes the derivatives of Stamp's f by the parameters.
func (d SelfFed) Grad(x, p, dfdp []float64) { stageAt(x, p, 1, 0, d.divider()).grad(x, dfdp) }
