package fit

import (
	"fmt"
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// vehicle is a system that readings can be predicted of: every free figure at
// its median, nothing wrong.
type vehicle struct {
	sys   *system.System
	model *prediction.Model
	procs question.Catalogue
}

func newVehicle(s *system.System) (*vehicle, error) {
	m, err := prediction.Compile(s)
	if err != nil {
		return nil, err
	}
	c, err := question.Library()
	return &vehicle{s, m, c}, err
}

// ask is a procedure as it is asked of the vehicle as it rolls in, with changes
// to the setup.
func (v *vehicle) ask(id string, change func(*question.Setup)) (prediction.Asked, error) {
	p, ok := v.procs[id]
	if !ok {
		return prediction.Asked{}, fmt.Errorf("no procedure %s", id)
	}
	t, err := p.Target(v.sys)
	if err != nil {
		return prediction.Asked{}, err
	}
	set := question.Setup{Rig: v.sys.Rig.Rest, Hold: p.Hold}
	for i := range v.sys.Rig.Places {
		for k := range v.sys.Rig.Places[i].Positions {
			if t.Positions[i]>>k&1 == 1 {
				set.Rig = set.Rig.With(i, k)
				break
			}
		}
	}
	set.Engine = question.EngineSpeed(&v.sys.Rig, set.Rig)
	change(&set)
	return v.model.Ask(question.Question{Procedure: p.ID, Setup: set, Seek: p.Seek()})
}

// read is what a procedure's value reads. The value counts what is measured, as
// a limit does; the engine's speed and looks are not solved for.
func (v *vehicle) read(id string, value int, soc float64, change func(*question.Setup)) (float64, error) {
	a, err := v.ask(id, change)
	if err != nil {
		return 0, err
	}
	z := make([]float64, v.model.Dims())
	v.charged(z, soc)
	w := v.model.NewWorker()
	w.Begin()
	w.Hold(prediction.Hypothesis{}, prediction.Component{}, z)
	if err := w.Solve(&a); err != nil {
		return 0, err
	}
	at := 0
	for i, o := range v.procs[id].Seek() {
		switch {
		case o.Kind == question.Look || o.Kind == question.Speed:
		case i == value:
			return w.Read(&a.Probes[at], nil), nil
		default:
			at++
		}
	}
	return 0, fmt.Errorf("procedure %s has no value %d to predict", id, value)
}

// charged puts the battery's charge into z; 0 leaves it as the vehicle rolls in.
func (v *vehicle) charged(z []float64, soc float64) {
	k := slices.IndexFunc(v.model.Coords, func(c prediction.Coordinate) bool { return c.ID == "battery.soc" })
	p := paramOf(v.sys, "battery.soc")
	if soc == 0 || k < 0 || p.Law != "logit-normal" || p.Spread == 0 {
		return
	}
	logit := func(x float64) float64 { return math.Log(x / (1 - x)) }
	z[k] = (logit(soc) - logit(p.Median)) / p.Spread
}

// nearFull is the charge at which manuals judge the regulator: output down to a
// few amps (common practice).
const nearFull = 0.97

// atBattery is the test that regulated volts at the battery are read in.
const atBattery = "charge-volts"

// lifts sets how much more the battery has than the regulator's set-point, for
// every figure that is taken at the battery, with the circuit of the system file
// in hand. Where an arrangement has no such test, or the circuit no answer, it is
// taken as nothing, and that is noted.
func (s *solver) lifts(data []byte) error {
	sys, err := system.Parse(s.x.ID+".yaml", data)
	if err != nil {
		return err
	}
	v, err := newVehicle(sys)
	if err != nil {
		return err
	}
	set, slant := paramOf(sys, "regulator.setpoint").Median, paramOf(sys, "regulator.slope").Median
	for _, f := range s.list {
		if f.Kind != Regulated || !f.AtBattery {
			continue
		}
		volts, err := v.read(atBattery, 0, nearFull, func(q *question.Setup) { q.Reg.K = f.Kelvin })
		if err != nil {
			s.unlifted[f.ID] = err.Error()
			continue
		}
		s.p.lift[f.ID] = volts - set - slant*(f.Kelvin-regulatorAt)
	}
	return nil
}
