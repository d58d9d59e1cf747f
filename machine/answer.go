package machine

import (
	"errors"
	"fmt"
	"math"
)

// Side is what the output terminal works into: an EMF behind a resistance, and
// a load across the terminal.
type Side struct {
	EMF      float64 // of the battery [V]
	Ohms     float64 // between battery and terminal; 0 holds the terminal [Ohm]
	LoadOhms float64 // across the terminal; 0: none [Ohm]
	LoadAmps float64 // drawn on top, whatever the voltage [A]
}

// held is the side as one voltage behind one resistance.
func (s Side) held() (volts, ohms float64) {
	if s.Ohms == 0 {
		return s.EMF, 0
	}
	g := 1 / s.Ohms
	if s.LoadOhms > 0 {
		g += 1 / s.LoadOhms
	}
	return (s.EMF/s.Ohms - s.LoadAmps) / g, 1 / g
}

// Condition is how a described machine is run.
type Condition struct {
	Speed   float64  // of its own shaft [rad/s]
	Field   *float64 // field current [A]; nil: full field, fed by the machine itself
	Side    Side
	Changes Changes
	Wave    bool
}

// Answer is a described machine as it runs.
type Answer struct {
	*Periodic
	Field   float64 // field current [A]
	FedBy   string  // output, D+ or outside
	EMF     float64 // peak of a winding's fundamental [V]
	Omega   float64 // electrical [rad/s]
	Battery float64 // mean current into the battery [A]
	Load    float64 // mean current of the load [A]
	Build   Build
}

// Who feeds the field.
const (
	FedByOutput  = "output"
	FedByDPlus   = "D+"
	FedByOutside = "outside"
)

// ErrNoField says that a field current must be given.
var ErrNoField = errors.New("the machine file has no rotor, so the field current does not follow")

// unfit is a build that cannot be: the figures are wrong, not the search.
type unfit struct{ err error }

func (u *unfit) Error() string { return u.err.Error() }
func (u *unfit) Unwrap() error { return u.err }

// Refused tells an error of the figures from one of the search: other figures
// would help, more steps would not.
func Refused(err error) bool {
	var b *beyond
	var u *unfit
	return errors.As(err, &b) || errors.As(err, &u)
}

// Run works a condition out. Where the machine feeds its own field and more than
// one field current would do, it is the largest.
func (d *Description) Run(c Condition) (*Answer, error) {
	if c.Field == nil && d.RotorOhms == 0 {
		return nil, ErrNoField
	}
	var a *Answer
	var err error
	switch {
	case c.Field != nil:
		a, err = d.at(c, *c.Field, d.fedBy(c))
	case c.Speed == 0:
		a, err = d.still(c)
	default:
		a, err = d.fullField(c)
	}
	if err != nil {
		return nil, err
	}
	return a, c.drawn(a)
}

// drawn refuses what draws more than there is: a current that is held, whatever the
// volts, would take its terminal below the case, which no load and no rotor does.
func (c Condition) drawn(a *Answer) error {
	var problems []error
	if c.Side.LoadAmps > 0 && a.StudVolts.Mean < 0 {
		problems = append(problems, fmt.Errorf("machine and battery together do not give a load of %g A", c.Side.LoadAmps))
	}
	if c.Field != nil && *c.Field > 0 && a.FedBy == FedByDPlus && a.DPlusVolts.Mean < 0 {
		problems = append(problems, fmt.Errorf("no field current of %g A comes from D+ here", *c.Field))
	}
	if len(problems) == 0 {
		return nil
	}
	return &unfit{errors.Join(problems...)}
}

// fedBy says where the field current comes from.
func (d *Description) fedBy(c Condition) string {
	switch {
	case d.FieldDiode != nil:
		return FedByDPlus
	case c.Field == nil:
		return FedByOutput
	}
	return FedByOutside
}

// at runs the machine at a field current.
func (d *Description) at(c Condition, field float64, fed string) (*Answer, error) {
	b, err := d.build(c, field, fed)
	if err != nil {
		return nil, err
	}
	return d.answer(c, b, field, fed)
}

func (d *Description) answer(c Condition, b Build, field float64, fed string) (*Answer, error) {
	p, err := Run(b)
	if err != nil {
		return nil, err
	}
	a := &Answer{Periodic: p, Field: field, FedBy: fed, EMF: b.EMF, Omega: b.Omega, Build: b}
	v := p.StudVolts.Mean
	a.Load = c.Side.LoadAmps
	if c.Side.LoadOhms > 0 {
		a.Load += v / c.Side.LoadOhms
	}
	a.Battery = p.Stud.Mean - a.Load
	if fed == FedByOutput {
		a.Battery -= field
	}
	return a, nil
}

