package main

import (
	"fmt"
	"math"
	"strconv"

	"chargewright/system"
	"chargewright/unit"
)

// parts turns a system into what --json prints of it.
func parts(s *system.System) *systemParts {
	p := &systemParts{
		Battery:    batteryOut{s.Battery.Positive, s.Battery.Negative, quantity{s.Battery.AmpHours, unit.UCUM(unit.AmpHour)}, s.Battery.Serviceable},
		Regulator:  regulatorOf(&s.Regulator),
		Parameters: []paramOut{}, Places: []placeOut{}, Limits: []limitOut{}, Cautions: []cautionOut{},
	}
	if s.Bank.Plus != "" {
		p.LoadTester = &loadOut{s.Bank.Plus, s.Bank.Minus}
	}
	for _, x := range s.Points {
		p.Points = append(p.Points, pointOut{x.ID, x.Name, x.Number, x.Terminal, x.Reference})
	}
	for i := range s.Elements {
		p.Elements = append(p.Elements, elementOf(&s.Elements[i]))
	}
	p.Machine = machineOf(&s.Machine)
	if s.Twin() {
		machine, regulator := machineOf(&s.SecondMachine), regulatorOf(&s.SecondRegulator)
		p.SecondMachine, p.SecondRegulator = &machine, &regulator
	}
	for i := range s.Params {
		p.Parameters = append(p.Parameters, paramOf(&s.Params[i]))
	}
	for _, x := range s.Rig.Places {
		o := placeOut{ID: x.ID, Name: x.Name, Role: x.Role}
		for _, q := range x.Positions {
			one := positionOut{ID: q.ID, Name: q.Name, Inert: q.Inert}
			if q.Engine > 0 {
				v := amount(unit.AngularSpeed, q.Engine)
				one.Engine = &v
			}
			o.Positions = append(o.Positions, one)
		}
		p.Places = append(p.Places, o)
	}
	for i := range s.Limits {
		p.Limits = append(p.Limits, limitOf(&s.Limits[i]))
	}
	for _, x := range s.Cautions {
		p.Cautions = append(p.Cautions, cautionOut{x.ID, x.Text, origin{x.Source, x.Basis}})
	}
	return p
}

func elementOf(x *system.Element) elementOut {
	o := elementOut{
		ID: x.ID, Name: x.Name, Kind: string(x.Kind), From: x.From, To: x.To,
		Median: x.Median, Unit: unit.UCUM(unit.Ohm), Spread: x.Spread, Off: x.Off, Part: x.Part, origin: origin{x.Source, x.Basis},
	}
	o.Low, o.High = interval("lognormal", x.Median, x.Spread)
	if x.Area > 0 {
		area, length := amount(unit.SquareMetre, x.Area), amount(unit.Metre, x.Length)
		o.Area, o.Length = &area, &length
	}
	return o
}

func paramOf(x *system.Param) paramOut {
	low, high := interval(x.Law, x.Median, x.Spread)
	return paramOut{x.ID, x.Name, x.Law, x.Median, low, high, unit.UCUM(x.Dim), x.Spread, origin{x.Source, x.Basis}}
}

func limitOf(x *system.Limit) limitOut {
	return limitOut{
		ID: x.ID, Procedure: x.Procedure, Value: x.Value, Low: maybe(x.Dim, x.Low), High: maybe(x.Dim, x.High),
		Unit: unit.UCUM(x.Dim), PerKelvin: x.PerKelvin, Condition: x.Condition, origin: origin{x.Source, x.Basis},
	}
}

// bounds words a limit: 13.8 V to 14.6 V, at most 0.7 V, at least 9.6 V.
func bounds(dim unit.Dim, low, high *float64) string {
	switch {
	case low != nil && high != nil:
		return unit.Format(dim, *low) + " to " + unit.Format(dim, *high)
	case high != nil:
		return "at most " + unit.Format(dim, *high)
	case low != nil:
		return "at least " + unit.Format(dim, *low)
	}
	return ""
}

// printSystem prints one system in full.
func printSystem(t *text, sh *shelf) {
	sys := sh.sys
	t.head("%s", sys.Name)
	t.line(0, "%s", sys.ID+", "+unit.Format(unit.Volt, sys.Volts)+": "+counts(sh))
	t.line(2, "%s", sys.About)
	t.head("Points, by the number along the path")
	for _, x := range sys.Points {
		name := x.Name
		if x.Terminal != "" {
			name += " [" + x.Terminal + "]"
		}
		if x.Reference {
			name += ": all voltages are against it"
		}
		key := "-"
		if x.Number > 0 {
			key = strconv.Itoa(x.Number)
		}
		t.entry(pad(key, 3)+x.ID, name)
	}
	for _, k := range []struct {
		kind  system.ElementKind
		title string
	}{
		{system.Joint, "Joints: median resistance, and where 90 % of sound ones lie"},
		{system.Wire, "Wires"},
		{system.Load, "Loads"},
		{system.Gap, "Gaps: open unless a fault or a hook-up closes them"},
	} {
		t.head("%s", k.title)
		for i := range sys.Elements {
			if x := &sys.Elements[i]; x.Kind == k.kind {
				printElement(t, x)
			}
		}
	}
	printFigures(t, sys)
	printParams(t, sys)
	t.head("Places: how the vehicle can be hooked up")
	for _, x := range sys.Rig.Places {
		line := ""
		for i, q := range x.Positions {
			if i > 0 {
				line += "; "
			}
			line += q.ID + ": " + q.Name
		}
		t.entry(x.ID, line)
	}
	t.head("Limits")
	for _, x := range sys.Limits {
		printLimit(t, sh, &x)
	}
	t.head("Cautions")
	for _, x := range sys.Cautions {
		t.entry(x.ID, x.Text, origin{x.Source, x.Basis}.words())
	}
	t.head("See chargewright procedures --system %s and chargewright faults --system %s.", sys.ID, sys.ID)
}

