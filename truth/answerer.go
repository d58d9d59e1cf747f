package truth

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/prediction"
	"chargewright/question"
	"chargewright/rig"
	"chargewright/system"
)

// Answerer is a vehicle, or whoever stands beside it: it answers everything a
// question seeks, in order.
type Answerer interface {
	Answer(question.Question) ([]question.Value, error)
}

// Vehicle is what is hidden: which faults a vehicle has, how bad they are, and
// where each of its free figures stands.
type Vehicle struct {
	Name  string
	Fault prediction.Hypothesis
	Comp  prediction.Component
	Z     []float64 // whitened free figures, then the magnitudes; Dims long
}

// Sound returns a vehicle of medians without a fault.
func Sound(m *prediction.Model) Vehicle {
	return Vehicle{Name: "sound", Z: make([]float64, m.Dims())}
}

// FaultIDs names the vehicle's faults.
func (v *Vehicle) FaultIDs(sys *system.System) []string {
	var ids []string
	for _, i := range v.Fault.Faults {
		ids = append(ids, sys.Faults[i].ID)
	}
	return ids
}

// modelTerms returns the coordinates that stand for the prediction's own error.
// A vehicle that brings other physics has none.
func modelTerms(m *prediction.Model) []int {
	var out []int
	for i, c := range m.Coords {
		if strings.HasPrefix(c.ID, "model.") {
			out = append(out, i)
		}
	}
	return out
}

// standing is a setup in words: what stands other than at rest, what is held,
// and what is not as usual. Two setups with one standing read the same on every
// meter.
func standing(sys *system.System, s question.Setup) string {
	var words []string
	say := func(format string, args ...any) { words = append(words, fmt.Sprintf(format, args...)) }
	for i, p := range sys.Rig.Places {
		at := s.Rig.At(i)
		if at > 0 && at < len(p.Positions) && differs(p.Positions[at], p.Positions[0]) {
			say("%s=%s", p.ID, p.Positions[at].ID)
		}
	}
	holds := slices.Clone(s.Hold)
	slices.SortFunc(holds, func(a, b question.Hold) int { return strings.Compare(a.What, b.What) })
	for _, h := range holds {
		say("%s=%.4g", h.What, h.Target)
	}
	if rig := question.EngineSpeed(&sys.Rig, s.Rig); s.Engine > 0 && math.Abs(s.Engine-rig) > 0.002*rig {
		say("rad/s=%.4g", s.Engine)
	}
	ambient := usualKelvin
	if s.Ambient.K > 0 {
		ambient = s.Ambient.K
	}
	if math.Abs(ambient-usualKelvin) > usualWithin {
		say("ambient-K=%.1f", ambient)
	}
	if t := s.Battery; t.K > 0 && !t.Derive && math.Abs(t.K-ambient) > usualWithin {
		say("battery-K=%.1f", t.K)
	}
	if t := s.Reg; t.K > 0 && !t.Derive {
		say("regulator-K=%.1f", t.K)
	}
	if s.Hot {
		say("hot")
	}
	if len(words) == 0 {
		return "at rest"
	}
	return strings.Join(words, " ")
}

// A setup without temperatures is one at 20 degC, as prediction takes it.
const (
	usualKelvin = 293.15 // [K]
	usualWithin = 0.5    // [K]
)

// differs says whether a position does anything else to the circuit than
// another: a slack belt does not, an ammeter in series does.
func differs(a, b rig.Position) bool { return a.Engine != b.Engine || !slices.Equal(a.Sets, b.Sets) }

// speed returns how fast the setup's places hold the engine [rad/s].
func speed(sys *system.System, s question.Setup) float64 {
	if s.Engine > 0 {
		return s.Engine
	}
	return question.EngineSpeed(&sys.Rig, s.Rig)
}
