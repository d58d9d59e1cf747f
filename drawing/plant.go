package drawing

import "chargewright/system"

// plant is one alternator with its regulator on the sheet.
type plant struct {
	system.Generator
	prefix    string // of what it is called: "", "second "
	machine   Rect
	regulator Rect
	bridge    Pt // middle of its rectifier
}

// plants are the alternators that have a place on the sheet: a plan that the program
// lays itself has one for the first alone.
func (s *Sheet) plants() []plant {
	g := s.sys.Generators()
	out := []plant{{g[0], "", s.machine, s.regulator, s.bridge}}
	if s.second != nil && len(g) > 1 {
		out = append(out, plant{g[1], "second ", s.second.machine, s.second.regulator, s.second.bridge})
	}
	return out
}

// laySecond finds a second alternator's place.
func (s *Sheet) laySecond() {
	if s.plan.SecondMachine.Box == (system.Box{}) {
		return
	}
	s.second = &plant{machine: s.boxOf(s.plan.SecondMachine.Box), regulator: s.boxOf(s.plan.SecondRegulator), bridge: s.px(s.plan.SecondMachine.Bridge)}
	s.edges = append(s.edges, outline(s.second.machine))
}

// moved is a second alternator on paper that is moved under the sheet.
func (p *plant) moved(d Pt) *plant {
	if p == nil {
		return nil
	}
	return &plant{machine: p.machine.moved(d), regulator: p.regulator.moved(d), bridge: p.bridge.add(d)}
}
