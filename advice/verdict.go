package advice

import (
	"fmt"
	"math"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/regulator"
	"chargewright/system"
	"chargewright/unit"
)

// What must hold before a regulated voltage is called. Source: the trade's
// rules, docs/models/safety.md R28; memory.
const (
	restLimit   = "rest-for-test" // the limit under which nothing is judged
	cautionFlat = "c58"           // its caution, on the procedures that it bars
	fewAmps     = 5.0             // [A] into the battery that a regulated voltage may be read with
)

// judge holds a value against every limit that its procedure has for it.
func (d *Desk) judge(out *Value, in Input, b *diagnosis.Belief, r question.Reading, v int, y, u float64) {
	for _, l := range d.System.Limits {
		if l.Procedure != r.Question.Procedure || l.Value != v || r.Question.Procedure == "" {
			continue
		}
		shift, uShift, kelvin := d.atTemperature(l, r.Question.Setup)
		low, high := moved(l.Low, shift), moved(l.High, shift)
		p := pWithin(r.Values[v], y, math.Hypot(u, uShift), low, high)
		lim := Limit{
			ID: l.ID, Unit: unit.UCUM(l.Dim), Condition: l.Condition, Source: l.Source, Basis: string(l.Basis),
			PWithin: p, Verdict: string(meter.Judge(p)),
		}
		if low != nil {
			lim.Low = wire(l.Dim, *low)
		}
		if high != nil {
			lim.High = wire(l.Dim, *high)
		}
		if l.PerKelvin != 0 {
			lim.At, lim.AtUnit = wire(unit.Kelvin, kelvin), unit.UCUM(unit.Kelvin)
		}
		tooHigh := high != nil && y > *high
		if note := d.notYet(l, in, b, r); note != "" && !(tooHigh && lim.Verdict == string(meter.Outside)) {
			lim.Verdict = string(meter.CannotTell)
			if len(out.Notes) == 0 {
				out.Notes = append(out.Notes, note)
			}
		}
		out.Limits = append(out.Limits, lim)
	}
	if len(out.Limits) > 0 {
		first := out.Limits[0]
		out.Verdict, out.PWithin = first.Verdict, &first.PWithin
	}
}

func moved(end *float64, shift float64) *float64 {
	if end == nil {
		return nil
	}
	x := *end + shift
	return &x
}

// atTemperature is how far a limit's ends move at the regulator's temperature,
// how well that is known, and the temperature [K].
func (d *Desk) atTemperature(l system.Limit, s question.Setup) (shift, u, kelvin float64) {
	if l.PerKelvin == 0 {
		return 0, 0, 0
	}
	const reference = 300.15 // [K] at which system files state a limit
	kelvin, uK := d.regulatorTemperature(s)
	return l.PerKelvin * (kelvin - reference), math.Abs(l.PerKelvin) * uK, kelvin
}

// regulatorTemperature is the one that was given, or the model's own guess from
// the air and the engine's running [K].
func (d *Desk) regulatorTemperature(s question.Setup) (kelvin, u float64) {
	if s.Reg.K > 0 && !s.Reg.Derive {
		return s.Reg.K, s.Reg.U
	}
	z := make([]float64, d.Model.Dims())
	law := d.Model.Values(prediction.Hypothesis{}, prediction.Component{}, s, z).Law
	kelvin = law[regulator.Temperature]
	for i, c := range d.Model.Coords {
		if c.ID == "temps.bay" {
			z[i] = 1
		}
	}
	more := d.Model.Values(prediction.Hypothesis{}, prediction.Component{}, s, z).Law
	return kelvin, math.Hypot(s.Ambient.U, more[regulator.Temperature]-kelvin)
}

// notYet says why a limit cannot be called yet, "" when it can. A limit in volts
// that follows the regulator's temperature is one of regulated voltage.
func (d *Desk) notYet(l system.Limit, in Input, b *diagnosis.Belief, r question.Reading) string {
	regulated := l.Dim == unit.Volt && l.PerKelvin != 0
	loadTest := false
	if p, ok := d.Board.Procedure(l.Procedure); ok {
		for _, c := range p.Cautions {
			loadTest = loadTest || c == cautionFlat
		}
	}
	if !regulated && !loadTest {
		return ""
	}
	amps, known := 0.0, false
	if regulated {
		if amps, known = d.batteryAmps(in, b, r); known && amps <= 0 {
			return "" // it does not charge at all: there is nothing to wait for
		}
	}
	if low, volts := d.restsLow(in.Readings, r.Epoch); low {
		return fmt.Sprintf("the battery rested at %s, under 75 %%: charge it first, then judge this", unit.Format(unit.Volt, volts))
	}
	if known && amps > fewAmps {
		return fmt.Sprintf("the battery is taking about %.0f A, so this shows the output and not the regulator: read it again when it takes less than %.0f A", amps, fewAmps)
	}
	return ""
}

// restsLow reports whether the battery's last resting voltage of an epoch was
// under the limit below which nothing is judged, and that voltage.
func (d *Desk) restsLow(readings []question.Reading, epoch int) (bool, float64) {
	low, volts := false, 0.0
	for _, l := range d.System.Limits {
		if l.ID != restLimit || l.Low == nil {
			continue
		}
		for _, r := range readings {
			if r.Question.Procedure == l.Procedure && r.Epoch == epoch && l.Value < len(r.Values) && r.Values[l.Value].How == question.Measured {
				volts = r.Values[l.Value].X
				low = volts < *l.Low
			}
		}
	}
	return low, volts
}

// batteryAmps is the current into the battery while a reading was taken: read
// beside it, or what the readings together make of it. Not known for readings
// from before a repair.
func (d *Desk) batteryAmps(in Input, b *diagnosis.Belief, r question.Reading) (float64, bool) {
	through, sign := batteryBranch(d.System)
	if through == "" || r.Epoch != len(in.Repairs) || r.Question.Setup.Engine <= 0 {
		return 0, false
	}
	for i, o := range r.Question.Seek {
		if o.Through == through && r.Values[i].How == question.Measured {
			return sign * r.Values[i].X, true
		}
	}
	q := question.Question{Setup: r.Question.Setup, Seek: []question.Observable{{Kind: question.Amps, Through: through}}}
	const worth = 0.05
	ps, err := b.Predict(q, worth)
	if err != nil {
		return 0, false
	}
	sum, weight := 0.0, 0.0
	for _, p := range ps {
		if len(p.Value) > 0 && len(p.Value[0]) > 0 {
			sum += p.Share * diagnosis.Quantile(p.Value[0], 0.5)
			weight += p.Share
		}
	}
	if weight == 0 {
		return 0, false
	}
	return sign * sum / weight, true
}

// batteryBranch is the joint or wire at the battery's positive post; sign makes
// its current count positive into the battery.
func batteryBranch(sys *system.System) (id string, sign float64) {
	for _, e := range sys.Elements {
		switch {
		case e.Kind != system.Joint && e.Kind != system.Wire:
		case e.To == sys.Battery.Positive:
			return e.ID, 1
		case e.From == sys.Battery.Positive:
			return e.ID, -1
		}
	}
	return "", 0
}
