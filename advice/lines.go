package advice

import (
	"fmt"
	"slices"
	"strings"

	"chargewright/question"
	"chargewright/rig"
)

// Line is one line of a hook-up as it is worked through.
type Line struct {
	N        int
	Say      string
	Place    string     // place that the line moves; "" = it moves none
	Leads    []Lead     // meter leads that go on at this line
	Upto     int        // moves of the step that are done when this line is
	Cautions []Cautions // not shown at an earlier line
	Told     []Cautions // shown at an earlier line already
}

// Lines is a step's hook-up as a list to tick: the moves, and the meter's leads
// where they go on: before the key, the start and the load.
func (s *Standing) Lines(step Step) []Line {
	var out []Line
	told := map[string]bool{}
	add := func(l Line, list []Cautions) {
		l.N = len(out) + 1
		for _, c := range list {
			if told[c.ID] {
				l.Told = append(l.Told, c)
			} else {
				l.Cautions = append(l.Cautions, c)
			}
			told[c.ID] = true
		}
		out = append(out, l)
	}
	leads, clamps := missing(s.In, step)
	if !s.clamps(step.Hookup) { // the clamp meter is on already, or is no place
		leads, clamps = append(leads, clamps...), nil
	}
	say := s.pairs(step, leads)
	if s.leadsStay(step) {
		say = "The leads stay where they are"
	}
	for i := range len(step.Hookup) + 1 {
		if i == step.LeadsAt && len(leads) > 0 {
			add(Line{Say: say, Leads: leads, Upto: i}, step.own())
		}
		if i == len(step.Hookup) {
			break
		}
		m := step.Hookup[i]
		l := Line{Say: m.Say, Place: m.Place, Upto: i + 1}
		switch {
		case s.fitsClamp(m):
			l.Leads, clamps = clamps, nil
		case s.role(m.Place) == roleWatch:
			l.Say += step.readOff()
		}
		add(l, m.Cautions)
	}
	return out
}

const roleWatch = "watch-meter"

// readOff says at the watch meter which box is read off it.
func (step Step) readOff() string {
	for _, l := range step.Body.Leads {
		if l.Watch {
			return ". " + Capital(l.Box) + ": read them off it"
		}
	}
	return ""
}

// leadsStay says whether the engine turns from before a step to its reading. stopFirst
// has seen then that no lead need move.
func (d *Desk) leadsStay(step Step) bool {
	return d.turns(step.FromRig) && !d.stops(step.Hookup)
}

// leadsAt is how many moves of a step's hook-up come before the meter's leads: they
// go on before the key, the start and the load. Where the engine turns throughout
// they are on.
func (d *Desk) leadsAt(step Step) int {
	if d.leadsStay(step) {
		return 0
	}
	for i, m := range step.Hookup {
		if d.starts(m) || d.keysOn(m) || d.loads(m) {
			return i
		}
	}
	return len(step.Hookup)
}

// loads says whether a move makes the load tester draw: what it draws for seconds
// is for reading, not for clipping on.
func (d *Desk) loads(m Move) bool {
	for _, p := range d.System.Rig.Places {
		if p.ID == m.Place && p.Role == "load-bank" {
			return slices.ContainsFunc(p.Positions, func(q rig.Position) bool { return q.ID == m.To && len(q.Sets) > 0 })
		}
	}
	return false
}

// own are a step's cautions that no move of its hook-up carries: they stand where
// the meter's leads go on.
func (step Step) own() []Cautions {
	var out []Cautions
	for _, c := range step.Body.Cautions {
		moved := slices.ContainsFunc(step.Hookup, func(m Move) bool { return slices.Contains(m.Cautions, c) })
		if !moved {
			out = append(out, c)
		}
	}
	return out
}

// missing are the leads of a step that were not ticked as on: those of the meter,
// and the clamps.
func missing(in Input, step Step) (leads, clamps []Lead) {
	for _, l := range step.Body.Leads {
		switch {
		case l.Watch, slices.Contains(in.Leads, l.Place()):
		case l.Red != nil:
			leads = append(leads, l)
		case l.Through != nil:
			clamps = append(clamps, l)
		}
	}
	return leads, clamps
}

// Place is where a lead goes, as the log keeps it: two points, or a wire.
func (l Lead) Place() string {
	switch {
	case l.Red != nil && l.Black != nil:
		return l.Red.ID + "/" + l.Black.ID
	case l.Through != nil:
		return l.Through.ID
	}
	return ""
}

