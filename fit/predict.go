package fit

import (
	"math"

	"chargewright/battery"
	"chargewright/machine"
	"chargewright/unit"
)

// Temperature of copper: 0.00393 1/K at 20 degC (handbook of industrial power
// engineering p. 970, read). The library's stator-ohms are "warm": 70 degC is
// taken (memory, rough: 20 K more or less is 7 % of them).
const (
	copperSlope = 0.00393
	copperAt    = unit.ZeroCelsius + 20
	warmStator  = unit.ZeroCelsius + 70
)

// copper is the resistance at a temperature over that at 20 degC.
func copper(kelvin float64) float64 { return 1 + copperSlope*(kelvin-copperAt) }

// regulatorAt is where set-points are stated [K].
const regulatorAt = unit.ZeroCelsius + 27

// coldCranking is the temperature of that test [K]: -18 degC (SAE J537, read in
// a technician study guide).
const coldCranking = unit.ZeroCelsius - 18

// Shares of a figure that the model may be wrong by, one standard deviation; they
// stand beside the manual's tolerance. Output and cut-in: tables 0.7 % off the
// time domain (docs/models/machine.md), a constant inductance where a real one
// falls with field current (3 % in prediction, invented). Cold cranking: the law
// of a battery's resistance against temperature is memory.
var modelShare = map[Kind]float64{Output: 0.02, CutIn: 0.02, ColdCranking: 0.15}

// plant is what predicts: the figures file's fixed figures.
type plant struct {
	nominal  float64 // [V]
	poles    float64
	pulley   float64
	residual float64
	diode    machine.Diode
	bat      battery.Model
	brushes  float64 // ohms of both brushes with their leads [Ohm]
	// lift is how much more the battery has than the regulator senses, by figure.
	lift map[string]float64
}

// predict is what the model gives for a figure.
func (p *plant) predict(v *values, f *Figure) float64 {
	switch f.Kind {
	case Output:
		return p.output(v, f)
	case CutIn:
		return p.cutIn(v, f)
	case FieldCurrent:
		return fieldAmps(f.Volts, v[rotor]*copper(f.Kelvin)+p.brushes, v[brush])
	case Rotor:
		return v[rotor] * copper(f.Kelvin)
	case Stator:
		// Two phases of a star in series; a delta's star equivalent gives the same.
		return 2 * v[stator] * copper(f.Kelvin) / copper(warmStator)
	case Regulated:
		return v[setpoint] + v[slope]*(f.Kelvin-regulatorAt) + p.lift[f.ID]
	case ColdCranking:
		return p.cranking(v, f)
	}
	return math.NaN()
}

// fieldAmps solves volts = ohms i + drop i/sqrt(i^2 + (0.05 A)^2), the rotor of
// docs/models/machine.md. The left side rises with i: Newton from above.
func fieldAmps(volts, ohms, drop float64) float64 {
	i := volts / ohms
	for range 50 {
		root := math.Sqrt(i*i + 0.05*0.05)
		miss := ohms*i + drop*i/root - volts
		step := miss / (ohms + drop*0.05*0.05/(root*root*root))
		i -= step
		if math.Abs(step) < 1e-12*math.Abs(i) {
			break
		}
	}
	return i
}

// field is the field current of an output or cut-in figure [A].
func (p *plant) field(v *values, f *Figure) float64 {
	if f.FieldAmps != nil {
		return *f.FieldAmps
	}
	volts := f.Volts
	if f.FieldVolt != nil {
		volts = *f.FieldVolt
	}
	return fieldAmps(volts, v[rotor]*copper(f.Kelvin)+p.brushes, v[brush])
}

// machineAt is the alternator with its state and parameters for a figure, at
// electrical speed omega before slip.
func (p *plant) machineAt(v *values, f *Figure, omega float64) (*machine.Alternator, []float64, []float64) {
	// The figures are positive and finite within the bounds, so it is never refused.
	m, _ := machine.NewAlternator(p.diode, v.kneeAmps(p.nominal), v[saturation])
	q := make([]float64, machine.NumParams)
	q[machine.Flux], q[machine.Inductance] = v[flux], v[inductance]
	q[machine.StatorOhms] = v[stator] * copper(f.Kelvin) / copper(warmStator)
	q[machine.RotorOhms], q[machine.BrushVolts] = v[rotor]*copper(f.Kelvin), v[brush]
	q[machine.Omega], q[machine.Turns], q[machine.Residual] = omega, 1, p.residual
	if f.Engine {
		q[machine.Slip] = v[slip]
	}
	return m, []float64{f.Volts, 0, f.Volts, 0, p.field(v, f)}, q
}

// electrical is the electrical speed of a figure's speed [rad/s].
func (p *plant) electrical(speed float64, engine bool) float64 {
	if engine {
		speed *= p.pulley
	}
	return speed * p.poles
}

func (p *plant) output(v *values, f *Figure) float64 {
	m, x, q := p.machineAt(v, f, p.electrical(f.Speed, f.Engine))
	amps := m.Ripple(x, q, machine.Mean, nil, nil)
	if f.LessField {
		amps -= x[machine.FieldAmps]
	}
	return amps
}

// cutIn is the speed at which output reaches the figure's amps: output rises
// with speed, so an interval on its logarithm is halved.
func (p *plant) cutIn(v *values, f *Figure) float64 {
	m, x, q := p.machineAt(v, f, 0)
	lo, hi := math.Log(50*rpm*p.poles), math.Log(60000*rpm*p.poles)
	for range 44 { // to 1e-12: differences are taken of it
		mid := (lo + hi) / 2
		q[machine.Omega] = math.Exp(mid)
		if m.Ripple(x, q, machine.Mean, nil, nil) < f.Amps {
			lo = mid
		} else {
			hi = mid
		}
	}
	speed := math.Exp((lo+hi)/2) / p.poles
	if f.Engine {
		speed /= p.pulley
	}
	return speed
}

// cranking is the current at which a new, full battery at -18 degC still has the
// standard's volts. Discharging, its volts fall straight with the current
// (docs/models/battery.md), so two points give the third.
func (p *plant) cranking(v *values, f *Figure) float64 {
	q := p.bat.Healthy(1, coldCranking)
	q[battery.R0] = v[inner]
	res, jac := make([]float64, 3), make([]float64, 9)
	// With the volts held the branch's residual is what they are too many.
	over := func(amps float64) float64 {
		p.bat.Stamp([]float64{f.Volts, 0, -amps}, q, res, jac)
		return res[2]
	}
	const a, b = 10.0, 1010.0
	x, y := over(a), over(b)
	return a - x*(b-a)/(y-x)
}

// timeDomain is an output figure as the time-domain solver gives it: the slow
// oracle of the tables.
func (p *plant) timeDomain(v *values, f *Figure) (float64, error) {
	m, x, q := p.machineAt(v, f, p.electrical(f.Speed, f.Engine))
	s, err := machine.SteadyState(m.Point(x, q))
	if err != nil {
		return 0, err
	}
	amps := s.Out[machine.Mean]
	if f.LessField {
		amps -= x[machine.FieldAmps]
	}
	return amps, nil
}
