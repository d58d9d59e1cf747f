package prediction_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"chargewright/circuit"
	"chargewright/internal/sample"
	"chargewright/internal/testcar"
	"chargewright/prediction"
	"chargewright/question"
)

func car(t *testing.T) *testcar.Car { return carOf(t, "isolated-earth-side") }

func carOf(t *testing.T, id string) *testcar.Car {
	t.Helper()
	c, err := testcar.Library(id)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// adjointCases are the systems, each sound and with faults of every kind: for
// the first twelve, for the others what their regulator and field have of their
// own. least is how many comparisons there must be.
var adjointCases = []struct {
	system string
	faults []string
	draws  int
	least  int
}{
	{"isolated-earth-side", []string{
		"", "feed-joint-bulkhead-a", "clamp-negative", "earth-joint-block", "charge-wire-open", "field-feed-joint",
		"rotor-earthed-a", "rotor-shorted-turns", "diode-open", "diode-short", "regulator-set-high", "belt-slip", "battery-worn",
	}, 2, sample.Count(50000, 100000)},
	{"supply-side-contact", []string{
		"", "regulator-contacts-burnt", "regulator-second-stuck", "regulator-earth", "reg-plug-feed-pin", "field-wire-earthed", "diode-short",
	}, 1, 25000},
	{"output-fed-earth-side", []string{"", "reg-plug-sense-pin", "sense-wire-open", "regulator-full-field", "rotor-earthed-b", "charge-wire-open"}, 1, 25000},
	{"lamp-excited", []string{"", "lamp-led", "trio-joint", "diode-open", "diode-short", "field-diode-open"}, 1, 15000},
	{"isolated-supply-side", []string{"", "field-earth-poor", "field-earth-fed-blade", "regulator-unsteady"}, 1, 15000},
	{"coach-24", []string{"", "second-rotor-open", "second-diode-short", "second-stud-joint", "regulator-full-field", "second-sense-wire-open"}, 1, 15000},
}

// scene is one operating point with all that procedures read at it.
type scene struct {
	asked []prediction.Asked
	names []string // of each value
	obs   []question.Observable
}

// scenes groups the measuring procedures by operating point.
func scenes(t *testing.T, c *testcar.Car) []*scene {
	t.Helper()
	at := map[string]*scene{}
	var out []*scene
	for _, id := range c.Procs.IDs() {
		p := c.Procs[id]
		if ok, _ := p.Applies(c.Sys); !ok || p.Look != nil {
			continue
		}
		q, err := c.Question(id)
		if err != nil {
			t.Fatal(err)
		}
		a, err := c.Model.Ask(q)
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		s := at[a.Key]
		if s == nil || a.Dead() != s.asked[0].Dead() {
			s = &scene{}
			at[a.Key] = s
			out = append(out, s)
		}
		s.asked = append(s.asked, a)
		for i := range a.Probes {
			s.names = append(s.names, id+": "+a.Probes[i].Obs.Note)
			s.obs = append(s.obs, a.Probes[i].Obs)
		}
	}
	return out
}

// vehicle is a truth with the worker that predicts it.
type vehicle struct {
	c     *testcar.Car
	w     *prediction.Worker
	truth testcar.Truth
	z     []float64
}

// side is what every value of a scene reads at one z.
type side struct {
	ok     bool
	regime circuit.Regime
	v      []float64
}

// read solves a scene with coordinate q moved by d, from where the last solve
// ended, and returns the derivatives as well when rows is set.
func (v *vehicle) read(s *scene, q int, d float64, rows *[][]float64) side {
	v.z[q] = v.truth.Z[q] + d
	v.w.Hold(prediction.Hypothesis{Faults: v.truth.Faults}, v.truth.Comp, v.z)
	defer func() { v.z[q] = v.truth.Z[q] }()
	if v.w.Solve(&s.asked[0]) != nil {
		return side{}
	}
	out := side{ok: true, regime: v.w.Sheet().Regime}
	for i := range s.asked {
		for p := range s.asked[i].Probes {
			var row []float64
			if rows != nil {
				row = make([]float64, len(v.z))
				*rows = append(*rows, row)
			}
			out.v = append(out.v, v.w.Read(&s.asked[i].Probes[p], row))
		}
	}
	return out
}

// differences are Richardson's central differences with steps h and 2h; fold
// says that the regime changes between their ends.
func (v *vehicle) differences(s *scene, q int, h float64, regime circuit.Regime) (d []float64, ok, fold bool) {
	at := func(k float64) side { return v.read(s, q, k*h, nil) }
	a, b, a2, b2 := at(1), at(-1), at(2), at(-2)
	for _, x := range []side{a, b, a2, b2} {
		if !x.ok {
			return nil, false, false
		}
		fold = fold || x.regime != regime
	}
	for i := range a.v {
		d = append(d, (8*(a.v[i]-b.v[i])-(a2.v[i]-b2.v[i]))/(12*h))
	}
	return d, true, fold
}

// tally counts comparisons.
type tally struct {
	compared, folds, failed, megohms int
	twos, apart                      int // values read two at a time, and those that were others
	worst                            []miss
	errors                           []float64
}

type miss struct {
	what, fault, coord string
	row, diff, err     float64
}

// tooFar is the bar of the comparison, review of the engine: 1e-6 of
// (|derivative| + the meter's standard uncertainty), since relative alone fails
// at zero.
const tooFar = 1e-6

// steps of the differences [sd of the coordinate]. A difference has two errors
// of its own, the solver's 1e-12 V over the step and the step to the fourth;
// a wrong row shows at every step, so the best of the steps counts.
var steps = []float64{1e-3, 1e-2, 1e-1, 1}

// TestAdjointAgainstDifferences compares the rows dh/dz of every measuring
// procedure, sound and with faults, vehicles drawn from the prior, with
// differences of whole predictions in every coordinate: one vehicle a fault here, on
// the first system two with CHARGEWRIGHT_ALL.
//
// Left out by name: operating points whose regime changes across the difference
// (no derivative exists there), and resistances above 10 kOhm: those are open
// paths of 1 MOhm elements beside milliohms, known to 1e-7 of themselves only,
// and no instrument asks for more.
func TestAdjointAgainstDifferences(t *testing.T) {
	for _, k := range adjointCases {
		t.Run(k.system, func(t *testing.T) {
			c := carOf(t, k.system)
			list := scenes(t, c)
			rng := rand.New(rand.NewPCG(7, 3))
			var sum tally
			for _, fault := range k.faults {
				var faults []int
				if fault != "" {
					faults = []int{c.Fault(fault)}
				}
				for draw := range k.draws {
					v := &vehicle{c: c, w: c.Model.NewWorker(), truth: c.Draw(rng, faults, 3)}
					v.truth.Z[c.Model.StrayTerm()] = 0 // how its own resistance moves is left out of the rows, as it says there
					if draw > 0 && !sample.All() {
						continue // the same draws all the same
					}
					v.z = slices.Clone(v.truth.Z)
					for _, s := range list {
						sum.scene(v, s, fault)
					}
				}
			}
			sum.report(t, k.least)
		})
	}
}

// both reads the values of a scene two at a time, which is the quick way: they are those
// that were read one by one, to the last bit.
func (n *tally) both(v *vehicle, s *scene, base side, rows [][]float64) {
	var probes []*prediction.Probe
	for i := range s.asked {
		for p := range s.asked[i].Probes {
			probes = append(probes, &s.asked[i].Probes[p])
		}
	}
	for i := 1; i < len(probes); i++ {
		a, b := make([]float64, len(v.z)), make([]float64, len(v.z))
		x, y := v.w.ReadBoth(probes[i-1], probes[i], a, b)
		n.twos++
		if x != base.v[i-1] || y != base.v[i] || !slices.Equal(a, rows[i-1]) || !slices.Equal(b, rows[i]) {
			n.apart++
		}
	}
}

func (n *tally) scene(v *vehicle, s *scene, fault string) {
	v.w.Begin()
	var rows [][]float64
	base := v.read(s, 0, 0, &rows)
	if !base.ok {
		n.failed++
		return
	}
	n.both(v, s, base, rows)
	for q := range v.z {
		best := make([]float64, len(base.v))
		for i := range best {
			best[i] = math.Inf(1)
		}
		for k, h := range steps {
			d, ok, fold := v.differences(s, q, h, base.regime)
			if k == 0 && !ok {
				n.failed++
				break
			}
			if k == 0 && fold {
				n.folds += len(base.v)
				break
			}
			if !ok || fold {
				break
			}
			again := false
			for i := range d {
				sd := v.sd(s.obs[i], base.v[i])
				if e := (d[i] - rows[i][q]) / (math.Abs(rows[i][q]) + sd); math.Abs(e) < math.Abs(best[i]) {
					best[i] = e
				}
				again = again || math.Abs(best[i]) > tooFar && !megohm(s.obs[i], base.v[i])
			}
			if !again {
				break
			}
		}
		n.count(v, s, q, fault, base, rows, best)
	}
}

func (n *tally) count(v *vehicle, s *scene, q int, fault string, base side, rows [][]float64, best []float64) {
	for i, e := range best {
		switch {
		case math.IsInf(e, 1):
			continue
		case megohm(s.obs[i], base.v[i]):
			n.megohms++
			continue
		}
		n.compared++
		n.errors = append(n.errors, math.Abs(e))
		if math.Abs(e) > tooFar {
			id := "magnitude"
			if q < len(v.c.Model.Coords) {
				id = v.c.Model.Coords[q].ID
			}
			d := rows[i][q] + e*(math.Abs(rows[i][q])+v.sd(s.obs[i], base.v[i]))
			n.worst = append(n.worst, miss{s.names[i], fault, id, rows[i][q], d, math.Abs(e)})
		}
	}
}

func megohm(o question.Observable, v float64) bool { return o.Kind == question.Ohms && v > 1e4 }

// sd is the meter's standard uncertainty; above its range 1 % stands in.
func (v *vehicle) sd(o question.Observable, at float64) float64 {
	u, _, _, err := v.c.Meters[o.Meter].Standard(string(o.Kind), at)
	if err != nil {
		return 0.01 * math.Abs(at)
	}
	return u
}

func (n *tally) report(t *testing.T, least int) {
	t.Helper()
	if n.apart > 0 || n.twos == 0 {
		t.Errorf("of %d values read two at a time %d are others than one by one", n.twos, n.apart)
	}
	slices.Sort(n.errors)
	slices.SortFunc(n.worst, func(a, b miss) int { return cmp.Compare(b.err, a.err) })
	at := func(q float64) float64 { return n.errors[int(q*float64(len(n.errors)-1))] }
	t.Logf("%d derivatives compared: median %.1g, 99 %% %.1g, 99.9 %% %.1g, worst %.1g of (|row| + sd)", n.compared, at(.5), at(.99), at(.999), at(1))
	all := n.compared + n.folds
	t.Logf("left out: %d folds (%.2g %%), %d of open paths above 10 kOhm; %d points without solution", n.folds, 100*float64(n.folds)/float64(all), n.megohms, n.failed)
	if float64(n.folds) > 0.02*float64(all) {
		t.Errorf("%d of %d comparisons cross a fold: at most 2 %%", n.folds, all)
	}
	if n.failed > 0 {
		t.Errorf("%d operating points have no solution", n.failed)
	}
	if n.compared < least {
		t.Errorf("only %d comparisons", n.compared)
	}
	for i, m := range n.worst {
		if i == 20 {
			t.Errorf("… and %d more", len(n.worst)-i)
			break
		}
		t.Errorf("%s, fault %q, by %s: row %.9g, difference %.9g: %.2g of (|row| + sd)", m.what, m.fault, m.coord, m.row, m.diff, m.err)
	}
}