// LeadsOn are the leads of a step that are on once a line is ticked: those that
// were on, and those of every line so far.
func (s *Standing) LeadsOn(step Step, line int) []string {
	var out []string
	for _, l := range step.Body.Leads {
		if slices.Contains(s.In.Leads, l.Place()) {
			out = append(out, l.Place())
		}
	}
	for _, l := range s.Lines(step) {
		for _, m := range l.Leads {
			if l.N <= line {
				out = append(out, m.Place())
			}
		}
	}
	return out
}

// pairs says how a step with several pairs of leads is read: nobody moves a lead
// while the engine turns (docs/models/safety.md R3).
func (s *Standing) pairs(step Step, leads []Lead) string {
	var kinds []string
	n := 0
	for _, l := range leads {
		if l.Red == nil {
			continue
		}
		n++
		if !slices.Contains(kinds, meterWords[l.Kind]) {
			kinds = append(kinds, meterWords[l.Kind])
		}
	}
	say := "Meter on " + strings.Join(kinds, ", then ")
	switch {
	case n == 0:
		return ""
	case n == 1:
		return say
	case s.turns(step.ToRig):
		return say + ", one at each pair. With one meter: read a pair, loads off, stop the engine, move the leads, start again"
	}
	return say + ". With one meter: read one pair after the other"
}

// meterWords are what a meter is set to before its leads go on
// (docs/models/safety.md R21).
var meterWords = map[string]string{"volts": "DC volts", "ac-volts": "AC volts", "ohms": "ohms"}

// EarthOff says whether the battery's earth cable is off: what is to be mended is
// dead, and stays so until it is mended.
func (s *Standing) EarthOff() bool {
	for i, p := range s.System.Rig.Places {
		if p.Role == "earth-cable" {
			return s.In.Rig.At(i) != s.System.Rig.Rest.At(i)
		}
	}
	return false
}

// keysOn says whether a move switches the ignition on: the time that it may stay
// on with the engine stopped is for reading, not for clipping on.
func (d *Desk) keysOn(m Move) bool {
	for _, p := range d.System.Rig.Places {
		if p.ID == m.Place && p.Role == "ignition" {
			return m.From == p.Positions[0].ID && m.To != m.From
		}
	}
	return false
}

// stopFirst leads a step whose leads must be moved through a standstill with the
// key off: nobody reaches into an engine that runs, nor leaves the coil live while
// clips are moved (cautions c52 c34; docs/models/safety.md R3 R24).
func (d *Desk) stopFirst(in Input, step Step) (Step, error) {
	if len(step.Body.Leads) == 0 || d.dark(step) || sameLeads(in, step) {
		return step, nil
	}
	r := &d.System.Rig
	var still rig.Target
	for i, p := range r.Places {
		still.Positions[i] = 1<<len(p.Positions) - 1
		if p.Role == "engine" || p.Role == "ignition" {
			still.Positions[i] = 1 << r.Rest.At(i)
		}
	}
	stop, err := r.Path(in.Rig, still)
	if err != nil {
		return step, fmt.Errorf("the leads go on with the engine stopped and the key off, and no safe way leads there: %w", err)
	}
	want, err := r.Target(step.ToRig)
	if err != nil {
		return step, err
	}
	on, err := r.Path(stop.Final, want)
	if err != nil {
		return step, err
	}
	step.Hookup = append(d.moves(stop.Steps), d.moves(on.Steps)...)
	step.Minutes.Hookup = stop.Minutes + on.Minutes
	step.LeadsAt = d.leadsAt(step)
	return step, nil
}

// dark says whether a step's leads go on with the engine stopped and the key off
// as its hook-up stands.
func (d *Desk) dark(step Step) bool {
	live := d.turns(step.FromRig) && !d.stops(step.Hookup)
	for i, p := range d.System.Rig.Places {
		if p.Role == "ignition" {
			rest := p.Positions[d.System.Rig.Rest.At(i)].ID
			off := slices.ContainsFunc(step.Hookup, func(m Move) bool { return m.Place == p.ID && m.To == rest })
			live = live || step.FromRig[p.ID] != rest && !off
		}
	}
	return !live
}

// sameLeads says whether a step's leads and clamps are on: ticked, or where the
// last reading left them.
func sameLeads(in Input, step Step) bool {
	if leads, clamps := missing(in, step); len(leads)+len(clamps) == 0 {
		return true
	}
	n := len(in.Readings)
	if n == 0 || in.Readings[n-1].Epoch != len(in.Repairs) || in.Readings[n-1].Question.Setup.Rig != in.Rig {
		return false
	}
	for _, l := range step.Body.Leads {
		here := func(o question.Observable) bool {
			switch {
			case l.Watch:
				return true
			case l.Red != nil:
				return o.Red == l.Red.ID && o.Black == l.Black.ID
			case l.Through != nil:
				return o.Through == l.Through.ID
			}
			return true
		}
		if !slices.ContainsFunc(in.Readings[n-1].Question.Seek, here) {
			return false
		}
	}
	return true
}

