package advice

import (
	"fmt"
	"slices"
	"strings"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
	"chargewright/unit"
)

// describeNext puts the steps of a plan into words. The first one says what it
// would read under each cause, and the others where all is set.
func (d *Desk) describeNext(a *Advice, in Input, b *diagnosis.Belief, plan planning.Plan, all bool) error {
	a.Next = []Step{}
	top := in.Settings.Top
	if top <= 0 {
		top = DefaultSettings().Top
	}
	for i, s := range plan.Next {
		if i == top {
			break
		}
		out, err := d.step(in, b, s, all || i == 0)
		if err != nil {
			return err
		}
		out.Cut, out.Work = plan.Cut, plan.Work
		a.Next = append(a.Next, out)
	}
	return nil
}

// Step describes one step of a plan in full.
func (d *Desk) Step(in Input, b *diagnosis.Belief, s planning.Step) (Step, error) {
	return d.step(in, b, s, true)
}

// step describes one step; whole says whether with what it would read.
func (d *Desk) step(in Input, b *diagnosis.Belief, s planning.Step, whole bool) (Step, error) {
	out := Step{
		Do: string(s.Do), Minutes: Minutes{Work: s.Minutes, Hookup: s.Rigging, Waiting: s.Waiting}, Money: s.Money,
		Bits: s.Bits, Chance: s.Chance, Tells: []string{}, Warn: []string{}, Expect: []Expect{}, Confirm: []At{}, Hookup: []Move{},
		FromRig: d.rig(in.Rig), Body: Body{Lines: []string{}, Cautions: []Cautions{}},
	}
	for _, c := range s.Separates {
		out.Tells = append(out.Tells, d.classID(c))
	}
	if s.Procedure == nil {
		return out, d.act(&out, in, s)
	}
	out.Why = d.why(s)
	p := s.Procedure
	out.Name = p.Name
	out.ToRig = d.rig(s.To)
	out.Confirm = d.confirm(in, s)
	out.Hookup = d.moves(s.Hookup)
	out.Body.Procedure, out.Body.Lines, out.Body.Cautions = p.ID, p.Do, d.cautions(p.Cautions)
	if p.Look != nil {
		out.Body.Question, out.Body.Classes = p.Look.Question, p.Look.Classes
	}
	for _, h := range p.Hold {
		if dim, ok := question.HoldDim(h.What); ok {
			out.Body.Hold = append(out.Body.Hold, Hold{h.What, unit.ToUCUM(dim, h.Target), unit.UCUM(dim)})
		}
	}
	out.Body.Leads = d.leads(p.Measure, s.To)
	for _, l := range out.Body.Leads {
		if l.Watch {
			out.Body.Lines = append(slices.Clone(out.Body.Lines), l.ReadOff())
		}
	}
	out.LeadsAt = d.leadsAt(out)
	if whole {
		if err := d.foresee(&out, b, s); err != nil {
			return out, err
		}
	}
	out, err := d.stopFirst(in, out)
	out.LeadsStay = d.leadsStay(out)
	return out, err
}

// act fills in a step that measures nothing. It begins where the vehicle may be
// left: engine stopped, key off, our leads off.
func (d *Desk) act(out *Step, in Input, s planning.Step) error {
	park, err := d.System.Rig.Park(in.Rig)
	if err != nil {
		return err
	}
	out.Hookup, out.ToRig, out.Minutes.Hookup = d.moves(park.Steps), d.rig(park.Final), park.Minutes
	switch s.Do {
	case planning.Sound:
		out.Name = "Nothing on the list is wrong"
		out.Body.Lines = []string{"Prove it: the same readings hot, with loads on, and the drain", "Ask how it is used: short trips, long standing, added equipment"}
		for _, w := range in.Told.Use {
			if line, ok := useLines[w]; ok {
				out.Body.Lines = append(out.Body.Lines, line)
			}
		}
		out.Why = fmt.Sprintf("nothing on the list explains the readings better than a sound vehicle: %s", Odds(s.Chance))
		if n := len(in.Repairs); n > 0 && in.Repairs[n-1].Cured != "no" {
			out.Name, out.Why = "Prove the repair", "no fault on the list is left: "+Odds(s.Chance)
			out.Body.Lines = []string{"The readings of before once more: hot, with loads on, and the drain"}
			// Its readings go on from how the vehicle stands.
			out.Hookup, out.ToRig, out.Minutes.Hookup = []Move{}, d.rig(in.Rig), 0
		}
		return nil
	case planning.Beyond:
		out.Name = "Something that is not on the list"
		out.Body.Lines = []string{"Repeat the reading that fits least", "Then trace it by hand, part by part, by the maker's manual, and write down what it was"}
		out.Why = "no fault on the list explains the readings, or no test that can be done here would say more"
		return nil
	}
	out.Name = d.repairName(s.Repair)
	out.Body.Repair = s.Repair
	seen := map[string]bool{}
	for _, r := range strings.Split(s.Repair, "+") {
		rep := d.Practice.Repairs[r]
		out.Body.Lines = append(out.Body.Lines, rep.Say...)
		for _, c := range d.repairCautions(rep) {
			if !seen[c] {
				seen[c] = true
				out.Body.Cautions = append(out.Body.Cautions, d.cautions([]string{c})...)
			}
		}
	}
	out.Why = Odds(s.Chance) + " that this cures it"
	return nil
}

