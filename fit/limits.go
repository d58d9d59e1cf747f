package fit

import (
	"fmt"
	"math"

	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// limitChange is what becomes of one of the template's limits: it is dropped, or
// gets new pairs of key and value.
type limitChange struct {
	id    string
	drop  bool
	pairs []string
	said  string // for the report
}

// speaks are the kinds of figure that a moved limit rests on, by its unit.
var speaks = map[unit.Dim][]Kind{
	unit.Amp: {Output, CutIn, FieldCurrent, Rotor, Stator},
	unit.Ohm: {Rotor, FieldCurrent, Stator},
}

// stays is how far a reading may move before its limit moves with it.
const stays = 0.005

// own says whether a limit is the template's own vehicle's and not the trade's.
func own(l *system.Limit) bool {
	return l.Basis == system.Invented || l.Basis == system.Memory || l.Basis == system.Computed
}

// pair is the template's vehicle and the fitted one.
type pair struct{ was, now *vehicle }

// limits says what becomes of the template's limits. Those of the trade stay, and
// so do those whose reading stays. Those of the template's own vehicle are set
// anew from the manual, moved with the reading, or dropped.
func (s *solver) limits(fitted []byte) ([]limitChange, error) {
	sys, err := system.Parse(s.x.ID+".yaml", fitted)
	if err != nil {
		return nil, err
	}
	var v pair
	if v.now, err = newVehicle(sys); err != nil {
		return nil, err
	}
	if v.was, err = newVehicle(s.x.Template); err != nil {
		return nil, err
	}
	var out []limitChange
	for i := range s.x.Template.Limits {
		l := &s.x.Template.Limits[i]
		_, moves := speaks[l.Dim]
		switch {
		case !own(l):
		case l.Dim == unit.Volt && l.PerKelvin != 0:
			out = append(out, s.regulatedLimit(l, v)...)
		case l.Procedure == rings && len(s.of(Rotor)) > 0:
			out = append(out, s.rotorLimit(l, s.of(Rotor)[0]))
		case moves:
			out = append(out, s.movedLimit(l, v)...)
		}
	}
	return out, nil
}

// rings is the test of the rotor at its rings.
const rings = "bench-rotor-ohms"

// reads is what both vehicles read where a limit stands.
func (v pair) reads(l *system.Limit) (was, now float64, err error) {
	same := func(*question.Setup) {}
	if was, err = v.was.read(l.Procedure, l.Value, 0, same); err != nil {
		return 0, 0, err
	}
	now, err = v.now.read(l.Procedure, l.Value, 0, same)
	return was, now, err
}

func dropped(l *system.Limit, why string) limitChange {
	return limitChange{id: l.ID, drop: true, said: fmt.Sprintf("limit %s of the template is left out: %s", l.ID, why)}
}

// of lists the figures of some kinds.
func (s *solver) of(kinds ...Kind) (list []*Figure) {
	for _, k := range kinds {
		for _, f := range s.list {
			if f.Kind == k {
				list = append(list, f)
			}
		}
	}
	return list
}

// origins of figures.
func origins(list []*Figure) (out []Origin) {
	for _, f := range list {
		out = append(out, f.Origin)
	}
	return out
}

// movedLimit moves a limit by what the fitted vehicle reads over what the
// template's reads.
func (s *solver) movedLimit(l *system.Limit, v pair) []limitChange {
	a, b, err := v.reads(l)
	list := s.of(speaks[l.Dim]...)
	switch {
	case err != nil && l.Basis != system.Invented:
		return nil // not the vehicle's, as far as is known
	case err != nil || a == 0 || !(b/a > 0):
		return []limitChange{dropped(l, "what "+l.Procedure+" reads on this vehicle cannot be predicted")}
	case math.Abs(b/a-1) < stays:
		return nil
	case len(list) == 0:
		return []limitChange{dropped(l, "the manual gives no figure for it")}
	}
	end := func(v *float64) string {
		if v == nil {
			return ""
		}
		return rounded(l.Dim, *v*b/a)
	}
	return []limitChange{{id: l.ID, pairs: []string{
		"low", end(l.Low), "high", end(l.High),
		"condition", fmt.Sprintf("as %s is done here; the fitted machine reads %s there", l.Procedure, rounded(l.Dim, b)),
		"source", fmt.Sprintf("the limit of %s, moved by the fitted machine over its own; fitted to %s", s.x.Template.ID, s.x.sources(origins(list))),
		"basis", string(system.Computed),
	}}}
}

// rotorLimit is the manual's range, at 20 degC.
func (s *solver) rotorLimit(l *system.Limit, f *Figure) limitChange {
	end := func(v *float64) string {
		if v == nil {
			return ""
		}
		return rounded(unit.Ohm, *v/copper(f.Kelvin))
	}
	basis := f.Basis
	if math.Abs(f.Kelvin-copperAt) > 1 {
		basis = system.Computed
	}
	return limitChange{id: l.ID, pairs: []string{
		"low", end(f.Low), "high", end(f.High), "condition", "20 °C, at the rings; 0.39 % more for each K",
		"source", s.x.source(f.Origin) + ", given at " + plain(unit.Kelvin, f.Kelvin), "basis", string(basis),
	}}
}

// regulatedLimit is the manual's range of regulated volts, moved to 27 degC with
// the fitted slope, where the manual's are taken at the same place; of several
// the one nearest to 27 degC counts. Elsewhere the limit goes with the reading.
func (s *solver) regulatedLimit(l *system.Limit, v pair) []limitChange {
	all := s.of(Regulated)
	if len(all) == 0 {
		return []limitChange{dropped(l, "it is the template's own vehicle's, and the manual gives no regulated volts")}
	}
	var best *Figure
	for _, f := range all {
		if f.AtBattery == (l.Procedure == atBattery) && (best == nil || math.Abs(f.Kelvin-regulatorAt) < math.Abs(best.Kelvin-regulatorAt)) {
			best = f
		}
	}
	slant := paramOf(v.now.sys, "regulator.slope").Median
	shift := -slant
	var source string
	basis := system.Computed
	low, high := l.Low, l.High
	if best != nil {
		shift *= best.Kelvin - regulatorAt
		low, high = best.Low, best.High
		source, basis = s.x.source(best.Origin), best.Basis
		if math.Abs(shift) > 5e-3 { // more than the last digit
			source += ", given at " + plain(unit.Kelvin, best.Kelvin) + " and moved to 27 °C with the fitted slope"
			basis = system.Computed
		}
	} else {
		a, b, err := v.reads(l)
		if err != nil {
			return []limitChange{dropped(l, "what "+l.Procedure+" reads on this vehicle cannot be predicted")}
		}
		shift = b - a
		source = fmt.Sprintf("the limit of %s, moved by the fitted regulator over its own; fitted to %s", s.x.Template.ID, s.x.sources(origins(all)))
	}
	end := func(v *float64) string {
		if v == nil {
			return ""
		}
		return rounded(unit.Volt, *v+shift)
	}
	return []limitChange{{id: l.ID, pairs: []string{
		"low", end(low), "high", end(high), "per-kelvin", plain(unit.VoltPerKelvin, slant),
		"condition", "battery near full: output of a few amps with loads off; the regulator's own temperature",
		"source", source, "basis", string(basis),
	}}}
}

// rounded prints a limit with three figures, volts with four: no limit is known
// better.
func rounded(dim unit.Dim, v float64) string {
	if v == 0 {
		return plain(dim, 0)
	}
	figures := 3.0
	if dim == unit.Volt {
		figures = 4
	}
	scale := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))+1-figures)
	return plain(dim, math.Round(v/scale)*scale)
}
