package fit

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/mat"

	"chargewright/system"
	"chargewright/unit"
)

// written is a parameter as it goes into the system file.
type written struct {
	median, spread float64 // spread in the terms of the law
	log            bool
}

// held are the combinations of unknowns that a system file holds at one value:
// the field current at the knee, which is the knee's share over rotor ohms, and
// the saturation. The spreads of the others are those that are left with these
// held.
func (s *solver) held() *mat.Dense {
	n := len(s.free)
	var rows []float64
	at := func(slot int) int {
		for i := range s.free {
			if s.free[i].slot == slot {
				return i
			}
		}
		return -1
	}
	if k := at(knee); k >= 0 {
		row := make([]float64, n)
		row[k] = s.free[k].sd
		if r := at(rotor); r >= 0 {
			row[r] = -s.free[r].sd
		}
		rows = append(rows, row...)
	}
	if k := at(saturation); k >= 0 {
		row := make([]float64, n)
		row[k] = 1
		rows = append(rows, row...)
	}
	return mat.NewDense(len(rows)/n, n, rows)
}

// given is the covariance of z with some combinations held:
// C - C A' (A C A')^-1 A C [closed form: conditional normal].
func given(c *mat.SymDense, a *mat.Dense) *mat.SymDense {
	n := c.SymmetricDim()
	var ac, aca, inv mat.Dense
	ac.Mul(a, c)
	aca.Mul(&ac, a.T())
	out := mat.NewSymDense(n, nil)
	out.CopySym(c)
	if inv.Inverse(&aca) != nil {
		return out // nothing is held
	}
	var fix mat.Dense
	fix.Product(ac.T(), &inv, &ac)
	for i := range n {
		for k := i; k < n; k++ {
			out.SetSym(i, k, c.At(i, k)-fix.At(i, k))
		}
	}
	return out
}

// params are the figures as the system file gets them: the posterior's spread,
// never narrower than the template's own from one machine to the next. The belt's
// slip is left to the template: it is the vehicle's, not the manual's; and so is
// the brushes' drop where the figures hardly know it.
func (s *solver) params(f *found) map[string]written {
	cov := given(f.cov, s.held())
	out := map[string]written{}
	for i := range s.free {
		u := &s.free[i]
		if _, known := system.LookupParam(u.id); !known || u.slot == slip {
			continue
		}
		if u.slot == brush && f.removed(i) < wellKnown {
			continue
		}
		sd := max(u.sd*math.Sqrt(max(cov.At(i, i), 0)), u.unit)
		if u.log {
			sd = math.Exp(sd)
		}
		out[u.id] = written{u.at(f.z[i]), sd, u.log}
	}
	return out
}

// write is the system file at a fit: the template with the fitted figures.
func (s *solver) write(f *found, limits []limitChange, head string) ([]byte, error) {
	x, t := s.x, s.x.Template
	w, err := system.NewWriter(t.Source)
	if err != nil {
		return nil, err
	}
	v := s.values(f.z)
	w.Comment(head)
	w.Set(x.ID, "id")
	w.After("id", "arrangement", t.Arrangement)
	w.Set(x.Name, "name")
	w.Set(s.aboutText(), "about")
	w.Set(strconv.FormatFloat(s.p.poles, 'g', -1, 64), "machine", "pole-pairs")
	w.Set(strconv.FormatFloat(s.p.pulley, 'g', 6, 64), "machine", "pulley-ratio")
	w.Set(short(v.kneeAmps(t.Volts))+" A", "machine", "flux-knee")
	w.Set(short(v[saturation]), "machine", "saturation")
	rated := s.rated()
	w.Set(plain(unit.Amp, rated.amps), "machine", "rated", "amps")
	w.Set(plain(unit.Volt, rated.volts), "machine", "rated", "volts")
	w.Set(plain(unit.AngularSpeed, rated.engine), "machine", "rated", "engine")
	if x.AmpHours > 0 {
		w.Set(plain(unit.AmpHour, x.AmpHours*3600), "battery", "capacity")
	}
	s.writeParams(w, f)
	for _, wire := range x.Wires {
		w.Item("wires", wire.ID, "area", plain(unit.SquareMetre, wire.Area), "length", plain(unit.Metre, wire.Length),
			"source", x.source(wire.Origin), "basis", string(wire.Basis))
	}
	for _, l := range limits {
		if l.drop {
			w.Drop("limits", l.id)
			continue
		}
		w.Item("limits", l.id, l.pairs...)
	}
	return w.Bytes()
}

func (s *solver) aboutText() string {
	if s.x.About != "" {
		return s.x.About
	}
	return fmt.Sprintf("Fitted to %s of %s; the arrangement is that of %s. Joints, loads, faults, the drawing and every wire that the manual does not give are the template's.",
		plural(len(s.list), "figure", "figures"), s.x.Manual, s.x.Template.ID)
}

// writeParams writes medians and spreads.
func (s *solver) writeParams(w *system.Writer, f *found) {
	ps := s.params(f)
	for i := range s.free {
		u := &s.free[i]
		p, ok := ps[u.id]
		if !ok {
			continue
		}
		source, basis := s.because(f, i)
		spread, median := short(p.spread), plain(u.dim, p.median)
		if !p.log {
			spread = plain(u.dim, p.spread)
		}
		w.Item("params", u.id, "median", median, "spread", spread, "source", source, "basis", string(basis))
	}
}

// seen is how much a figure must move, in its standard deviations for one of the
// prior's, to count as saying something of an unknown.
const seen = 0.1

// because says what a written figure rests on.
func (s *solver) because(f *found, i int) (string, system.Basis) {
	var from []Origin
	for k, fig := range s.list {
		if math.Abs(f.j.At(k, i)) > seen {
			from = append(from, fig.Origin)
		}
	}
	if len(from) == 0 {
		return "no figure of " + s.x.Manual + " says anything of it: " + s.x.Template.ID + "'s, scaled to the amps, the spread that of the class", system.Memory
	}
	return fmt.Sprintf("fitted to %s: they remove %s of what is open in the class", s.x.sources(from), percent(f.removed(i))), system.Computed
}

// point is the rated point as a system file has it.
type point struct{ amps, volts, engine float64 }

// rank is how well an output serves as the rated point: rather a figure with two
// ends than a least one, rather by engine speed.
func rank(f *Figure) (r int) {
	if f.Low != nil && f.High != nil {
		r += 2
	}
	if f.Engine {
		r++
	}
	return r
}

// rated is the best output of the manual, the one with the most amps; one by
// alternator speed at the engine speed that turns it so fast.
func (s *solver) rated() point {
	var best *Figure
	most := 0.0
	for _, f := range s.list {
		if f.Kind != Output {
			continue
		}
		at, _ := f.middle()
		if best == nil || rank(f) > rank(best) || rank(f) == rank(best) && at > most {
			best, most = f, at
		}
	}
	speed := best.Speed
	if !best.Engine {
		speed /= s.p.pulley
	}
	return point{most, best.Volts, speed}
}

// short prints a plain number with four figures.
func short(x float64) string {
	return strconv.FormatFloat(x, 'g', 4, 64)
}

// ascii are the signs of printed units as system files write them; a temperature stands
// in words only, which say °C.
var ascii = strings.NewReplacer("Ω", "Ohm", "µ", "u", "²", "2")

// plain prints a quantity as system files have it.
func plain(dim unit.Dim, si float64) string { return ascii.Replace(unit.Format(dim, si)) }

func percent(share float64) string { return fmt.Sprintf("%.0f %%", 100*share) }

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
