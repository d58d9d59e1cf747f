package system

// Accumulator is one battery case with its two posts. A vehicle has one, two in
// series, or a second one beside the first.
type Accumulator struct {
	Device             string // of a circuit: "battery", "second battery"
	Called             string // what the drawing calls it: "battery", "front battery"
	Params             string // begin of its parameters' ids
	Positive, Negative string // posts
	AmpHours           float64
	Volts              float64 // nominal
	Follows            bool    // its charge is that of the first one and second-battery.apart
}

// Ids of parameters of the first battery begin with FirstBattery, those of the
// second with SecondBattery.
const (
	FirstBattery  = "battery."
	SecondBattery = "second-battery."
)

// Series says that two batteries in series make up the vehicle's voltage.
func (s *System) Series() bool { return s.Battery.Upper != "" }

// Accumulators are the vehicle's batteries: first the one whose positive post is
// the line's.
func (s *System) Accumulators() []Accumulator {
	b := s.Battery
	one := Accumulator{Device: "battery", Called: "battery", Params: FirstBattery, Positive: b.Positive, Negative: b.Negative, AmpHours: b.AmpHours, Volts: s.Volts}
	if b := s.Second; b.Positive != "" {
		one.Called = "starter battery"
		return []Accumulator{one, {Device: "second battery", Called: "second battery", Params: SecondBattery, Positive: b.Positive, Negative: b.Negative, AmpHours: b.AmpHours, Volts: s.Volts}}
	}
	if !s.Series() {
		return []Accumulator{one}
	}
	one.Called, one.Negative, one.Volts = "front battery", b.Upper, s.Volts/2
	two := one
	two.Device, two.Called, two.Params, two.Positive, two.Negative, two.Follows = "second battery", "rear battery", SecondBattery, b.Lower, b.Negative, true
	return []Accumulator{one, two}
}

// Rested is about what a rested battery of a nominal voltage stands at [V]:
// 12.5 V for one of 12 V.
func Rested(nominal float64) float64 { return nominal * 12.5 / 12 }

// joined is the resistance [Ohm] up to which two points stand at about one
// voltage with little running.
const joined = 0.1

// RestVolts are about the volts [V] of the points that hang on a positive post or
// on the link of two batteries, by what an element's resistance is; points that
// are not in it stand near nothing. A load is joined to neither end, however
// thick: ohms says Inf for what should not count.
func (s *System) RestVolts(ohms func(element int) float64) map[string]float64 {
	level := map[string]float64{s.Battery.Positive: Rested(s.Volts)}
	if s.Series() {
		level[s.Battery.Upper], level[s.Battery.Lower] = Rested(s.Volts)/2, Rested(s.Volts)/2
	}
	for changed := true; changed; {
		changed = false
		for i, e := range s.Elements {
			if ohms(i) > joined {
				continue
			}
			from, a := level[e.From]
			to, b := level[e.To]
			switch {
			case a && !b:
				level[e.To], changed = from, true
			case b && !a:
				level[e.From], changed = to, true
			}
		}
	}
	return level
}