// fitsClamp says whether a move puts the clamp meter on.
func (d *Desk) fitsClamp(m Move) bool {
	for _, p := range d.System.Rig.Places {
		if p.ID == m.Place && p.Role == "clamp" {
			return m.To != p.Positions[0].ID
		}
	}
	return false
}

func (d *Desk) clamps(moves []Move) bool { return slices.ContainsFunc(moves, d.fitsClamp) }

// Untold are a step's own cautions that none of its lines has shown.
func (step Step) Untold(lines []Line) []Cautions {
	var out []Cautions
	for _, c := range step.Body.Cautions {
		told := slices.ContainsFunc(lines, func(l Line) bool { return slices.Contains(l.Cautions, c) })
		if !told {
			out = append(out, c)
		}
	}
	return out
}

// RigAfter is where the places stand that the first moves of a step change.
func (step Step) RigAfter(moves int) map[string]string {
	out := map[string]string{}
	for i, m := range step.Hookup {
		if i < moves {
			out[m.Place] = m.To
		}
	}
	return out
}

func (d *Desk) role(place string) string {
	for _, p := range d.System.Rig.Places {
		if p.ID == place {
			return p.Role
		}
	}
	return ""
}

func (d *Desk) stops(moves []Move) bool {
	return slices.ContainsFunc(moves, func(m Move) bool { return d.role(m.Place) == "engine" && d.speed(m.Place, m.To) == 0 })
}

func (d *Desk) starts(m Move) bool {
	return d.role(m.Place) == "engine" && d.speed(m.Place, m.To) > 0 && d.speed(m.Place, m.From) == 0
}

// speed of the engine in a position; where only the starter turns it, 1.
func (d *Desk) speed(place, position string) float64 {
	for _, p := range d.System.Rig.Places {
		if p.ID != place {
			continue
		}
		for _, q := range p.Positions {
			starter := slices.ContainsFunc(q.Sets, func(set rig.Set) bool { return set.Closed })
			switch {
			case q.ID != position:
			case starter:
				return max(q.Engine, 1)
			default:
				return q.Engine
			}
		}
	}
	return 0
}

func (d *Desk) turns(rigOf map[string]string) bool {
	for _, p := range d.System.Rig.Places {
		if p.Role == "engine" {
			return d.speed(p.ID, rigOf[p.ID]) > 0
		}
	}
	return false
}

// PlaceChoice is a place with its positions, for saying how the vehicle stands.
type PlaceChoice struct {
	ID, Name  string
	Positions []Named
	Now       string
}

// Places are the places of the vehicle and how each stands now.
func (s *Standing) Places() []PlaceChoice {
	var out []PlaceChoice
	now := s.RigNow()
	for _, p := range s.System.Rig.Places {
		c := PlaceChoice{ID: p.ID, Name: Capital(p.Name), Now: now[p.ID]}
		for _, q := range p.Positions {
			c.Positions = append(c.Positions, Named{q.ID, Capital(q.Name)})
		}
		out = append(out, c)
	}
	return out
}

// Against says which rules the present hook-up breaks; nil = none.
func (s *Standing) Against() []string {
	ok, broken := s.System.Rig.Allowed(s.In.Rig)
	if ok {
		return nil
	}
	var out []string
	for _, b := range broken {
		out = append(out, Sentence(b.Why))
	}
	return out
}

// RepairChoice is a repair that cures something on this system.
type RepairChoice struct {
	ID, Name string
	Share    float64
	Percent  string
	Minutes  string
	Parts    string
}

// Repairs are the repairs that may be recorded, the likeliest cure first.
func (s *Standing) Repairs() []RepairChoice {
	share := map[string]float64{}
	for _, x := range s.Advice.Suspects {
		for _, r := range strings.Split(x.Repair, "+") {
			share[r] += x.Probability
		}
	}
	var out []RepairChoice
	for _, id := range s.Practice.RepairIDs() {
		p, cures := share[id]
		if !cures {
			continue
		}
		r := s.Practice.Repairs[id]
		out = append(out, RepairChoice{ID: id, Name: r.Name, Share: p, Percent: Percent(p), Minutes: MinutesWords(r.Attended), Parts: MoneyWords(r.Parts)})
	}
	sortBy(out, func(r RepairChoice) float64 { return r.Share })
	return out
}
