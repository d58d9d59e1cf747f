package truth

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"chargewright/internal/near"
	"chargewright/machine"
	"chargewright/question"
	"chargewright/system"
)

// rawFile writes columns as ngspice does.
func rawFile(names []string, cols [][]float64) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "Title: t\nDate: d\nPlotname: Transient Analysis\nFlags: real\nNo. Variables: %d\nNo. Points: %-8d\nVariables:\n", len(names), len(cols[0]))
	for i, n := range names {
		fmt.Fprintf(&b, "\t%d\t%s\tvoltage\n", i, n)
	}
	b.WriteString("Binary:\n")
	for k := range cols[0] {
		for _, c := range cols {
			_ = binary.Write(&b, binary.LittleEndian, c[k]) // a buffer takes everything
		}
	}
	return b.Bytes()
}

// Two points of known waves over unequal steps: a mean, and ripple of two
// independent shapes, of which each point has its own shares.
func TestAveragesOverWholeTurns(t *testing.T) {
	const hertz, periods, steps = 287.5, 6, 230.0
	rng := rand.New(rand.NewPCG(1, 2))
	var cols [4][]float64
	for x, end := 0.0, 2.4*periods/hertz; x < end; x += (0.5 + rng.Float64()) / (steps * hertz) {
		w := 2 * math.Pi * hertz * x
		cols[0] = append(cols[0], x)
		cols[1] = append(cols[1], 14+0.3*math.Sin(w)+0.4*math.Cos(2*w))
		cols[2] = append(cols[2], 12+0.1*math.Sin(w)-0.2*math.Cos(2*w))
		cols[3] = append(cols[3], 1)
	}
	raw := rawFile([]string{"time", "v(n_a)", "v(n_b)", "xlate"}, [][]float64{cols[0], cols[1], cols[2], cols[3]})
	w, err := parseRaw(raw)
	if err != nil {
		t.Fatal(err)
	}
	n := &Netlist{points: []string{"n_a", "n_b", "0"}, hertz: hertz, periods: periods, window: periods / hertz}
	cuts, err := n.windows(w)
	if err != nil {
		t.Fatal(err)
	}
	cols2 := make([][]float64, 3)
	for i, p := range n.points {
		if cols2[i], err = w.get(p); err != nil {
			t.Fatal(err)
		}
	}
	mean := means(cuts[1], cols2)
	// Straight lines between samples lose (w h)^2/12 of a wave, h up to 1.5
	// steps and of twice the frequency: 6e-4.
	tol := near.Tol{Rel: 1e-3, Abs: 1e-4}
	near.Check(t, "mean", mean[0], 14, tol, "closed form: mean of the wave")
	near.Check(t, "mean", mean[1], 12, tol, "closed form: mean of the wave")
	l := shapes(cuts[1], cols2, mean)
	r := Run{Volts: mean, Ripple: l}
	where := numbered([]string{"a", "b", "ref"}, nil)
	for _, c := range []struct {
		red, black string
		want       float64
	}{
		{"a", "ref", math.Sqrt((0.09 + 0.16) / 2)},
		{"b", "ref", math.Sqrt((0.01 + 0.04) / 2)},
		{"a", "b", math.Sqrt((0.04 + 0.36) / 2)},
	} {
		got, err := r.answer(where, question.Observable{Kind: question.ACVolts, Red: c.red, Black: c.black})
		if err != nil {
			t.Fatal(err)
		}
		near.Check(t, "rms "+c.red+"-"+c.black, got, c.want, near.Tol{Rel: 2e-3}, "closed form: rms of the difference of the waves")
	}
	if _, err := r.answer(where, question.Observable{Kind: question.Volts, Red: "a", Black: "nowhere"}); err == nil {
		t.Error("a point that is not there was answered")
	}
	if _, err := w.between(-1, 1); err == nil {
		t.Error("more than was recorded was averaged")
	}
}

