package fit

import (
	"fmt"
	"math"
	"strings"

	"chargewright/system"
	"chargewright/unit"
)

// notes says what a reader of the fit should know beside its numbers.
func (s *solver) notes(r *Result, f *found, limits []limitChange) {
	add := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	for _, k := range r.Unknowns {
		switch {
		case k.Bound:
			add("%s stands at the end of what is searched, %s: the arrangement or a unit may be another.", upper(k.Name), unit.Format(k.Dim, k.Fitted.Median))
		case math.Abs(k.Far) > far:
			add("%s, %s, lies far outside what machines of the class have (%s to %s): look at the figures it rests on: %s.",
				upper(k.Name), unit.Format(k.Dim, k.Fitted.Median), unit.Format(k.Dim, k.Prior.Low), unit.Format(k.Dim, k.Prior.High), strings.Join(k.FiguresThatSay, ", "))
		}
	}
	if r.Others > 0 {
		add("%s fits the figures nearly as well: a figure at another speed would tell them apart.", plural(r.Others, "other machine", "other machines"))
	}
	for i := range r.Fitted {
		s.figureNotes(&r.Fitted[i], add)
	}
	s.looserNote(r, f, add)
	t := s.x.Template
	if s.x.PolePairs == 0 {
		add("Pole pairs (%d) are the template's: they do not change the fit, but the ripple's frequency.", t.Machine.PolePairs)
	}
	if s.x.PulleyRatio == 0 {
		add("The pulley ratio (%.3g) is the template's: what the engine's speed gives rests on it.", t.Machine.PulleyRatio)
	}
	if s.x.AmpHours == 0 {
		add("The battery is the template's, %g Ah.", t.Battery.AmpHours)
	}
	if left := s.wiresLeft(); len(left) > 0 {
		add("Wires with the template's size and length: %s.", strings.Join(left, ", "))
	}
	add("Diodes, joints, loads and faults are the template's.")
	for _, l := range limits {
		if l.drop {
			add("%s.", upper(l.said))
		}
	}
}

// Bounds from where on a figure gets a note: the time domain off by more than
// the model's share allows for, the system file's own spread much wider.
const (
	tableOff = 0.02
	looser   = 1.5
)

func (s *solver) figureNotes(x *Fitted, add func(string, ...any)) {
	if x.TimeDomain != nil && math.Abs(*x.TimeDomain-x.Predicted) > tableOff*math.Abs(x.Predicted) {
		add("%s: the time-domain solver gives %s where the tables give %s: the fit leans on the tables outside their best.",
			x.ID, unit.Format(unit.Amp, *x.TimeDomain), unit.Format(unit.Amp, x.Predicted))
	}
	if why := s.unlifted[x.ID]; why != "" {
		add("%s: how much the battery has over the regulator is not known here and taken as nothing: %s.", x.ID, why)
	}
	if k := s.x.Template.Volts / 12; x.Kind == Regulated && (x.Predicted < 13.2*k || x.Predicted > 15*k) {
		add("%s: the regulator model holds its compensation within %.3g to %.3g V, so the system file will give less than %s there.",
			x.ID, 13.2*k, 15*k, unit.Format(unit.Volt, x.Predicted))
	}
}

// looserNote says which output a system file knows much worse than the figures
// do, as its spreads stand side by side, and which unknown makes it so.
func (s *solver) looserNote(r *Result, f *found, add func(string, ...any)) {
	worst := -1
	for k := range r.Fitted {
		x := &r.Fitted[k]
		if x.Kind == Output && x.InFile > looser*x.Spread && x.InFile > 0.02*math.Abs(x.Predicted) &&
			(worst < 0 || x.InFile/x.Predicted > r.Fitted[worst].InFile/r.Fitted[worst].Predicted) {
			worst = k
		}
	}
	if worst < 0 {
		return
	}
	file, most := s.fileCovariance(f), 0
	part := func(i int) float64 { return f.j.At(worst, i) * f.j.At(worst, i) * file[i] }
	for i := range s.free {
		if part(i) > part(most) {
			most = i
		}
	}
	x := &r.Fitted[worst]
	add("The figures know %s to %s, the system file only to %s (one standard deviation), because its spreads cannot say that unknowns go along. Most of it is the %s. What narrows it: %s.",
		x.ID, percent1(x.Spread/x.Predicted), percent1(x.InFile/x.Predicted), s.free[most].name, s.free[most].settle)
}

func percent1(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// wiresLeft are the template's wires that the manual does not give.
func (s *solver) wiresLeft() (left []string) {
	given := map[string]bool{}
	for _, w := range s.x.Wires {
		given[w.ID] = true
	}
	for _, e := range s.x.Template.Elements {
		if e.Kind == system.Wire && !given[e.ID] {
			left = append(left, e.ID)
		}
	}
	return left
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
