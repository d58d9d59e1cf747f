package truth

import (
	"errors"
	"fmt"
	"slices"

	"chargewright/prediction"
	"chargewright/question"
)

// Wanted is one setup that the catalogue asks for, and by which procedures.
type Wanted struct {
	Standing   string
	Setup      question.Setup
	Procedures []string
}

// Setups lists the setups in which the catalogue's procedures read volts, amps
// or AC volts on a vehicle, each once, in the order of the procedures' names.
// The error joins the procedures for which the system has no hook-up.
func Setups(m *prediction.Model, procedures question.Catalogue) ([]Wanted, error) {
	var out []Wanted
	var problems []error
	for _, id := range procedures.IDs() {
		p := procedures[id]
		if ok, _ := p.Applies(m.Sys); !ok || !needsRun(p) {
			continue
		}
		q, err := Question(m, p)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		words := standing(m.Sys, q.Setup)
		i := slices.IndexFunc(out, func(w Wanted) bool { return w.Standing == words })
		if i < 0 {
			out, i = append(out, Wanted{Standing: words, Setup: q.Setup}), len(out)
		}
		out[i].Procedures = append(out[i].Procedures, id)
	}
	return out, errors.Join(problems...)
}

// needsRun says whether a procedure takes a solved circuit with something live.
func needsRun(p *question.Procedure) bool {
	return slices.ContainsFunc(p.Measure, func(o question.Observable) bool {
		return o.Kind == question.Volts || o.Kind == question.Amps || o.Kind == question.ACVolts
	})
}

// Question is a procedure asked of the system, hooked up from rest. One that
// cannot be done on it is refused.
func Question(m *prediction.Model, p *question.Procedure) (question.Question, error) {
	if ok, why := p.Applies(m.Sys); !ok {
		return question.Question{}, fmt.Errorf("truth: procedure %s: %s", p.ID, why)
	}
	target, err := p.Target(m.Sys)
	if err != nil {
		return question.Question{}, err
	}
	plan, err := m.Sys.Rig.Path(m.Sys.Rig.Rest, target)
	if err != nil {
		return question.Question{}, fmt.Errorf("truth: procedure %s: %w", p.ID, err)
	}
	return question.Question{
		Procedure: p.ID, Seek: p.Seek(),
		Setup: question.Setup{Rig: plan.Final, Engine: question.EngineSpeed(&m.Sys.Rig, plan.Final), Hold: p.Hold},
	}, nil
}
