package advice

import (
	"errors"
	"slices"

	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// Way is a procedure that can be done on the system, chosen or not.
type Way struct {
	ID, Name, Where, Settles string
	Look                     bool
	Minutes                  string
	Done                     int    // times since the last repair
	Barred                   string // why not, "" = it can be done
	Cautions                 []Cautions
}

// Ways lists every procedure of the system by name: what may be done instead
// of the step that is proposed.
func (s *Standing) Ways() []Way {
	state := s.State(s.In, s.Belief)
	var out []Way
	for i, p := range s.Board.Procs {
		w := Way{ID: p.ID, Name: p.Name, Where: p.Where, Settles: p.Settles, Look: p.Look != nil, Done: state.Done[p.ID]}
		minutes := s.work(p.ID)
		way, err := s.Board.Way(s.In.Rig, i)
		switch {
		case err != nil:
			w.Barred = "no safe way leads there from the present hook-up"
		case s.In.CouldNot[p.ID] != "":
			w.Barred = "could not be done: " + s.In.CouldNot[p.ID]
		case state.Barred[p.ID]:
			w.Barred = "not with the meters that are to hand, or not on this battery as it is"
		}
		if err == nil {
			w.Minutes = MinutesWords(minutes + way.Minutes)
		}
		out = append(out, w)
	}
	slices.SortStableFunc(out, func(a, b Way) int {
		switch {
		case a.Where != b.Where:
			return -compare(a.Where, b.Where) // vehicle before bench
		}
		return compare(a.Name, b.Name)
	})
	return out
}

func compare(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// work is the attended minutes of a procedure.
func (d *Desk) work(id string) float64 {
	const usual = 3 // what most take (memory)
	if w, ok := d.Practice.Procedures[id]; ok {
		return w.Attended
	}
	return usual
}

// Take is the step of a procedure that somebody chooses, with its hook-up from
// how the vehicle stands now. The problem says why it cannot be done.
func (s *Standing) Take(id string) (Step, error) {
	i := slices.IndexFunc(s.Board.Procs, func(p *question.Procedure) bool { return p.ID == id })
	if i < 0 {
		return Step{}, errors.New("no test of this system is called " + id)
	}
	way, err := s.Board.Way(s.In.Rig, i)
	if err != nil {
		return Step{}, err
	}
	p := s.Board.Procs[i]
	do := planning.Test
	if p.Look != nil {
		do = planning.Look
	}
	st := planning.Step{
		Do: do, Procedure: p, Question: s.Board.Question(i, s.In.Day), Hookup: way.Steps, To: way.Final,
		Minutes: s.work(id), Rigging: way.Minutes,
	}
	st.Question.Setup.Rig = way.Final
	for k, x := range s.Advice.Next {
		switch {
		case x.Body.Procedure != id:
		case k == 0:
			return x, nil
		default:
			err := s.foresee(&x, &s.Belief, st)
			return x, err
		}
	}
	return s.Step(s.In, &s.Belief, st)
}

// Mend is the step of a repair that somebody chooses: the proposed one, or one
// that cures a suspect.
func (s *Standing) Mend(class string) (Step, error) {
	for _, x := range s.Advice.Next {
		if x.Body.Repair == class && x.Do == string(planning.Repair) {
			return x, nil
		}
	}
	if s.repairName(class) == "" {
		return Step{}, errors.New("no repair is called " + class)
	}
	st := planning.Step{Do: planning.Repair, Repair: class}
	for _, r := range planning.SplitClass(class) {
		rep := s.Practice.Repairs[r]
		st.Minutes, st.Money = st.Minutes+rep.Attended, st.Money+rep.Parts
	}
	for i := range s.Belief.Hyps {
		if planning.Remaining(&s.Belief, i) == class {
			st.Chance += s.Belief.Posterior(i)
		}
	}
	return s.Step(s.In, &s.Belief, st)
}

// Refused says why something that was asked for is not done, in words for the
// place where it was asked.
type Refused struct{ What, Instead string }

func (r *Refused) Error() string { return r.What }

// Free is the step of a free reading between two points, as the vehicle stands
// or, for ohms, with the circuit dead. What cannot be read, or would hurt
// somebody or a meter, is a *Refused.
func (s *Standing) Free(kind, red, black string) (Step, error) {
	if err := s.freePoints(red, black); err != nil {
		return Step{}, err
	}
	o := question.Observable{Kind: question.Kind(kind), Red: red, Black: black, Meter: "dmm", Note: kindWords[kind]}
	setup, hookup, minutes := s.In.Day, []rig.Step{}, 0.0
	setup.Rig = s.In.Rig
	cautions := []string{"c14"}
	switch question.Kind(kind) {
	case question.Volts, question.ACVolts:
		if question.EngineSpeed(&s.System.Rig, s.In.Rig) > 0 {
			cautions = append(cautions, "c52", "c25")
		}
	case question.Ohms:
		dead, err := s.dead()
		if err != nil {
			return Step{}, err
		}
		setup.Rig, hookup, minutes = dead.Final, dead.Steps, dead.Minutes
		cautions = append(cautions, "c57")
	default:
		return Step{}, &Refused{"Amps flow through a wire, not between two points.", "Choose the wire instead, and clamp round it."}
	}
	return s.free(o, setup, hookup, minutes, cautions)
}

// FreeAmps is a free reading with a clamp meter round a joint, wire or load.
func (s *Standing) FreeAmps(element string) (Step, error) {
	i := slices.IndexFunc(s.System.Elements, func(e system.Element) bool { return e.ID == element })
	if i < 0 {
		return Step{}, &Refused{"There is no wire called " + element + ".", "Choose one from the list."}
	}
	if !s.clampable(s.System.Elements[i]) {
		return Step{}, &Refused{"A clamp meter does not reach round the " + s.System.Elements[i].Name + ".", "Choose a wire that can be reached."}
	}
	setup := s.In.Day
	setup.Rig = s.In.Rig
	o := question.Observable{Kind: question.Amps, Through: element, Meter: "dc-clamp", Note: "amps"}
	return s.free(o, setup, nil, 0, []string{"c14", "c25"})
}

func (s *Standing) free(o question.Observable, setup question.Setup, hookup []rig.Step, minutes float64, cautions []string) (Step, error) {
	setup.Engine = question.EngineSpeed(&s.System.Rig, setup.Rig)
	setup.Known = s.In.Known
	st := planning.Step{
		Do:        planning.Test,
		Procedure: &question.Procedure{Name: Capital(s.readingName(question.Reading{Question: question.Question{Seek: []question.Observable{o}}})), Where: "vehicle", Measure: []question.Observable{o}, Cautions: cautions, Settles: "your own choice"},
		Question:  question.Question{Setup: setup, Seek: []question.Observable{o}},
		Hookup:    hookup, To: setup.Rig, Minutes: 1, Rigging: minutes,
	}
	out, err := s.Step(s.In, &s.Belief, st)
	if err != nil {
		return out, &Refused{"That cannot be read here: " + err.Error() + ".", "Choose other points, or change the hook-up first."}
	}
	return out, nil
}

var kindWords = map[string]string{"volts": "volts", "ac-volts": "AC volts", "ohms": "ohms"}

func (s *Standing) freePoints(red, black string) error {
	if red == black {
		return &Refused{"Both leads are on the same point: that always reads nothing.", "Put the black lead on another point."}
	}
	for _, id := range []string{red, black} {
		i := slices.IndexFunc(s.System.Points, func(p system.Point) bool { return p.ID == id })
		switch {
		case i < 0:
			return &Refused{"There is no point called " + id + ".", "Tap a numbered point."}
		case s.System.Points[i].Number == 0:
			return &Refused{Capital(s.System.Points[i].Name) + " cannot be touched with a lead.", "Tap a numbered point."}
		case s.inside(id) && !s.onBench():
			return &Refused{Capital(s.System.Points[i].Name) + " lies inside the alternator: it is reached on the bench only.", "Use the field blades, or take the alternator to the bench first."}
		}
	}
	return nil
}

func (s *Standing) inside(point string) bool {
	return point == s.System.Machine.RingA || point == s.System.Machine.RingB
}

func (s *Standing) onBench() bool {
	for i, p := range s.System.Rig.Places {
		if p.Role == "bench" && s.In.Rig.At(i) != s.System.Rig.Rest.At(i) {
			return true
		}
	}
	return false
}

// dead is the way to where ohms may be read: engine and ignition off, the earth
// cable off (docs/models/safety.md R21).
func (s *Standing) dead() (rig.Plan, error) {
	r := &s.System.Rig
	target := r.ParkTarget()
	found := false
	for i, p := range r.Places {
		if p.Role != "earth-cable" {
			continue
		}
		found = true
		for k := range p.Positions {
			if k != r.Rest.At(i) {
				target.Positions[i] = 1 << k
			}
		}
	}
	if !found {
		return rig.Plan{}, &Refused{"Ohms are read with the circuit dead, and this system does not say how the battery comes off.", "Read volts instead."}
	}
	plan, err := r.Path(s.In.Rig, target)
	if err != nil {
		return plan, &Refused{"Ohms are read with the circuit dead, and no safe way leads there from how the vehicle stands.", "Park the vehicle first: engine off, key off, leads off."}
	}
	return plan, nil
}

// clampable says whether a clamp meter reaches round an element.
func (s *Standing) clampable(e system.Element) bool {
	return (e.Kind == system.Wire || e.Kind == system.Joint) && !s.inside(e.From) && !s.inside(e.To)
}

// Branches are the wires that a clamp meter reaches.
func (s *Standing) Branches() []Named {
	var out []Named
	for _, e := range s.System.Elements {
		if e.Kind == system.Wire && s.clampable(e) {
			out = append(out, Named{e.ID, Capital(e.Name)})
		}
	}
	return out
}

// Points are the test points that can be tapped, by number.
func (s *Standing) Points() []Point {
	var out []Point
	for _, p := range s.System.Points {
		if p.Number > 0 && (!s.inside(p.ID) || s.onBench()) {
			out = append(out, Point{p.ID, p.Name, p.Number, p.Terminal})
		}
	}
	slices.SortFunc(out, func(a, b Point) int { return a.Number - b.Number })
	return out
}

// sortBy puts the largest first and keeps the order of equals.
func sortBy[T any](list []T, of func(T) float64) {
	slices.SortStableFunc(list, func(a, b T) int {
		switch {
		case of(a) > of(b):
			return -1
		case of(a) < of(b):
			return 1
		}
		return 0
	})
}