func TestRawFileCutShort(t *testing.T) {
	raw := rawFile([]string{"time", "v(n_a)"}, [][]float64{{0, 1, 2}, {1, 2, 3}})
	for _, bad := range [][]byte{nil, raw[:len(raw)-5], bytes.Replace(raw, []byte("Binary"), []byte("Values"), 1), rawFile([]string{"time", "v(n_a)"}, [][]float64{{0, 1}, {1, math.NaN()}})} {
		if _, err := parseRaw(bad); err == nil {
			t.Errorf("a raw file of %d bytes was taken", len(bad))
		}
	}
}

// The regulator's compensation is written anew here; it must say what the
// vehicle's figures say.
func TestRegulatorMiddle(t *testing.T) {
	m, _ := shared(t)
	v := Sound(m)
	w := &writer{m: m, v: m.Values(v.Fault, v.Comp, question.Setup{}, v.Z), x: m.Sys.Generators()[0]}
	// The set-point is stated at 27 degC; the bay at rest is at 20 degC.
	near.Check(t, "set-point at 20 degC", w.middle(), 14.1+0.010*7, near.Tol{Abs: 1e-9}, "closed form: 14.1 V at 27 degC, -10 mV/K, the vehicle's figures")
}

// Parts of the vehicle meet at its points only: a node of one part's own that
// another part uses as well joins them without a word from ngspice.
func TestPartsHaveNodesOfTheirOwn(t *testing.T) {
	m, procs := shared(t)
	q, err := Question(m, procs["full-field-output"])
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{}, Other()} {
		v := Sound(m)
		w := &writer{m: m, o: o, v: m.Values(v.Fault, v.Comp, q.Setup, v.Z), x: m.Sys.Generators()[0], t: layout(287, firstSettle, o)}
		// A second battery stands beside the vehicle's one, on the same posts.
		w.v.Batteries = append(w.v.Batteries, w.v.Batteries[0])
		one := m.Sys.Accumulators()[0]
		first, second := func() { w.battery(0, one) }, func() { w.battery(1, one) }
		owner, elements := map[string]int{}, map[string]bool{}
		for part, write := range []func(){w.machine, w.field, w.regulator, first, second, w.loadTester} {
			w.Reset()
			write()
			for _, line := range strings.Split(w.String(), "\n") {
				f := strings.Fields(strings.ToLower(line))
				if len(f) < 3 || strings.HasPrefix(f[0], ".") || strings.HasPrefix(f[0], "*") {
					continue
				}
				if elements[f[0]] {
					t.Errorf("element %s stands twice", f[0])
				}
				elements[f[0]] = true
				for _, node := range f[1:3] {
					if !strings.HasPrefix(node, "x") {
						continue
					}
					if first, ok := owner[node]; ok && first != part {
						t.Errorf("node %s is of part %d and of part %d", node, first, part)
					}
					owner[node] = part
				}
			}
		}
		if len(owner) < 30 {
			t.Errorf("only %d nodes seen", len(owner))
		}
	}
}

func TestHeldOutputIsRefused(t *testing.T) {
	m, _ := shared(t)
	v := Sound(m)
	if _, err := v.Write(m, question.Setup{Hold: []question.Hold{{What: "output-amps", Target: 20}}}, Options{}, 0); err == nil {
		t.Error("held output amps were written")
	}
}

// All patterns of the system reach the netlist as changed elements.
func TestPatternsReachTheNetlist(t *testing.T) {
	m, procs := shared(t)
	q, err := Question(m, procs["charge-volts"])
	if err != nil {
		t.Fatal(err)
	}
	sound, seen := Sound(m), map[string]bool{}
	n, err := sound.Write(m, q.Setup, Options{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range m.Sys.Faults {
		if p, _ := machine.ParsePattern(f.Pattern); p == machine.Healthy || seen[f.Pattern] {
			continue
		}
		seen[f.Pattern] = true
		v := Sound(m)
		v.Fault.Faults = []int{i}
		other, err := v.Write(m, q.Setup, Options{}, 0)
		if err != nil {
			t.Fatal(err)
		}
		if other.Hash() == n.Hash() {
			t.Errorf("%s leaves the netlist as it is", f.ID)
		}
	}
	if want := len(system.Patterns) - 1; len(seen) != want {
		t.Errorf("%d patterns seen of %d", len(seen), want)
	}
}
