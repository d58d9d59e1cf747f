package fit

import (
	"fmt"
	"math"
	"strings"

	"chargewright/unit"
)

// Options of a fit.
type Options struct {
	Seed   uint64 // of the starts
	Starts int    // the first is the priors' middle; at least 1
}

// Result is a fitted vehicle.
type Result struct {
	Figures  *Figures
	Fitted   []Fitted
	Unknowns []Known
	// Open are the combinations of unknowns that the figures leave mostly open.
	Open      []Combination
	Conflicts []Conflict
	Notes     []string
	Starts    int // searched from
	Same      int // ended at the fit
	Others    int // other minima that fit nearly as well
	Seed      uint64
	Curve     Curve
	System    []byte // the system file
}

// Fitted is a figure with what the fitted machine gives.
type Fitted struct {
	*Figure
	Predicted  float64  // SI
	Misfit     float64  // in the figure's own tolerance
	Spread     float64  // of the prediction by what stays open, one standard deviation, SI
	InFile     float64  // the same from the system file, whose spreads do not hang together
	TimeDomain *float64 // an output by the time-domain solver; nil: not an output, or no answer
}

// Known is an unknown with what the figures say of it.
type Known struct {
	ID, Name       string
	Dim            unit.Dim
	Prior          Interval
	Fitted         Interval
	Removed        float64 // share of the prior's variance that the figures removed
	Verdict        Verdict
	Settle         string // which figure would settle it
	Far            float64
	Bound          bool // stands where the search ends
	FromTemplate   bool // a figure of the belt or the brushes that the template gives
	InFile         bool
	FileSpread     float64 // in the terms of the parameter's law
	FileMedian     float64
	FiguresThatSay []string // that move it; none: it stays where the prior has it
	// With are the unknowns that go along when this one goes one standard deviation
	// up: what the figures say is then of all of them together.
	With []Part
}

// Interval is a median with the ends of 90 %.
type Interval struct{ Median, Low, High float64 }

// Verdict says how well the figures know an unknown.
type Verdict string

// The verdicts: under 10 %, 10 to 50 %, over 50 % of the prior's variance left.
const (
	Determined   Verdict = "determined"
	Partly       Verdict = "partly"
	Undetermined Verdict = "undetermined"
)

// Combination is a way in which unknowns can move together without the figures
// seeing much of it.
type Combination struct {
	Left  float64 // share of the prior's variance
	Parts []Part
}

// Part is an unknown in a combination: what it becomes when the combination goes
// one standard deviation of what is left.
type Part struct {
	ID, Name string
	Dim      unit.Dim
	From, To float64
}

// ninety is how many standard deviations hold 90 %.
const ninety = 1.6449

// Run fits a figures file.
func Run(x *Figures, o Options) (*Result, error) {
	s, err := newSolver(x)
	if err != nil {
		return nil, err
	}
	got, err := s.all(o.Starts, o.Seed)
	if err != nil {
		return nil, fmt.Errorf("fit: no start led to a fit: %w", err)
	}
	if got, err = s.atTheBattery(got); err != nil {
		return nil, err
	}
	f := got.best
	r := &Result{Figures: x, Starts: got.n, Same: got.same, Others: len(got.other), Seed: o.Seed}
	s.report(r, f)
	if r.Conflicts, err = s.conflicts(f); err != nil {
		return nil, err
	}
	bare, err := s.write(f, nil, "")
	if err != nil {
		return nil, err
	}
	limits, err := s.limits(bare)
	if err != nil {
		return nil, err
	}
	s.notes(r, f, limits)
	if r.Curve, err = s.curve(f); err != nil { // the fit stands without its picture
		r.Notes = append(r.Notes, fmt.Sprintf("The output over speed is not drawn: %v.", err))
	}
	r.System, err = s.write(f, limits, r.head())
	return r, err
}

// atTheBattery fits anew with the volts that the circuit of the fitted vehicle
// lifts the battery over the regulator; the second time they have settled to
// some millivolts.
func (s *solver) atTheBattery(got *starts) (*starts, error) {
	needed := false
	for _, f := range s.list {
		needed = needed || f.Kind == Regulated && f.AtBattery
	}
	if !needed {
		return got, nil
	}
	for range 2 {
		data, err := s.write(got.best, nil, "")
		if err != nil {
			return nil, err
		}
		if err := s.lifts(data); err != nil {
			return nil, err
		}
		next, err := s.least(s.list, got.best.z)
		if err != nil {
			return nil, err
		}
		got.best = next
	}
	return got, nil
}

// report fills in figures, unknowns and what stays open.
func (s *solver) report(r *Result, f *found) {
	v := s.values(f.z)
	file := s.fileCovariance(f)
	for k, fig := range s.list {
		x := Fitted{Figure: fig, Predicted: s.p.predict(&v, fig)}
		x.Misfit = fig.Misfit(x.Predicted)
		x.Spread = f.spread(k) * fig.sd()
		sum := 0.0
		for i := range s.free {
			sum += f.j.At(k, i) * f.j.At(k, i) * file[i]
		}
		x.InFile = math.Sqrt(sum) * fig.sd()
		if fig.Kind == Output {
			if amps, err := s.p.timeDomain(&v, fig); err == nil {
				x.TimeDomain = &amps
			}
		}
		r.Fitted = append(r.Fitted, x)
	}
	ps := s.params(f)
	for i := range s.free {
		r.Unknowns = append(r.Unknowns, s.known(f, i, ps))
	}
	r.Open = s.open(f)
}