// build is the machine at a field current.
func (d *Description) build(c Condition, field float64, fed string) (Build, error) {
	omega := c.Speed * float64(d.Poles) / 2
	emf, err := d.EMF(field, omega)
	henries, err2 := d.Inductance(field)
	if err := errors.Join(err, err2); err != nil {
		return Build{}, err
	}
	side := c.Side
	if fed == FedByOutput {
		side.LoadAmps += field
	}
	b := Build{
		Winding: d.Winding, EMF: emf, Third: d.Third, Fifth: d.Fifth, Omega: omega,
		Ohms: d.Ohms, Henries: henries, ZeroHenries: d.ZeroHenries,
		Diode: d.Diode, StarDiodes: d.StarDiodes, Changes: c.Changes, Wave: c.Wave,
	}
	b.Volts, b.SourceOhms = side.held()
	if d.FieldDiode != nil {
		b.Field = &FieldSide{Diode: *d.FieldDiode, Amps: field}
	}
	return b, nil
}

// feed is the mean voltage that the field is fed with [V].
func (a *Answer) feed() float64 {
	if a.FedBy == FedByDPlus {
		return a.DPlusVolts.Mean
	}
	return a.StudVolts.Mean
}

// rotorAmps is what a voltage drives through rotor and brushes [A].
func (d *Description) rotorAmps(volts float64) float64 {
	i := 0.0
	for range 60 { // the brush drop turns round within brushWidth; it converges fast
		s, ds := side(i)
		f := volts - d.RotorOhms*i - d.BrushVolts*s
		step := f / (d.RotorOhms + d.BrushVolts*ds)
		i += step
		if math.Abs(step) < 1e-12*(1+math.Abs(i)) {
			break
		}
	}
	return i
}

// fullField finds the largest field current that the machine itself keeps up.
// What it can feed rises with the field current, so that going on from above, to
// the current that it can feed each time, ends at the largest. Where it feeds
// next to nothing a held current turns that round: then the two sides close in.
func (d *Description) fullField(c Condition) (*Answer, error) {
	fed := d.fedBy(c)
	volts, _ := c.Side.held()
	high, low := 2*d.rotorAmps(max(volts, 1)), -1.0
	last := math.Inf(1)
	for _, x := range []*curve{d.linkage, d.henries} {
		if x != nil {
			last = min(last, x.x[len(x.x)-1])
		}
	}
	high = min(high, last)
	probe := c
	probe.Wave = false
	field := high
	for range 120 {
		a, err := d.at(probe, field, fed)
		if err != nil {
			return nil, err
		}
		next := max(d.rotorAmps(a.feed()), 0)
		tol := 1e-4*field + 1e-5
		switch {
		case math.Abs(next-field) < tol || low >= 0 && high-low < tol:
			return d.at(c, field, fed)
		case next > field && field == last:
			return nil, &beyond{next, 0, last}
		case next > field && low < 0 && field == high:
			high = min(2*next, last)
			field = high
			continue
		case next > field:
			low = field
		default:
			high = field
		}
		if field = next; low >= 0 && (next <= low || next >= high) {
			field = (low + high) / 2
		}
	}
	return nil, fmt.Errorf("machine: the field current did not settle near %.3g A", field)
}

// still runs a machine that stands: its field draws what it is offered.
func (d *Description) still(c Condition) (*Answer, error) {
	fed := d.fedBy(c)
	field := 0.0
	if fed == FedByOutput {
		volts, _ := c.Side.held()
		return d.at(c, max(d.rotorAmps(volts), 0), fed)
	}
	for range 60 {
		b, err := d.build(c, field, fed)
		if err != nil {
			return nil, err
		}
		s, _ := side(field)
		b.Field.Amps, b.Field.Siemens, b.Field.Behind = 0, 1/d.RotorOhms, d.BrushVolts*s
		a, err := d.answer(c, b, field, fed)
		if err != nil {
			return nil, err
		}
		next := max(d.rotorAmps(a.DPlusVolts.Mean), 0)
		if math.Abs(next-field) < 1e-6*field+1e-9 {
			return a, nil
		}
		field = next
	}
	return nil, fmt.Errorf("machine: the field current of the standing machine did not settle near %.3g A", field)
}