func printElement(t *text, x *system.Element) {
	line := x.From + " to " + x.To
	if x.Kind != system.Gap {
		line += ", " + unit.Format(unit.Ohm, x.Median)
		if x.Spread > 1 {
			low, high := interval("lognormal", x.Median, x.Spread)
			line += " (" + unit.Format(unit.Ohm, figures(low)) + " to " + unit.Format(unit.Ohm, figures(high)) + ")"
		}
	}
	if x.Area > 0 {
		line += ", " + unit.Format(unit.SquareMetre, x.Area) + ", " + unit.Format(unit.Metre, x.Length)
	}
	if x.Off {
		line += ", off until switched on"
	}
	t.entry(x.ID, x.Name, line, origin{x.Source, x.Basis}.words())
}

func machineOf(m *system.Machine) machineOut {
	return machineOut{
		m.Output, m.Case, m.RingA, m.RingB, m.PolePairs, m.PulleyRatio,
		amount(unit.Amp, m.RatedAmps), amount(unit.Volt, m.RatedVolts), amount(unit.AngularSpeed, m.RatedEngine),
		amount(unit.Amp, m.DiodeSaturation), m.DiodeEmission, amount(unit.Ohm, m.DiodeOhms), amount(unit.Amp, m.FluxKnee), m.Saturation,
	}
}

func regulatorOf(r *system.Regulator) regulatorOut {
	return regulatorOut{
		Kind: r.Kind, Supply: r.Supply, Field: r.Field, Case: r.Case, Sense: [2]string{r.SensePlus, r.SenseMinus},
		Lamp: r.Lamp, Feedback: r.Feedback, Asked: r.Asked,
	}
}

func printMachine(t *text, name string, m *system.Machine) {
	t.entry(name,
		"output "+m.Output+", case "+m.Case+", rings "+m.RingA+" and "+m.RingB,
		fmt.Sprintf("%d pole pairs, pulley ratio %.3g, rated %s at %s and %s of the engine", m.PolePairs, m.PulleyRatio,
			unit.Format(unit.Amp, m.RatedAmps), unit.Format(unit.Volt, m.RatedVolts), unit.Format(unit.AngularSpeed, m.RatedEngine)),
		fmt.Sprintf("diodes: saturation %s, emission %.3g, %s; flux knee %s, saturation %.3g", unit.Format(unit.Amp, m.DiodeSaturation),
			m.DiodeEmission, unit.Format(unit.Ohm, m.DiodeOhms), unit.Format(unit.Amp, m.FluxKnee), m.Saturation))
}

func printFigures(t *text, sys *system.System) {
	t.head("Figures")
	printMachine(t, "machine", &sys.Machine)
	b := sys.Battery
	caps := "sealed"
	if b.Serviceable {
		caps = "the caps come off"
	}
	t.entry("battery", fmt.Sprintf("%s to %s, %.4g Ah, %s", b.Positive, b.Negative, b.AmpHours, caps))
	printRegulator(t, "regulator", &sys.Regulator)
	if sys.Twin() {
		printMachine(t, "second machine", &sys.SecondMachine)
		printRegulator(t, "second regulator", &sys.SecondRegulator)
	}
	if sys.Bank.Plus == "" {
		return
	}
	t.entry("load tester", "across "+sys.Bank.Plus+" and "+sys.Bank.Minus)
}

func printRegulator(t *text, name string, r *system.Regulator) {
	line := "supply " + r.Supply + ", field " + r.Field + ", case " + r.Case + ", senses " + r.SensePlus + " against " + r.SenseMinus
	for _, more := range [][2]string{{"lamp terminal", r.Lamp}, {"feedback", r.Feedback}, {"what is asked of it read at", r.Asked}} {
		if more[1] != "" {
			line += ", " + more[0] + " " + more[1]
		}
	}
	t.entry(name, r.Kind, line)
}

func printParams(t *text, sys *system.System) {
	t.head("%s", "Free figures: median, and where 90 % of vehicles lie")
	for _, x := range sys.Params {
		line := unit.Format(x.Dim, x.Median)
		if low, high := interval(x.Law, x.Median, x.Spread); low != high {
			line += " (" + unit.Format(x.Dim, figures(low)) + " to " + unit.Format(x.Dim, figures(high)) + "), " + x.Law
		} else {
			line += ", fixed"
		}
		t.entry(x.ID, x.Name, line, origin{x.Source, x.Basis}.words())
	}
}

func printLimit(t *text, sh *shelf, x *system.Limit) {
	line := bounds(x.Dim, x.Low, x.High)
	if x.PerKelvin != 0 {
		line += ", and " + unit.Format(x.Dim, x.PerKelvin) + " for each K over 27 °C"
	}
	of := x.Procedure
	if p := sh.catalogue[x.Procedure]; p != nil {
		if seek := p.Seek(); x.Value < len(seek) {
			of += ", " + seek[x.Value].Note
		}
	}
	t.entry(x.ID, of, line, x.Condition, origin{x.Source, x.Basis}.words())
}

// figures rounds to three of them: no spread is known better.
func figures(x float64) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x
	}
	k := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*k) / k
}