// fileCovariance is the diagonal that the system file's spreads make, in squares
// of the priors' standard deviations.
func (s *solver) fileCovariance(f *found) []float64 {
	ps := s.params(f)
	out := make([]float64, len(s.free))
	for i := range s.free {
		u := &s.free[i]
		sd := 0.0
		if p, ok := ps[u.id]; ok {
			sd = p.spread
			if u.log {
				sd = math.Log(p.spread)
			}
		} else if u.slot == slip || u.slot == brush {
			sd = u.unit
		}
		out[i] = sd / u.sd * (sd / u.sd)
	}
	return out
}

func (s *solver) known(f *found, i int, ps map[string]written) Known {
	u := &s.free[i]
	sd := math.Sqrt(f.cov.At(i, i))
	ends := func(z, sd float64) Interval { return Interval{u.at(z), u.at(z - ninety*sd), u.at(z + ninety*sd)} }
	k := Known{
		ID: u.id, Name: u.name, Dim: u.dim, Prior: ends(0, 1), Fitted: ends(f.z[i], sd), Removed: f.removed(i),
		Verdict: Partly, Settle: u.settle, Far: f.z[i], FromTemplate: u.slot == slip || u.slot == brush,
		Bound: f.z[i] <= u.lo || f.z[i] >= u.hi, With: s.along(f, i),
	}
	switch left := 1 - k.Removed; {
	case left < wellKnown:
		k.Verdict = Determined
	case left > mostlyOpen:
		k.Verdict = Undetermined
	}
	if p, ok := ps[u.id]; ok {
		k.InFile, k.FileMedian, k.FileSpread = true, p.median, p.spread
	}
	for row, fig := range s.list {
		if math.Abs(f.j.At(row, i)) > seen {
			k.FiguresThatSay = append(k.FiguresThatSay, fig.ID)
		}
	}
	return k
}

// goesAlong is the correlation from which on unknowns are said to go along.
const goesAlong = 0.5

// along lists what goes along with an unknown.
func (s *solver) along(f *found, i int) (out []Part) {
	for k := range s.free {
		c := f.cov.At(i, k) / math.Sqrt(f.cov.At(i, i)*f.cov.At(k, k))
		if k == i || math.Abs(c) < goesAlong {
			continue
		}
		u := &s.free[k]
		out = append(out, Part{u.id, u.name, u.dim, u.at(f.z[k]), u.at(f.z[k] + c*math.Sqrt(f.cov.At(k, k)))})
	}
	return out
}

// Parts of a combination worth naming: those with a tenth of its square.
const partShare = 0.1

// open words the combinations of two or more unknowns; an unknown that is open
// by itself is told by its verdict.
func (s *solver) open(f *found) []Combination {
	var out []Combination
	for _, d := range f.directions() {
		c := Combination{Left: d.left}
		for i, w := range d.weight {
			if w*w < partShare || !s.touched(f, i) {
				continue
			}
			u := &s.free[i]
			step := w * math.Sqrt(d.left)
			c.Parts = append(c.Parts, Part{u.id, u.name, u.dim, u.at(f.z[i]), u.at(f.z[i] + step)})
		}
		if len(c.Parts) > 1 {
			out = append(out, c)
		}
	}
	return out
}

// touched says whether any figure says anything of an unknown.
func (s *solver) touched(f *found, i int) bool {
	for k := range s.list {
		if math.Abs(f.j.At(k, i)) > seen {
			return true
		}
	}
	return false
}

// head is the comment above the system file.
func (r *Result) head() string {
	x := r.Figures
	var b strings.Builder
	say := func(format string, args ...any) {
		b.WriteString(folded(fmt.Sprintf(format, args...), 76) + "\n")
	}
	say("Made by chargewright fit from figures of this manual: %s. Nothing in it was measured: a fitted figure has the basis computed. The vehicle maker's manual, local rules and qualified practice come before every line here.", x.Manual)
	for _, f := range r.Fitted {
		say("p. %s: %s: given %s, here %s", f.Page, f.Words(), f.Given(), unit.Format(f.Dim(), f.Predicted))
	}
	for _, k := range r.Unknowns {
		if k.Verdict == Undetermined && !k.FromTemplate {
			say("undetermined: %s", k.Name)
		}
	}
	for _, c := range r.Conflicts {
		say("CONTRADICTION: %s", c.Words)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// folded breaks text at spaces, further lines indented.
func folded(text string, columns int) string {
	out, at := "", 0
	for i, word := range strings.Fields(text) {
		switch {
		case i == 0:
		case at+1+len(word) > columns:
			out += "\n  "
			at = 2
		default:
			out += " "
			at++
		}
		out += word
		at += len(word)
	}
	return out
}
