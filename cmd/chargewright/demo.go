package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"sync"

	"chargewright/advice"
	"chargewright/internal/yamlread"
	"chargewright/planning"
	"chargewright/problem"
	"chargewright/question"
	"chargewright/system"
	"chargewright/truth"
	"chargewright/unit"
)

// demoCmd plays a whole job on an invented vehicle.
type demoCmd struct {
	Seed  uint64 `help:"Which hidden vehicle." default:"1"`
	JSON  bool   `name:"json" help:"Print the events of the job as JSON."`
	Fault string `help:"Hide this fault instead of a drawn one." placeholder:"ID"`
	// The default is what the README and the benchmark are about.
	System string `help:"The arrangement that the vehicle has, one of the library." default:"isolated-earth-side" placeholder:"ID"`
}

// stageStream separates the stage's chances from all others of a seed.
const stageStream = 15

// Shares at which the baselines stop and repair: as in the benchmark.
const (
	sureFixed = 0.8
	sureClamp = 0.8
)

// Run implements the command.
func (c *demoCmd) Run(e *env) error {
	d, hidden, err := c.stage()
	if err != nil {
		return err
	}
	show, err := perform(context.Background(), c.Seed, d, hidden)
	if err != nil {
		return noAnswer(err)
	}
	if c.JSON {
		return show.json(e.stdout)
	}
	t := text{colour: e.colour}
	show.text(&t)
	return t.to(e.stdout)
}

// perform plays the vehicle with this program's planner and with each of the
// other orders, all at the same time: they share nothing but what does not change
// and what every cause predicts before any reading, so the result does not depend on
// who is first.
func perform(ctx context.Context, seed uint64, d *advice.Desk, h *hiddenVehicle) (*demonstration, error) {
	show := &demonstration{seed: seed, desk: d, hidden: h, others: []baseline{
		{id: "fixed", name: "fixed order of a service manual"},
		{id: "clamp", name: "good technician's own order"},
	}}
	policies := []planning.Policy{
		d.Planner.Policy,
		bounded(d, "fixed", sureFixed),
		bounded(d, "clamp", sureClamp),
	}
	results, problems := make([]*played, len(policies)), make([]error, len(policies))
	var wait sync.WaitGroup
	for i, p := range policies {
		wait.Go(func() { results[i], problems[i] = play(ctx, d, h, p) })
	}
	wait.Wait()
	show.ours = results[0]
	for i := range show.others {
		show.others[i].played = results[i+1]
	}
	return show, errors.Join(problems...)
}

// enough is after how many readings since the last repair another order mends
// what is likeliest, sure or not: nobody reads on for ever (memory).
const enough = 25

func bounded(d *advice.Desk, order string, sure float64) planning.Policy {
	steps := d.Practice.Orders[order].Steps
	read, act := d.Planner.Ordered(steps, sure), d.Planner.Ordered(steps, 0)
	return func(s planning.State) (planning.Step, error) {
		n := 0
		for _, times := range s.Done {
			n += times
		}
		if n >= enough {
			return act(s)
		}
		return read(s)
	}
}

// hiddenVehicle is the vehicle on the stage. Every policy gets the same answers
// from it.
type hiddenVehicle struct {
	seed      uint64
	vehicle   truth.Vehicle
	complaint string
	day       question.Setup
	faults    []string // ids, what is really wrong
}

// stage hides a fault and hears the complaint.
func (c *demoCmd) stage() (*advice.Desk, *hiddenVehicle, error) {
	if !slices.Contains(system.Library(), c.System) {
		return nil, nil, unknown("system", c.System, system.Library())
	}
	sys, err := system.ByID(c.System)
	if err != nil {
		return nil, nil, err
	}
	practice, err := system.PracticeFor(c.System)
	if err != nil {
		return nil, nil, err
	}
	procs, err := question.Library()
	if err != nil {
		return nil, nil, err
	}
	p, err := advice.Prepare(sys, practice, procs, advice.DefaultSettings())
	if err != nil {
		return nil, nil, err
	}
	rng := rand.New(rand.NewPCG(c.Seed, stageStream))
	faults, err := c.faults(rng, p)
	if err != nil {
		return nil, nil, err
	}
	h := &hiddenVehicle{seed: c.Seed, day: question.Setup{Ambient: question.Temp{K: unit.FromCelsius(8 + float64(rng.IntN(20))), U: 2}}}
	h.day.Battery.Derive, h.day.Reg.Derive, h.day.Rotor.Derive = true, true, true
	first := ""
	if len(faults) > 0 {
		first = sys.Faults[faults[0]].ID
	}
	h.complaint = heard(rng, p.ComplaintChances(first))
	d, err := p.Shared(h.complaint)
	if err != nil {
		return nil, nil, err
	}
	h.vehicle = truth.Figures(rng, d.Model, faults, truth.DrawOptions{})
	h.faults = h.vehicle.FaultIDs(sys)
	return d, h, nil
}

// faults are the one that was asked for, or a drawn one: always something, since
// a demonstration that finds nothing shows nothing.
func (c *demoCmd) faults(rng *rand.Rand, p *advice.Prepared) ([]int, error) {
	if c.Fault != "" {
		i, ok := p.Base().FaultIndex(c.Fault)
		if !ok || p.System.Faults[i].Outside {
			var known []string
			for _, f := range p.System.Faults {
				if !f.Outside {
					known = append(known, f.ID)
				}
			}
			return nil, problem.List{{What: "no fault is called " + c.Fault, Instead: yamlread.Suggest(c.Fault, known)}}
		}
		return []int{i}, nil
	}
	for range 100 {
		v, err := truth.Draw(rng, p.Base(), p.Practice, truth.DrawOptions{})
		if err != nil {
			return nil, err
		}
		if len(v.Fault.Faults) > 0 {
			return v.Fault.Faults, nil
		}
	}
	return nil, noAnswer(fmt.Errorf("no fault was drawn in a hundred vehicles: the practice figures give faults no rate"))
}

// heard draws a complaint.
func heard(rng *rand.Rand, chances map[string]float64) string {
	x := rng.Float64()
	kinds := slices.Sorted(maps.Keys(chances))
	for _, k := range kinds {
		if x -= chances[k]; x < 0 {
			return k
		}
	}
	return kinds[len(kinds)-1]
}

// baseline is what another way of working made of the same vehicle.
type baseline struct {
	id, name string
	played   *played
}

// demonstration is everything that is shown.
type demonstration struct {
	seed   uint64
	desk   *advice.Desk
	hidden *hiddenVehicle
	ours   *played
	others []baseline
}
