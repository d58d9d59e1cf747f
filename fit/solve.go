package fit

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"chargewright/battery"
	"chargewright/system"
)

// solver fits one figures file.
type solver struct {
	x    *Figures
	p    plant
	base values
	free []unknown
	list []*Figure // the figures that count
	// unlifted says why the battery's volts over the regulator's are not known.
	unlifted map[string]string
}

// newSolver makes the file's fixed figures and priors ready.
func newSolver(x *Figures) (*solver, error) {
	t := x.Template
	s := &solver{x: x, unlifted: map[string]string{}, p: plant{
		nominal: t.Volts, poles: float64(t.Machine.PolePairs), pulley: t.Machine.PulleyRatio,
		diode: diode(t), brushes: brushOhms(t), lift: map[string]float64{},
	}}
	s.p.residual, _ = t.Nominal("machine.residual")
	if x.PolePairs > 0 {
		s.p.poles = float64(x.PolePairs)
	}
	if x.PulleyRatio > 0 {
		s.p.pulley = x.PulleyRatio
	}
	hours := t.Battery.AmpHours
	if x.AmpHours > 0 {
		hours = x.AmpHours
	}
	var err error
	if s.p.bat, err = battery.New(hours, int(math.Round(t.Volts/2))); err != nil {
		return nil, err
	}
	s.base, s.free = base(x, s.size())
	for i := range x.List {
		s.list = append(s.list, &x.List[i])
	}
	return s, nil
}

// size is how much more current than the template's this machine gives, from the
// output with the most amps: what one winding gives over another of the same
// speed and volts goes with one over its impedance.
func (s *solver) size() float64 {
	own, _ := base(s.x, 1)
	var top *Figure
	most := 0.0
	for i := range s.x.List {
		f := &s.x.List[i]
		if at, _ := f.middle(); f.Kind == Output && at > most {
			top, most = f, at
		}
	}
	if top == nil {
		return 1
	}
	// Near cut-in the amps say little of the winding: half of what a template of
	// this size gives at its rated point is the least that is divided by.
	least := s.x.Template.Machine.RatedAmps / 2
	return min(max(most/max(s.p.predict(&own, top), least), 0.05), 20)
}

// brushOhms are the joints between the rings and the field's terminals, where
// each ring has just one; none otherwise.
func brushOhms(t *system.System) float64 {
	sum := 0.0
	for _, ring := range []string{t.Machine.RingA, t.Machine.RingB} {
		n, ohms := 0, 0.0
		for _, e := range t.Elements {
			if e.Kind != system.Gap && (e.From == ring || e.To == ring) {
				n++
				if e.Kind == system.Joint {
					ohms = e.Median
				}
			}
		}
		if n == 1 {
			sum += ohms
		}
	}
	return sum
}

// values are the vehicle's figures at z.
func (s *solver) values(z []float64) values {
	v := s.base
	for i := range s.free {
		v[s.free[i].slot] = s.free[i].at(z[i])
	}
	return v
}

// sd is what a figure may be missed by, one standard deviation: half of its
// tolerance (its range holds 95 % of such machines, common practice of
// tolerances) and the model's own.
func (f *Figure) sd() float64 {
	at, half := f.middle()
	return math.Hypot(half/2, modelShare[f.Kind]*math.Abs(at))
}

// problem is the least-squares problem over some of the figures: a row for each
// figure, a row for each prior.
func (s *solver) problem(list []*Figure) *least {
	n := len(s.free)
	p := &least{m: len(list) + n}
	for _, u := range s.free {
		p.lo, p.hi, p.step = append(p.lo, u.lo), append(p.hi, u.hi), append(p.step, 1e-4)
	}
	p.resid = func(z, r []float64) {
		v := s.values(z)
		for i, f := range list {
			_, half := f.middle()
			r[i] = f.Misfit(s.p.predict(&v, f)) * half / f.sd()
		}
		copy(r[len(list):], z)
	}
	return p
}

// found is a minimum with what is known there.
type found struct {
	end
	cov *mat.SymDense // of z
	j   *mat.Dense    // figures by unknowns, each row over its sd
}

// chi is twice the cost: about as large as there are figures, when they and the
// priors go together.
func (f *found) chi() float64 { return 2 * f.cost }