// cautionEarth says that the battery's earthed cable comes off first.
const cautionEarth = "c13"

// repairCautions are a repair's own cautions and, where it takes the battery's earthed
// cable off, those that the vehicle's hook-up has for the same line: what holds at the
// battery does not hang on why it is parted (docs/models/safety.md R41).
func (d *Desk) repairCautions(r system.Repair) []string {
	out := slices.Clone(r.Cautions)
	if !slices.Contains(out, cautionEarth) {
		return out
	}
	for _, p := range d.System.Rig.Places {
		if p.Role != "earth-cable" {
			continue
		}
		for _, m := range p.Moves {
			for _, c := range m.Cautions {
				if m.From == 0 && !slices.Contains(out, c) {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// why says in words what a test is for.
func (d *Desk) why(s planning.Step) string {
	if s.Do == planning.Repeat {
		return "the reading before does not fit the others: take it again with the leads re-seated"
	}
	if len(s.Separates) == 2 {
		return d.tellsApart(s.Separates[0], s.Separates[1])
	}
	return s.Procedure.Settles
}

// tellsApart says which two cures a test tells apart. What both need is no part of it,
// and the one that there is something to mend for is named first.
func (d *Desk) tellsApart(a, b string) string {
	if a == "" || a == noneOf {
		a, b = b, a
	}
	if a == "" || b == "" || b == noneOf {
		return "tells " + d.className(a) + " from " + d.className(b)
	}
	onlyA, onlyB := without(a, b), without(b, a)
	switch {
	case onlyA == "":
		return "tells whether it needs " + d.className(onlyB) + " as well"
	case onlyB == "":
		return "tells whether it needs " + d.className(onlyA) + " as well"
	}
	return "tells " + d.className(onlyA) + " from " + d.className(onlyB)
}

// without is what one cure needs and another does not.
func without(class, other string) string {
	theirs := planning.SplitClass(other)
	return strings.Join(slices.DeleteFunc(slices.Clone(planning.SplitClass(class)), func(r string) bool { return slices.Contains(theirs, r) }), "+")
}

func (d *Desk) classID(class string) string {
	if class == "" {
		return noFault
	}
	return class
}

// className puts a repair class of the planner into words.
func (d *Desk) className(class string) string {
	switch class {
	case "":
		return "nothing wrong just now" // sound, or a fault that does not show
	case noneOf:
		return "something not on the list"
	}
	return "'" + d.repairName(class) + "'"
}

// rig is a state by ids, every place.
func (d *Desk) rig(s rig.State) map[string]string {
	out := map[string]string{}
	for i, p := range d.System.Rig.Places {
		out[p.ID] = p.Positions[s.At(i)].ID
	}
	return out
}

func (d *Desk) moves(steps []rig.Step) []Move {
	out := []Move{}
	for _, s := range steps {
		p := d.System.Rig.Places[s.Place]
		out = append(out, Move{
			Place: p.ID, From: p.Positions[s.Move.From].ID, To: p.Positions[s.Move.To].ID,
			Say: s.Move.Say, Minutes: s.Move.Minutes, Cautions: d.cautions(s.Move.Cautions),
		})
	}
	return out
}

// confirm lists what a step takes for granted and nobody has seen: places that
// act on the circuit and that no move of the step touches.
func (d *Desk) confirm(in Input, s planning.Step) []At {
	out := []At{}
	touched := uint64(0)
	for _, h := range s.Hookup {
		touched |= 1 << h.Place
	}
	for i, p := range d.System.Rig.Places {
		if (in.Known|touched)>>i&1 == 1 {
			continue
		}
		acts := false
		for _, q := range p.Positions {
			acts = acts || len(q.Sets) > 0 || q.Engine > 0
		}
		if acts {
			out = append(out, at(d.System, i, in.Rig.At(i)))
		}
	}
	return out
}

func (d *Desk) cautions(ids []string) []Cautions {
	out := []Cautions{}
	for _, id := range ids {
		for _, c := range d.System.Cautions {
			if c.ID == id {
				out = append(out, Cautions{c.ID, c.Text})
			}
		}
	}
	return out
}
