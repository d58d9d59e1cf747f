package machine

// At returns the current [A] at a voltage across junction and series resistance [V],
// with its slope [S].
func (d Diode) At(v float64) (i, g float64) {
	j := newJunction(d.Saturation, d.Emission*thermalVolts, d.Ohms, 0)
	return j.at(v)
}