// least finds the minimum over some figures, from a start.
func (s *solver) least(list []*Figure, start []float64) (*found, error) {
	p := s.problem(list)
	e, err := p.solve(start)
	if err != nil {
		return nil, err
	}
	return s.about(p, e, len(list))
}

// about takes covariance and Jacobian at an end.
func (s *solver) about(p *least, e end, figures int) (*found, error) {
	n := len(s.free)
	j := mat.NewDense(p.m, n, nil)
	p.jacobian(e.z, j)
	cov, err := inverse(gram(j))
	if err != nil {
		return nil, fmt.Errorf("fit: %w", err)
	}
	return &found{e, cov, mat.DenseCopyOf(j.Slice(0, figures, 0, n))}, nil
}

// search is the result of several starts.
type starts struct {
	best  *found
	n     int
	same  int      // starts that ended at the best
	other []*found // other minima that fit nearly as well
}

// Two ends are the same minimum when their costs and their points agree; another
// one is worth telling when it fits nearly as well: e^2 of odds.
const (
	sameCost  = 1e-5
	sameZ     = 1e-2
	nearlyFit = 2.0
)

// all searches from the priors' middle and from n-1 vehicles drawn from the
// priors with the seed.
func (s *solver) all(n int, seed uint64) (*starts, error) {
	rng := rand.New(rand.NewPCG(seed, 1))
	var ends []end
	var problems []error
	p := s.problem(s.list)
	for k := range max(n, 1) {
		z := make([]float64, len(s.free))
		for i := range z {
			if k > 0 {
				z[i] = min(max(rng.NormFloat64(), s.free[i].lo), s.free[i].hi)
			}
		}
		e, err := p.solve(z)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		ends = append(ends, e)
	}
	if len(ends) == 0 {
		return nil, errors.Join(problems...)
	}
	best := ends[0]
	for _, e := range ends {
		if e.cost < best.cost {
			best = e
		}
	}
	out := &starts{n: max(n, 1)}
	var err error
	if out.best, err = s.about(p, best, len(s.list)); err != nil {
		return nil, err
	}
	for _, e := range ends {
		switch {
		case e.cost < best.cost+sameCost && apart(e.z, best.z) < sameZ:
			out.same++
		case e.cost < best.cost+nearlyFit && apart(e.z, best.z) > 0.5 && out.isNew(e):
			o, err := s.about(p, e, len(s.list))
			if err != nil {
				return nil, err
			}
			out.other = append(out.other, o)
		}
	}
	return out, nil
}

func (a *starts) isNew(e end) bool {
	for _, o := range a.other {
		if apart(o.z, e.z) < 0.5 {
			return false
		}
	}
	return true
}

// apart is the largest difference between two points.
func apart(a, b []float64) float64 {
	d := 0.0
	for i := range a {
		d = max(d, math.Abs(a[i]-b[i]))
	}
	return d
}

// removed is the share of a prior's variance that the figures removed.
func (f *found) removed(i int) float64 { return min(max(1-f.cov.At(i, i), 0), 1) }

// spread is the standard deviation of a figure's prediction by what is not known
// of the unknowns, over the figure's sd.
func (f *found) spread(row int) float64 {
	r := f.j.RowView(row)
	return math.Sqrt(max(mat.Inner(r, f.cov, r), 0))
}

// direction is a combination of unknowns with the share of the prior's variance
// that the figures leave of it.
type direction struct {
	left   float64
	weight []float64
}

// directions are those that the figures leave mostly open: eigenvectors of what
// the figures say, in standard deviations of the priors.
func (f *found) directions() []direction {
	_, n := f.j.Dims()
	var e mat.EigenSym
	if !e.Factorize(gram(f.j), true) {
		return nil // a symmetric matrix always has them; nothing is claimed otherwise
	}
	var vec mat.Dense
	e.VectorsTo(&vec)
	var out []direction
	for k, lambda := range e.Values(nil) {
		left := 1 / (1 + max(lambda, 0))
		if left < mostlyOpen {
			continue
		}
		w := make([]float64, n)
		for i := range w {
			w[i] = vec.At(i, k)
		}
		out = append(out, direction{left, w})
	}
	return out
}

// mostlyOpen is the share of a prior's variance that must be left for a figure,
// or a combination, to count as undetermined; wellKnown what may be left for it
// to count as determined.
const (
	mostlyOpen = 0.5
	wellKnown  = 0.1
)
