package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"chargewright/unit"
)

// Conflict is figures that do not go together.
type Conflict struct {
	Figures []string // ids: two, or one that stands against all others
	Words   string
}

// surprise is how rarely all figures of a file may agree as badly as they do, by
// chance, before they are said not to go together: with ten figures each may lie
// 3.3 standard deviations from what the others predict.
const surprise = 0.01

// left is the fit without one figure, and how far that figure lies from what the
// rest predicts, in standard deviations of their difference.
type left struct {
	fit *found
	out float64
}

// leaveOut fits without figure k, from where all of them ended.
func (s *solver) leaveOut(list []*Figure, k int, from []float64) (left, error) {
	rest := slices.Delete(slices.Clone(list), k, k+1)
	f, err := s.least(rest, from)
	if err != nil {
		return left{}, err
	}
	// The figure's own row at the fit of the rest.
	one := s.problem(list[k : k+1])
	there, err := s.about(one, end{z: f.z}, 1)
	if err != nil {
		return left{}, err
	}
	there.cov = f.cov
	r := make([]float64, one.m)
	one.resid(f.z, r)
	return left{f, r[0] / math.Hypot(1, there.spread(0))}, nil
}

// conflicts finds figures that do not go together, one group after the other:
// the worst of a group is left out and the rest looked at again.
func (s *solver) conflicts(all *found) ([]Conflict, error) {
	var out []Conflict
	list, fit := s.list, all
	for len(list) > 1 {
		outs := make([]left, len(list))
		worst := 0
		for k := range list {
			var err error
			if outs[k], err = s.leaveOut(list, k, fit.z); err != nil {
				return nil, err
			}
			if math.Abs(outs[k].out) > math.Abs(outs[worst].out) {
				worst = k
			}
		}
		chance := 2 * distuv.UnitNormal.Survival(math.Abs(outs[worst].out))
		if chance*float64(len(list)) > surprise {
			break
		}
		out = append(out, s.conflict(list, outs, worst))
		fit = outs[worst].fit
		list = slices.Delete(slices.Clone(list), worst, worst+1)
	}
	return out, nil
}

// conflict words the worst figure with its partner: the one whose leaving out
// lets the rest agree as well, best of all. Where there is none the figure stands
// against all others.
func (s *solver) conflict(list []*Figure, outs []left, worst int) Conflict {
	partner := -1
	for k := range list {
		// Without the partner the rest must agree about as well as without the worst.
		if k != worst && outs[k].fit.chi() < outs[worst].fit.chi()+agree && (partner < 0 || outs[k].fit.chi() < outs[partner].fit.chi()) {
			partner = k
		}
	}
	f := list[worst]
	v := s.values(outs[worst].fit.z)
	say := func(f *Figure, v *values) string {
		p := s.p.predict(v, f)
		gives := unit.Format(f.Dim(), p)
		if at, _ := f.middle(); math.Abs(p) < nothing*math.Abs(at) {
			gives = "nothing"
		}
		return fmt.Sprintf("%s, %.1f of its tolerance away", gives, math.Abs(f.Misfit(p)))
	}
	given := func(f *Figure) string {
		at, _ := f.middle()
		return fmt.Sprintf("%s for the %s (p. %s, line %d)", unit.Format(f.Dim(), at), f.Words(), f.Page, f.Pos.Line)
	}
	hint := s.hint(f)
	if partner < 0 {
		return Conflict{[]string{f.ID}, fmt.Sprintf("%s: %s does not go with the other figures. The machine that they describe gives %s.%s", f.ID, given(f), say(f, &v), hint)}
	}
	g := list[partner]
	w := s.values(outs[partner].fit.z)
	return Conflict{[]string{f.ID, g.ID}, fmt.Sprintf(
		"%s and %s: %s and %s do not go together. Without the first the machine gives %s; without the second, %s. One of them is misread, or holds for something else than is written.%s",
		f.ID, g.ID, given(f), given(g), say(f, &v), say(g, &w), hint+s.hint(g))}
}

// nothing is the share of a figure below which a machine is said to give nothing:
// what leaks through a solver's diodes is no output.
const nothing = 1e-3

// agree is how much worse, in squares of standard deviations, the rest may agree
// without the partner than without the worst: two standard deviations.
const agree = 4

// hint asks about the slip that is made most: the engine's speed taken for the
// alternator's or the other way round. It is asked only where it mends all.
func (s *solver) hint(f *Figure) string {
	if f.Kind != Output || s.x.PulleyRatio == 0 {
		return ""
	}
	turned := *f
	turned.Engine = !f.Engine
	list := slices.Clone(s.list)
	list[slices.Index(list, f)] = &turned
	fit, err := s.least(list, make([]float64, len(s.free)))
	usual := distuv.ChiSquared{K: float64(len(list))} // of the squares, when all agree
	if err != nil || fit.chi() > usual.Quantile(0.9) {
		return ""
	}
	whose := "alternator's"
	if turned.Engine {
		whose = "engine's"
	}
	return fmt.Sprintf(" With %s as the %s speed all figures agree: is it that?", unit.Format(unit.AngularSpeed, f.Speed), whose)
}
