package fit

import (
	"fmt"
	"strings"

	"chargewright/internal/yamlread"
	"chargewright/system"
	"chargewright/unit"
)

// Format is the newest figures-file format that is read.
const Format = 1

// Figures is a figures file as read: what a manual says of one vehicle, and the
// arrangement of the library that the vehicle is of.
type Figures struct {
	Format          int
	ID, Name, About string
	Template        *system.System
	Manual          string // what the pages are of
	Basis           system.Basis

	PolePairs   int     // 0: the template's
	PulleyRatio float64 // 0: the template's, and then no figure is by engine speed
	Machine     Origin  // of these two
	AmpHours    float64 // battery's rated capacity [Ah]; 0: the template's
	Battery     Origin
	Wires       []Wire
	List        []Figure // all that has a tolerance, in the order of the file's sections
}

// Origin is where a figure stands in the manual.
type Origin struct {
	Page  string
	Basis system.Basis
	Pos   yamlread.Pos
}

// Wire is a wire whose size and length the manual gives.
type Wire struct {
	ID           string
	Area, Length float64 // [m2] [m]
	Origin
}

// Kind is a kind of figure; it is the key of its section in the file.
type Kind string

// The kinds of figure.
const (
	Output       Kind = "outputs"       // amps at volts and a speed
	CutIn        Kind = "cut-in"        // speed at which output begins
	FieldCurrent Kind = "field-current" // amps at volts across the field
	Rotor        Kind = "rotor"         // ohms between the rings
	Stator       Kind = "stator"        // ohms between two ends of the winding
	Regulated    Kind = "regulated"     // volts at a temperature of the regulator
	ColdCranking Kind = "cold-cranking" // amps of the battery at -18 degC
)

// Figure is one figure with what it holds for. Low and High are the ends of its
// range; one of them may be open.
type Figure struct {
	Kind      Kind
	ID        string
	Low, High *float64 // SI
	Range     bool     // given by its ends, not with a tolerance

	Volts     float64  // at the output, across the field, or of the cranking test [V]
	Amps      float64  // cut-in: the output that counts as begun [A]
	Speed     float64  // of outputs [rad/s]
	Engine    bool     // the speed is the engine's
	Kelvin    float64  // of the windings, or of the regulator [K]
	FieldAmps *float64 // field current held [A]; nil: as FieldVolts give
	FieldVolt *float64 // volts across the field [V]; nil: those of the output
	LessField bool     // amps are what the machine's own field leaves
	AtBattery bool     // regulated volts are the battery's, not the regulator's
	Standard  string   // of the cranking test
	Origin
}

// dims of what the kinds of figure give.
var dims = map[Kind]unit.Dim{
	Output: unit.Amp, CutIn: unit.AngularSpeed, FieldCurrent: unit.Amp, Rotor: unit.Ohm,
	Stator: unit.Ohm, Regulated: unit.Volt, ColdCranking: unit.Amp,
}

// Dim is the kind of quantity of the figure's value.
func (f *Figure) Dim() unit.Dim { return dims[f.Kind] }

// oneSidedShare is how far a figure that is only a least or a most may be missed
// before it counts as one tolerance, as a share of it (common practice: meters
// and hands of the time read to some 5 %).
const oneSidedShare = 0.05

// middle is what a figure says and how far it may be off either way: the middle
// of its range and half of it. A figure with an open end says its end.
func (f *Figure) middle() (at, half float64) {
	switch {
	case f.High == nil:
		return *f.Low, oneSidedShare * *f.Low
	case f.Low == nil:
		return *f.High, oneSidedShare * *f.High
	}
	return (*f.Low + *f.High) / 2, (*f.High - *f.Low) / 2
}

// Misfit is how far a prediction lies from the figure, in its own tolerance: 1
// is the end of the range. A figure with an open end is missed on one side only.
func (f *Figure) Misfit(predicted float64) float64 {
	at, half := f.middle()
	x := (predicted - at) / half
	switch {
	case f.High == nil:
		return min(x, 0)
	case f.Low == nil:
		return max(x, 0)
	}
	return x
}

// Given is the figure as it is said.
func (f *Figure) Given() string {
	at, half := f.middle()
	switch {
	case f.High == nil:
		return "at least " + unit.Format(f.Dim(), at)
	case f.Low == nil:
		return "at most " + unit.Format(f.Dim(), at)
	case f.Range:
		return unit.Format(f.Dim(), *f.Low) + " to " + unit.Format(f.Dim(), *f.High)
	case f.Dim() == unit.Volt: // a share of a voltage says little
		return unit.Format(f.Dim(), at) + " +- " + unit.Format(f.Dim(), half)
	}
	return fmt.Sprintf("%s +- %.3g %%", unit.Format(f.Dim(), at), 100*half/at)
}

// Words say what the figure is of and what it holds for.
func (f *Figure) Words() string {
	speed := func(v float64, engine bool) string {
		who := "alternator"
		if engine {
			who = "engine"
		}
		return strings.Replace(unit.Format(unit.AngularSpeed, v), " rpm", " "+who+" rpm", 1)
	}
	volts, warm := unit.Format(unit.Volt, f.Volts), unit.Format(unit.Kelvin, f.Kelvin)
	switch f.Kind {
	case Output:
		s := fmt.Sprintf("output at %s and %s, windings %s", volts, speed(f.Speed, f.Engine), warm)
		switch {
		case f.FieldAmps != nil:
			s += ", field " + unit.Format(unit.Amp, *f.FieldAmps)
		case f.FieldVolt != nil:
			s += ", field at " + unit.Format(unit.Volt, *f.FieldVolt)
		}
		if f.LessField {
			s += ", less the field"
		}
		return s
	case CutIn:
		who := "alternator"
		if f.Engine {
			who = "engine"
		}
		return fmt.Sprintf("cut-in speed of the %s at %s, windings %s", who, volts, warm)
	case FieldCurrent:
		return fmt.Sprintf("field current at %s, %s", volts, warm)
	case Rotor:
		return "rotor between its rings at " + warm
	case Stator:
		return "stator between two ends at " + warm
	case Regulated:
		at := "regulator"
		if f.AtBattery {
			at = "battery"
		}
		return fmt.Sprintf("regulated volts at the %s, regulator at %s", at, warm)
	case ColdCranking:
		return fmt.Sprintf("cold-cranking amps (%s: %s at -18 °C)", f.Standard, volts)
	}
	return string(f.Kind)
}

// source says where a figure stands, for the system file and for people.
func (x *Figures) source(o Origin) string { return x.Manual + ", p. " + o.Page }

// sources says where several figures stand.
func (x *Figures) sources(list []Origin) string {
	var pages []string
	seen := map[string]bool{}
	for _, o := range list {
		if !seen[o.Page] {
			seen[o.Page] = true
			pages = append(pages, o.Page)
		}
	}
	return x.Manual + ", p. " + strings.Join(pages, ", ")
}
