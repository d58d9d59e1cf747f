package planning

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"chargewright/diagnosis"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// NewBoard prepares a system's procedures for planning. Procedures that do not
// apply to the system are left out.
func NewBoard(model *prediction.Model, practice *system.Practice, procs question.Catalogue, set Settings) (*Board, error) {
	b := &Board{Sys: model.Sys, Model: model, Practice: practice, Settings: set, at: map[string]int{}}
	for _, id := range procs.IDs() {
		p := procs[id]
		if ok, _ := p.Applies(b.Sys); !ok {
			continue
		}
		t, err := p.Target(b.Sys)
		if err != nil {
			return nil, err
		}
		b.at[id] = len(b.Procs)
		b.Procs = append(b.Procs, p)
		b.targets = append(b.targets, t)
		b.setups = append(b.setups, b.standing(t))
		b.looks = append(b.looks, Table(p))
	}
	b.ways = b.Sys.Rig.NewTable(b.targets)
	return b, nil
}

// Table is a procedure's confusion table, nil for a measurement.
func Table(p *question.Procedure) *diagnosis.LookTable {
	if p.Look == nil {
		return nil
	}
	return &diagnosis.LookTable{Classes: p.Look.Classes, Given: p.Look.Given, Otherwise: p.Look.Otherwise}
}

// Looks returns the confusion tables of the board's looks.
func (b *Board) Looks() []*diagnosis.LookTable {
	var out []*diagnosis.LookTable
	for _, l := range b.looks {
		if l != nil {
			out = append(out, l)
		}
	}
	return out
}

// Group joins the faults that share a repair and that nothing done on the
// vehicle separates. What only the bench can tell apart has the same cure
// anyway, and is found out on the way to it.
func (b *Board) Group(pr diagnosis.Prior) error {
	asked, err := b.Ask(question.Setup{})
	if err != nil {
		return err
	}
	var looks []*diagnosis.LookTable
	for i, p := range b.Procs {
		if p.Where != "vehicle" {
			asked[i] = nil
			continue
		}
		if b.looks[i] != nil {
			looks = append(looks, b.looks[i])
		}
	}
	b.Groups = diagnosis.NewGroups(pr, asked, looks)
	return nil
}

// LookOf finds a look's table by procedure id.
func (b *Board) LookOf(id string) *diagnosis.LookTable {
	if i, ok := b.at[id]; ok {
		return b.looks[i]
	}
	return nil
}

// Procedure finds a procedure by id.
func (b *Board) Procedure(id string) (*question.Procedure, bool) {
	i, ok := b.at[id]
	if !ok {
		return nil, false
	}
	return b.Procs[i], true
}

// standing is a target with every place it does not name at rest.
func (b *Board) standing(t rig.Target) rig.State {
	s := b.Sys.Rig.Rest
	for i := range b.Sys.Rig.Places {
		if t.Positions[i] == 0 {
			continue
		}
		for k := range rig.MaxPositions {
			if t.Positions[i]>>k&1 == 1 {
				s = s.With(i, k)
				break
			}
		}
	}
	return s
}

// Question is procedure i as it is asked in a day's conditions.
func (b *Board) Question(i int, day question.Setup) question.Question {
	p := b.Procs[i]
	s := day
	s.Rig = b.setups[i]
	s.Engine = question.EngineSpeed(&b.Sys.Rig, s.Rig)
	s.Hold = p.Hold
	return question.Question{Procedure: p.ID, Setup: s, Seek: p.Seek()}
}

// Ask compiles all measuring procedures for a day; looks have nil. A procedure
// the model refuses is reported.
func (b *Board) Ask(day question.Setup) ([]*prediction.Asked, error) {
	out := make([]*prediction.Asked, len(b.Procs))
	for i, p := range b.Procs {
		if p.Look != nil {
			continue
		}
		a, err := b.Model.Ask(b.Question(i, day))
		if err != nil {
			return nil, fmt.Errorf("procedure %s: %w", p.ID, err)
		}
		out[i] = &a
	}
	return out, nil
}

// Way is the plan of moves to procedure i.
func (b *Board) Way(from rig.State, i int) (rig.Plan, error) { return b.ways.To(from, i) }

// work returns a procedure's minutes.
func (b *Board) work(id string) system.Work {
	w, ok := b.Practice.Procedures[id]
	if !ok {
		// A workshop's own procedure without a time: what most take.
		return system.Work{Attended: 3, Elapsed: 3}
	}
	return w
}

// takes is what a procedure takes by a way to it [min]: its own work, the hook-up, and
// the waiting beyond both.
func (b *Board) takes(id string, way rig.Plan) (work, rigging, waiting float64) {
	w := b.work(id)
	return w.Attended, way.Minutes, math.Max(0, w.Elapsed-w.Attended) + math.Max(0, way.Elapsed-way.Minutes)
}

// repairCost is a repair's minutes and its parts in minutes of labour.
func (b *Board) repairCost(class string) (minutes, money, all float64) {
	for _, r := range splitClass(class) {
		rep, ok := b.Practice.Repairs[r]
		if !ok {
			rep.Attended = 60
		}
		minutes += rep.Attended
		money += rep.Parts
	}
	return minutes, money, minutes + b.InMinutes(money)
}

// InMinutes turns money into minutes of labour.
func (b *Board) InMinutes(money float64) float64 {
	if b.Practice.Labour.Amount <= 0 {
		return 0
	}
	return money * 60 / b.Practice.Labour.Amount
}

func splitClass(class string) []string {
	var out []string
	start := 0
	for i := 0; i <= len(class); i++ {
		if i == len(class) || class[i] == '+' {
			if i > start {
				out = append(out, class[start:i])
			}
			start = i + 1
		}
	}
	return out
}

func sortSteps(s []Step) {
	slices.SortStableFunc(s, func(x, y Step) int {
		if d := y.Rank - x.Rank; d > 1e-9 || d < -1e-9 {
			return cmp.Compare(y.Rank, x.Rank)
		}
		return cmp.Compare(name(x), name(y))
	})
}

func name(s Step) string {
	if s.Procedure != nil {
		return s.Procedure.ID
	}
	return s.Repair
}

// Nominal is what every fault of the library, at a middling magnitude and with
// everything else at its median, reads in every question: per fault index and
// procedure, the values. Outside faults are left out.
func (b *Board) Nominal(asked []*prediction.Asked) map[int][][]float64 {
	out := map[int][][]float64{}
	w := b.Model.Borrow()
	defer b.Model.Return(w)
	z := make([]float64, b.Model.Dims())
	for f := range b.Sys.Faults {
		fault := &b.Sys.Faults[f]
		if fault.Outside {
			continue
		}
		var comp prediction.Component
		if fault.Magnitude != nil {
			comp.Mean[0], comp.SD[0] = prediction.MagnitudeComponent(fault.Magnitude, 0, 1)
		}
		rows := make([][]float64, len(asked))
		w.Begin()
		w.Hold(prediction.Hypothesis{Faults: []int{f}}, comp, z)
		for q, a := range asked {
			if a == nil || w.Solve(a) != nil {
				continue
			}
			for v := range a.Probes {
				rows[q] = append(rows[q], w.Read(&a.Probes[v], nil))
			}
		}
		out[f] = rows
	}
	return out
}
