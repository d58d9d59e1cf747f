package main

import (
	"errors"
	"math"
	"slices"
	"strings"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// situation is the vehicle that is simulated: a system with figures set by hand,
// up to two faults, and the day's temperature.
type situation struct {
	*shelf
	model *prediction.Model
	hyp   prediction.Hypothesis
	given [prediction.Magnitudes]*float64 // magnitudes given by hand, SI
	set   []setting
	day   question.Setup
}

// setting is a figure set by hand: exact, before any fault.
type setting struct {
	id    string
	dim   unit.Dim
	value float64 // SI
}

// vehicleFlags describe a situation on the command line.
type vehicleFlags struct {
	System  string   `required:"" help:"An id of the library, or a system file." placeholder:"ID"`
	Fault   []string `sep:"none" help:"A fault, with its magnitude where it has one: belt-slip or belt-slip=0.3. May be given twice." placeholder:"FAULT[=MAGNITUDE]"`
	Set     []string `sep:"none" help:"Set a joint, wire, load or free figure: w-charge=\"9 mOhm\", battery.soc=\"40 %\". May be repeated." placeholder:"FIGURE=VALUE"`
	Ambient string   `default:"20 degC" help:"Temperature of the air." placeholder:"T"`
}

// situation reads the flags; every problem with them is reported.
func (c *vehicleFlags) situation(e *env) (*situation, error) {
	sh, err := openShelf(e, c.System)
	if err != nil {
		return nil, err
	}
	s := &situation{shelf: sh}
	ambient, wrong := unit.Parse(unit.Kelvin, c.Ambient)
	s.day.Ambient.K = ambient
	problems := []error{flagProblem("--ambient", wrong), s.faults(c.Fault), s.settings(c.Set)}
	if wrong == nil && (ambient < unit.FromCelsius(-45) || ambient > unit.FromCelsius(60)) {
		problems = append(problems, problemf("a temperature from -45 degC to 60 degC", "--ambient %s is out of range", c.Ambient))
	}
	if err := together(problems); err != nil {
		return nil, err
	}
	s.model, err = prediction.Compile(sh.sys)
	return s, err
}

// flagProblem is a quantity that was refused, as a problem of its flag.
func flagProblem(flag string, err error) error {
	if err == nil {
		return nil
	}
	var r *unit.Refusal
	if errors.As(err, &r) {
		return problemf(r.Instead, "%s: %q %s", flag, r.Given, r.What)
	}
	return problemf("a number with its unit", "%s: %v", flag, err)
}

// faults reads --fault F[=MAGNITUDE].
func (s *situation) faults(args []string) error {
	if len(args) > prediction.Magnitudes {
		return problemf("two at most", "--fault is given %d times", len(args))
	}
	var list []error
	for k, arg := range args {
		id, words, given := strings.Cut(arg, "=")
		f, err := faultOf(s.sys, strings.TrimSpace(id))
		if err != nil {
			list = append(list, err)
			continue
		}
		at := slices.IndexFunc(s.sys.Faults, func(x system.Fault) bool { return x.ID == f.ID })
		if slices.Contains(s.hyp.Faults, at) {
			list = append(list, problemf("another fault, or one only", "--fault %s is given twice", f.ID))
			continue
		}
		s.hyp.Faults = append(s.hyp.Faults, at)
		if given {
			v, err := magnitude(f, words)
			list = append(list, err)
			s.given[k] = &v
		}
	}
	return together(list)
}

// magnitude reads how bad a fault is.
func magnitude(f *system.Fault, words string) (float64, error) {
	if f.Magnitude == nil {
		return 0, problemf("--fault "+f.ID, "--fault %s has no degrees, so it takes no magnitude", f.ID)
	}
	v, err := unit.Parse(f.Magnitude.Dim, words)
	if err != nil {
		return 0, flagProblem("--fault "+f.ID, err)
	}
	if v <= 0 {
		return 0, problemf("one from "+bounds(f.Magnitude.Dim, &f.Magnitude.Low, &f.Magnitude.High), "--fault %s: a magnitude must be greater than 0", f.ID)
	}
	for _, c := range f.Changes {
		k, ok := system.LookupParam(c.Target)
		if ok && c.How == "magnitude" && (v < k.Lo || v > k.Hi) {
			return 0, problemf("one from "+unit.Format(k.Dim, k.Lo)+" to "+unit.Format(k.Dim, k.Hi), "--fault %s: %s is beyond what %s can be", f.ID, words, c.Target)
		}
	}
	return v, nil
}

// settings reads --set FIGURE=VALUE and writes the values into the system.
func (s *situation) settings(args []string) error {
	var list []error
	for _, arg := range args {
		id, words, ok := strings.Cut(arg, "=")
		id = strings.TrimSpace(id)
		if !ok {
			list = append(list, problemf("--set battery.soc=\"40 %\"", "--set %s has no value", arg))
			continue
		}
		if slices.ContainsFunc(s.set, func(x setting) bool { return x.id == id }) {
			list = append(list, problemf("one value", "--set %s is given twice", id))
			continue
		}
		list = append(list, s.setOne(id, words))
	}
	return together(list)
}

func (s *situation) setOne(id, words string) error {
	flag := "--set " + id
	if i := slices.IndexFunc(s.sys.Elements, func(x system.Element) bool { return x.ID == id }); i >= 0 {
		v, err := unit.Parse(unit.Ohm, words)
		if err != nil {
			return flagProblem(flag, err)
		}
		if v < leastOhms || v > system.OpenOhms {
			return problemf("one from "+unit.Format(unit.Ohm, leastOhms)+" to "+unit.Format(unit.Ohm, system.OpenOhms), "%s: %s is not a resistance that a joint can have", flag, words)
		}
		s.sys.Elements[i].Median, s.sys.Elements[i].Spread = v, 1
		s.set = append(s.set, setting{id, unit.Ohm, v})
		return nil
	}
	k, ok := system.LookupParam(id)
	if !ok {
		return unknown("joint, wire, load or free figure", id, s.figures())
	}
	v, err := unit.Parse(k.Dim, words)
	if err != nil {
		return flagProblem(flag, err)
	}
	if v < k.Lo || v > k.Hi || k.Required && v == 0 {
		return problemf("one from "+unit.Format(k.Dim, k.Lo)+" to "+unit.Format(k.Dim, k.Hi), "%s: %s is out of the model's range", flag, words)
	}
	p := system.Param{ID: id, Name: k.About, Dim: k.Dim, Law: "normal", Median: v}
	if i := slices.IndexFunc(s.sys.Params, func(x system.Param) bool { return x.ID == id }); i >= 0 {
		s.sys.Params[i] = p
	} else {
		s.sys.Params = append(s.sys.Params, p)
	}
	s.set = append(s.set, setting{id, k.Dim, v})
	return nil
}

// leastOhms is the least resistance that is taken of a joint [Ohm].
const leastOhms = 1e-6

// figures are the names that --set takes.
func (s *situation) figures() []string {
	out := system.ParamIDs()
	for _, x := range s.sys.Elements {
		out = append(out, x.ID)
	}
	return out
}

// question is a procedure as it is asked on the day: places that it does not
// name stand as the vehicle rolls in.
func (s *situation) question(p *question.Procedure) (question.Question, error) {
	t, err := p.Target(s.sys)
	if err != nil {
		return question.Question{}, err
	}
	set := s.day
	set.Rig = s.sys.Rig.Rest
	for i := range s.sys.Rig.Places {
		for k := range s.sys.Rig.Places[i].Positions {
			if t.Positions[i]>>k&1 == 1 {
				set.Rig = set.Rig.With(i, k)
				break
			}
		}
	}
	set.Engine = question.EngineSpeed(&s.sys.Rig, set.Rig)
	set.Hold = p.Hold
	return question.Question{Procedure: p.ID, Setup: set, Seek: p.Seek()}, nil
}

// components spread the faults' magnitudes: one point where it was given, else
// equal parts of the range that the system file states.
func (s *situation) components() []prediction.Component {
	out := []prediction.Component{{}}
	open := 0
	for k, f := range s.hyp.Faults {
		if s.sys.Faults[f].Magnitude != nil && s.given[k] == nil {
			open++
		}
	}
	n := 9 // parts narrow enough for a straight line
	if open > 1 {
		n = 5
	}
	for k, f := range s.hyp.Faults {
		m := s.sys.Faults[f].Magnitude
		if m == nil {
			continue
		}
		var next []prediction.Component
		for _, c := range out {
			if v := s.given[k]; v != nil {
				c.Mean[k] = math.Log10(*v)
				next = append(next, c)
				continue
			}
			for i := range n {
				c.Mean[k], c.SD[k] = prediction.MagnitudeComponent(m, i, n)
				next = append(next, c)
			}
		}
		out = next
	}
	return out
}

// middle is one vehicle for all: every free figure at its median, magnitudes as
// given or half way on a log scale.
func (s *situation) middle() prediction.Component {
	var c prediction.Component
	for k, f := range s.hyp.Faults {
		m := s.sys.Faults[f].Magnitude
		switch {
		case s.given[k] != nil:
			c.Mean[k] = math.Log10(*s.given[k])
		case m != nil:
			c.Mean[k], _ = prediction.MagnitudeComponent(m, 0, 1)
		}
	}
	return c
}

// faultWords names the faults with their magnitudes.
func (s *situation) faultWords() string {
	if len(s.hyp.Faults) == 0 {
		return "sound: no fault"
	}
	var words []string
	for k, f := range s.hyp.Faults {
		x := &s.sys.Faults[f]
		w := x.Name
		switch {
		case s.given[k] != nil:
			w += ", " + unit.Format(x.Magnitude.Dim, *s.given[k])
		case x.Magnitude != nil:
			w += ", anywhere from " + unit.Format(x.Magnitude.Dim, x.Magnitude.Low) + " to " + unit.Format(x.Magnitude.Dim, x.Magnitude.High)
		}
		words = append(words, w)
	}
	return strings.Join(words, "; and ")
}
