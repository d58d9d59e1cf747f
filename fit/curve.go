package fit

import (
	"math"
	"strconv"

	"chargewright/unit"
)

// Curve is what a fitted machine gives at full field over its speed, at the volts and with
// the windings of the manual's largest output, as parts of a picture: everything from 0 to
// 1, speeds from the left, amps from the bottom.
type Curve struct {
	Words        string
	Points       []CurvePoint
	Given        []CurvePoint // the manual's outputs that hold for the same
	Speeds, Amps []Tick
}

// CurvePoint is the amps at a speed; 90 % lie within Low and High, or they are the ends of
// what the manual says.
type CurvePoint struct{ Speed, Amps, Low, High float64 }

// Tick is a place on an axis with what stands there.
type Tick struct {
	At   float64
	Text string
}

const (
	curvePoints = 30
	pastLast    = 1.1 // the axes end so far past the fastest and the largest output
	mostTicks   = 6
)

// curve draws the output over speed; nothing where no output is at full field.
func (s *solver) curve(f *found) (Curve, error) {
	var of *Figure
	most, fastest := 0.0, 0.0
	for _, x := range s.list {
		if x.Kind != Output || x.FieldAmps != nil || x.FieldVolt != nil {
			continue
		}
		fastest = max(fastest, s.turns(x))
		if at, _ := x.middle(); of == nil || at > most {
			of, most = x, at
		}
	}
	if of == nil {
		return Curve{}, nil
	}
	v := s.values(f.z)
	var list []*Figure
	for i := range curvePoints {
		x := *of
		low, high := most*(1-oneSidedShare), most*(1+oneSidedShare) // only to have a scale
		x.Low, x.High, x.Engine = &low, &high, false
		x.Speed = fastest * pastLast * float64(i+1) / curvePoints
		if a := s.p.predict(&v, &x); !math.IsNaN(a) && !math.IsInf(a, 0) {
			list = append(list, &x)
		}
	}
	there, err := s.about(s.problem(list), f.end, len(list))
	if err != nil {
		return Curve{}, err
	}
	there.cov = f.cov
	c := Curve{Words: "Amps over the alternator's speed, at " + unit.Format(unit.Volt, of.Volts) + ", full field, windings " + unit.Format(unit.Kelvin, of.Kelvin)}
	for i, x := range list {
		a, half := s.p.predict(&v, x), ninety*there.spread(i)*x.sd()
		c.Points = append(c.Points, CurvePoint{x.Speed, max(a, 0), max(a-half, 0), max(a+half, 0)})
	}
	for _, x := range s.list {
		if x.Kind == Output && x.FieldAmps == nil && x.FieldVolt == nil && x.Volts == of.Volts && x.Kelvin == of.Kelvin && x.LessField == of.LessField {
			at, half := x.middle()
			c.Given = append(c.Given, CurvePoint{s.turns(x), at, at - half, at + half})
		}
	}
	c.scale()
	return c, nil
}

// turns is the alternator's speed of an output [rad/s].
func (s *solver) turns(x *Figure) float64 {
	if x.Engine {
		return x.Speed * s.p.pulley
	}
	return x.Speed
}

// scale turns speeds and amps into parts of the picture.
func (c *Curve) scale() {
	wide, high := 0.0, 0.0
	for _, list := range [][]CurvePoint{c.Points, c.Given} {
		for _, p := range list {
			wide, high = max(wide, p.Speed), max(high, p.High)
		}
	}
	high *= pastLast
	for _, list := range [][]CurvePoint{c.Points, c.Given} {
		for i, p := range list {
			list[i] = CurvePoint{p.Speed / wide, p.Amps / high, p.Low / high, p.High / high}
		}
	}
	c.Speeds, c.Amps = ticks(wide/rpm), ticks(high)
}

// ticks are round numbers from 0 up to the end of an axis.
func ticks(end float64) (out []Tick) {
	step := math.Pow(10, math.Floor(math.Log10(end/mostTicks)))
	for _, k := range []float64{1, 2, 5, 10} {
		if end/(k*step) <= mostTicks {
			step *= k
			break
		}
	}
	for i := 0; float64(i)*step <= end; i++ {
		out = append(out, Tick{float64(i) * step / end, strconv.FormatFloat(float64(i)*step, 'f', -1, 64)})
	}
	return out
}
