package advice

import (
	"fmt"
	"math"
	"sync"

	"chargewright/diagnosis"
	"chargewright/meter"
	"chargewright/planning"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// Prepared is all that does not change from job to job on a system: its
// compiled model, what each fault makes the vehicle do, which faults no test on
// the vehicle separates. It is safe to share.
type Prepared struct {
	System    *system.System
	Practice  *system.Practice
	Catalogue question.Catalogue

	model   *prediction.Model // with the system's own prior
	groups  *diagnosis.Groups
	does    [][doings]float64 // by fault; the last is the sound vehicle
	meters  map[string]meter.Instrument
	heard   *complaints
	told    *tellings
	setting Settings
	charged *charged
	desks   *desks // those that many jobs share
}

// Prepare makes what a system's jobs share. It takes about as long as a few
// updates of a belief.
func Prepare(sys *system.System, practice *system.Practice, procs question.Catalogue, set Settings) (*Prepared, error) {
	if sys == nil || practice == nil || procs == nil {
		return nil, fmt.Errorf("advice needs a system, practice figures and a catalogue of procedures")
	}
	p := &Prepared{System: sys, Practice: practice, Catalogue: procs, meters: map[string]meter.Instrument{}, setting: set, charged: &charged{by: map[charge]*prediction.Model{}}, desks: newDesks()}
	for _, in := range meter.Catalogue() {
		p.meters[in.ID] = in
	}
	var err error
	if p.heard, err = complaintTable(); err != nil {
		return nil, err
	}
	if p.told, err = toldTable(); err != nil {
		return nil, err
	}
	if p.model, err = prediction.Compile(sys); err != nil {
		return nil, err
	}
	board, err := planning.NewBoard(p.model, practice, procs, set.Planning)
	if err != nil {
		return nil, err
	}
	if err := p.group(board); err != nil {
		return nil, err
	}
	d, err := newDoer(board, set.Diagnosis.Components)
	if err != nil {
		return nil, err
	}
	for i := range sys.Faults {
		p.does = append(p.does, d.does(i))
	}
	p.does = append(p.does, d.does(-1))
	return p, nil
}

// group joins faults that no test on the vehicle separates. The bench may still
// part them, but nobody strips an alternator to learn which diode it is when the
// bridge is changed whole.
func (p *Prepared) group(b *planning.Board) error {
	asked, err := b.Ask(question.Setup{})
	if err != nil {
		return err
	}
	var looks []*diagnosis.LookTable
	for i, proc := range b.Procs {
		switch {
		case proc.Where != "vehicle":
			asked[i] = nil
		case proc.Look != nil:
			looks = append(looks, planning.Table(proc))
		}
	}
	p.groups = diagnosis.NewGroups(p.prior(p.model, b, ""), asked, looks)
	return nil
}

// prior is what is believed before the first reading when this complaint was
// heard. Rates are weighted by how likely each fault is to be spoken of so.
func (p *Prepared) prior(m *prediction.Model, b *planning.Board, complaint string) diagnosis.Prior {
	pr := diagnosis.Prior{
		Model: m, Rates: map[string]float64{}, NoFault: p.Practice.NoFault.Rate,
		Meters: p.meters, Settings: p.setting.Diagnosis, Look: b.LookOf,
	}
	weight := func(int) float64 { return 1 }
	if complaint != "" && len(p.does) > 0 {
		weight = func(i int) float64 { return p.heard.chance(complaint, p.does[i]) / p.usual(complaint) }
	}
	for i, f := range p.System.Faults {
		pr.Rates[f.ID] = p.Practice.Rates[f.ID].Rate * weight(i)
	}
	pr.NoFault *= weight(len(p.System.Faults))
	return pr
}

// usual is how often a complaint is heard over all jobs.
func (p *Prepared) usual(complaint string) float64 {
	n := len(p.System.Faults)
	sum, total := p.Practice.NoFault.Rate*p.heard.chance(complaint, p.does[n]), p.Practice.NoFault.Rate
	for i, f := range p.System.Faults {
		if !f.Outside {
			sum += p.Practice.Rates[f.ID].Rate * p.heard.chance(complaint, p.does[i])
			total += p.Practice.Rates[f.ID].Rate
		}
	}
	return math.Max(sum/math.Max(total, 1e-9), 1e-9)
}

// ComplaintChances is how likely each kind of complaint is with a fault; "" is
// the sound vehicle. Unknown faults have nil.
func (p *Prepared) ComplaintChances(fault string) map[string]float64 {
	at := len(p.System.Faults)
	if fault != "" {
		i, ok := p.model.FaultIndex(fault)
		if !ok {
			return nil
		}
		at = i
	}
	out := map[string]float64{}
	for _, k := range p.heard.kinds {
		out[k] = p.heard.chance(k, p.does[at])
	}
	return out
}

// Desk is a Prepared with one complaint: what one job's beliefs start from.
type Desk struct {
	*Prepared
	Complaint string
	Model     *prediction.Model
	Board     *planning.Board
	Planner   *planning.Planner
	Prior     diagnosis.Prior

	words []heardWord // told beside the kind of complaint, of this job

	letterOf  map[string]string // by suspect, where a job is kept
	foresight *foresight        // the same
}

// Desk opens a job with a complaint.
func (p *Prepared) Desk(complaint string) (*Desk, error) {
	if err := p.heard.known(complaint); err != nil {
		return nil, err
	}
	d := &Desk{Prepared: p, Complaint: complaint, Model: p.model}
	var err error
	if d.Model, err = p.modelOf(complaint); err != nil {
		return nil, err
	}
	if d.Board, err = planning.NewBoard(d.Model, p.Practice, p.Catalogue, p.setting.Planning); err != nil {
		return nil, err
	}
	d.Board.Groups = p.groups
	d.Planner = planning.NewPlanner(d.Board)
	d.Prior = p.prior(d.Model, d.Board, complaint)
	return d, nil
}

// modelOf is the system with the battery that a complaint makes likely, compiled once
// for all complaints that leave the same.
func (p *Prepared) modelOf(complaint string) (m *prediction.Model, err error) {
	at, ok := p.heard.soc[complaint]
	if !ok {
		return p.model, nil
	}
	p.charged.mu.Lock()
	defer p.charged.mu.Unlock()
	if m = p.charged.by[at]; m != nil {
		return m, nil
	}
	if m, err = prediction.Compile(p.heard.shifted(p.System, complaint)); err == nil {
		p.charged.by[at] = m
	}
	return m, err
}

// charged are the models by how the battery is charged.
type charged struct {
	mu sync.Mutex
	by map[charge]*prediction.Model
}

// Base is the system compiled with its own prior, no complaint heard.
func (p *Prepared) Base() *prediction.Model { return p.model }

// Groups are the faults that no test on the vehicle separates.
func (p *Prepared) Groups() *diagnosis.Groups { return p.groups }
