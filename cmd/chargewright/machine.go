package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"chargewright/machine"
	"chargewright/problem"
	"chargewright/unit"
)

type machineCmd struct {
	File  string   `arg:"" help:"A machine file (schema machine), - is standard input." placeholder:"FILE"`
	Speed string   `required:"" help:"Speed of the machine's own shaft, not of the engine." placeholder:"RPM"`
	Side  string   `required:"" help:"What the output works into: a battery's EMF, the resistance before it, and the load across the output terminal, in ohms or in amperes (0 A for none): 12.6V,10mOhm,0.3Ohm." placeholder:"EMF,RESISTANCE,LOAD"`
	Field string   `help:"Field current. Without it, full field: what the machine itself drives through its rotor." placeholder:"A"`
	Fault []string `sep:"none" help:"What is wrong: a rectifier pattern (diode-open), or ELEMENT=open, ELEMENT=short, ELEMENT=RESISTANCE: diode-a+=open, diode-b-=\"5 Ohm\", winding-a=open, lead-c=\"0.2 Ohm\", a-b=short, field-diode-a=open. May be repeated." placeholder:"FAULT"`
	JSON  bool     `name:"json" xor:"form" help:"Print JSON instead of text."`
	CSV   bool     `name:"csv" xor:"form" help:"Print one period's waveforms as CSV instead of text."`
}

// Run prints what a machine delivers at one speed, in the time domain.
func (c *machineCmd) Run(e *env) error {
	var errs []error
	at, err := c.condition()
	errs = append(errs, err)
	name, data, err := e.take(c.File)
	var d *machine.Description
	if err == nil {
		err = wanted("machine", name, data)
	}
	if err == nil {
		d, err = machine.ParseDescription(name, data)
	}
	if err := together(append(errs, err)); err != nil {
		return err
	}
	a, err := d.Run(at)
	switch {
	case errors.Is(err, machine.ErrNoField):
		return problemf("--field 2.5, or rotor: {ohms: …, brush-volts: …} in the file", "%s: %v", name, err)
	case machine.Refused(err):
		return problemf("--field with a current that the file covers, or a fault that the machine can have", "%s: %v", name, err)
	case err != nil:
		return noAnswer(err)
	}
	run := &ranMachine{d, at, a, c.Fault}
	switch {
	case c.JSON:
		return printJSON(e.stdout, run.out())
	case c.CSV:
		return run.csv(e.stdout)
	}
	t := &text{colour: e.colour}
	run.print(t)
	return t.to(e.stdout)
}

// ranMachine is a machine with what it was asked and what it answered.
type ranMachine struct {
	d      *machine.Description
	at     machine.Condition
	a      *machine.Answer
	faults []string
}

// condition reads the flags; its error is every problem in them.
func (c *machineCmd) condition() (machine.Condition, error) {
	var list problem.List
	read := func(flag, s string, dim unit.Dim, suffix string) float64 {
		v, err := bare(dim, s, suffix)
		if err == nil && v < 0 {
			err = &unit.Refusal{Given: s, What: "is below 0", Instead: "a value such as " + dim.Example()}
		}
		var r *unit.Refusal
		if errors.As(err, &r) {
			list.Add(problem.Problem{What: flag + ": " + strconv.Quote(r.Given) + " " + r.What, Instead: r.Instead})
		}
		return v
	}
	at := machine.Condition{Wave: true}
	at.Speed = read("--speed", c.Speed, unit.AngularSpeed, "rpm")
	if at.Speed > mostSpeed {
		list.Add(problem.Problem{What: "--speed: " + strconv.Quote(c.Speed) + " is faster than such a rotor holds together", Instead: "one up to " + unit.Format(unit.AngularSpeed, mostSpeed)})
	}
	if c.Field != "" {
		field := read("--field", c.Field, unit.Amp, "A")
		at.Field = &field
	}
	parts := strings.Split(c.Side, ",")
	if len(parts) == 3 {
		at.Side.EMF = read("--side", parts[0], unit.Volt, "V")
		at.Side.Ohms = read("--side", parts[1], unit.Ohm, "Ohm")
		if _, err := unit.Parse(unit.Amp, parts[2]); err == nil {
			at.Side.LoadAmps = read("--side", parts[2], unit.Amp, "A")
		} else if at.Side.LoadOhms = read("--side", parts[2], unit.Ohm, "Ohm"); at.Side.LoadOhms == 0 && len(list) == 0 {
			list.Add(problem.Problem{What: "--side: a load of 0 Ohm shorts the output", Instead: "0 A for no load"})
		}
	} else {
		list.Add(problem.Problem{What: fmt.Sprintf("--side: %q has %d parts", c.Side, len(parts)), Instead: "three, with decimal points: 12.6V,10mOhm,0.3Ohm"})
	}
	changed := map[string]bool{}
	for _, f := range c.Fault {
		name, _, _ := strings.Cut(f, "=")
		if changed[name] {
			list.Add(problem.Problem{What: "--fault: " + name + " is given twice", Instead: "one of them"})
		}
		changed[name] = true
		if err := fault(&at.Changes, f); err != nil {
			what, instead, _ := strings.Cut(err.Error(), "; write instead: ")
			list.Add(problem.Problem{What: "--fault: " + what, Instead: instead})
		}
	}
	return at, list.Err()
}

// mostSpeed is the fastest that a machine is run: half as fast again as the 20,000
// rpm that fast ones are built for (memory), and where figures of a fit end [rad/s].
const mostSpeed = 30000 * math.Pi / 30

// bare reads a quantity whose unit may be left out.
func bare(dim unit.Dim, s, suffix string) (float64, error) {
	if _, err := strconv.ParseFloat(strings.TrimSpace(s), 64); err == nil {
		s += " " + suffix
	}
	return unit.Parse(dim, s)
}

// fault applies one --fault: a pattern's name or a change of an element.
func fault(c *machine.Changes, text string) error {
	if p, err := machine.ParsePattern(text); err == nil && text != "" {
		for _, e := range p.Elements() {
			if err := c.Apply(e); err != nil {
				return err
			}
		}
		return nil
	}
	return c.Apply(text)
}
