package prediction

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"chargewright/circuit"
	"chargewright/internal/need"
	"chargewright/internal/sample"
	"chargewright/question"
	"chargewright/system"
)

// first is the system that most of the runs are of.
const first = "isolated-earth-side"

// networkCase is one network that both programs solve.
type networkCase struct {
	name string
	p    []float64
}

// TestNetworkAgainstNgspice holds the network solver against ngspice on the same
// netlist: every node of every hook-up of the catalogue under every fault, each
// with its own drawn figures.
//
// Tolerance: 1e-6 of the largest voltage, some 13 uV of a battery's. ngspice is
// asked for 1e-9; its gmin of 1e-16 S across the diode moves nothing; our solver
// ends at 1e-9 of a volt. What is left is rounding: 1e10 Ohm beside 0.1 mOhm
// takes 14 of 16 digits from a node that nothing feeds.
//
// A run takes about 150 of them on the first system and 40 on each other,
// CHARGEWRIGHT_ALL=1 takes all.
func TestNetworkAgainstNgspice(t *testing.T) {
	program := need.Program(t, "ngspice")
	for _, id := range system.Library() {
		t.Run(id, func(t *testing.T) { networksAgainst(t, program, id, map[bool]int{true: 150, false: 40}[id == first]) })
	}
}

func networksAgainst(t *testing.T, program, id string, about int) {
	const source = "program: ngspice 39, operating point of the written netlist"
	l, cases := networkCases(t, id, about)
	ours := make([][]float64, len(cases))
	decks := make([]string, len(cases))
	s := l.Net.NewSolver()
	for i, c := range cases {
		s.Forget()
		clear(s.X)
		if err := s.Solve(c.p); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		ours[i] = append([]float64(nil), s.X...)
		decks[i] = deck(t, l, c)
	}
	began := time.Now()
	theirs := operatingPoints(t, program, decks)
	twice := 0
	for i, d := range decks {
		if theirs[i] == nil && d != "" {
			twice++
			theirs[i] = operatingPoints(t, program, []string{strings.Replace(d, spiceOptions, again, 1)})[0]
		}
	}
	t.Logf("%d networks, ngspice %v, %d asked twice", len(cases), time.Since(began).Round(time.Millisecond), twice)
	worst := 0.0
	for i, c := range cases {
		if ours[i] == nil {
			continue
		}
		d, node := apart(t, l.Net, ours[i], theirs[i])
		worst = math.Max(worst, d)
		if !(d <= 1e-6) {
			t.Errorf("%s: node %s is off by %.3g of the largest voltage; %s", c.name, node, d, source)
		}
	}
	t.Logf("worst node: %.2g of the largest voltage", worst)
}

// TestNetworkBites shows that the comparison sees a resistance that is 1 %
// different in one of the programs.
func TestNetworkBites(t *testing.T) {
	program := need.Program(t, "ngspice")
	l, cases := networkCases(t, first, 150)
	c := cases[1] // the first hook-up with a fault: current flows in its charging line
	s := l.Net.NewSolver()
	if err := s.Solve(c.p); err != nil {
		t.Fatal(err)
	}
	for i, e := range l.m.Sys.Elements {
		if e.ID == "coil" || e.ID == "ign-switch" {
			c.p[l.ohms[i]] *= 1.01
		}
	}
	d, node := apart(t, l.Net, s.X, operatingPoints(t, program, []string{deck(t, l, c)})[0])
	if d <= 1e-6 {
		t.Errorf("1 %% of a resistance moved no node by more than %.2g (%s)", d, node)
	}
}

// networkCases lists hook-ups times faults, the sound vehicle first. About so
// many of them, spread evenly, unless all are asked for.
func networkCases(t *testing.T, id string, about int) (*Linear, []networkCase) {
	t.Helper()
	sys, err := system.ByID(id)
	if err != nil {
		t.Fatal(err)
	}
	m, err := Compile(sys)
	if err != nil {
		t.Fatal(err)
	}
	l, err := m.Linear()
	if err != nil {
		t.Fatal(err)
	}
	l.Tight = 1e-3
	setups, names := hookups(t, m)
	total := len(setups) * (len(sys.Faults) + 1)
	step := 1
	if !sample.All() {
		// A step without a common factor with the faults goes through them
		// at every hook-up in turn.
		for step = total / about; step > 1 && gcd(step, len(sys.Faults)+1) > 1; step++ {
		}
	}
	var cases []networkCase
	for k := 0; k < total; k += step {
		at, fault := k/(len(sys.Faults)+1), k%(len(sys.Faults)+1)-1
		cases = append(cases, l.drawn(uint64(k), names[at], setups[at], fault))
	}
	t.Logf("%d hook-ups, %d faults, %d of %d networks", len(setups), len(sys.Faults), len(cases), total)
	return l, cases
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// drawn is a network with figures drawn from their spreads.
func (l *Linear) drawn(seed uint64, name string, s question.Setup, fault int) networkCase {
	rng := rand.New(rand.NewPCG(seed, 1))
	z := make([]float64, l.m.Dims())
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	var h Hypothesis
	var comp Component
	if fault < 0 {
		return networkCase{name + ", sound", l.Params(h, comp, s, z)}
	}
	f := &l.m.Sys.Faults[fault]
	h.Faults = []int{fault}
	if f.Magnitude != nil {
		comp.Mean[0], comp.SD[0] = MagnitudeComponent(f.Magnitude, rng.IntN(3), 3)
	}
	return networkCase{name + ", " + f.ID, l.Params(h, comp, s, z)}
}

// hookups lists the distinct setups of the catalogue, named by the first
// procedure that asks for each.
func hookups(t *testing.T, m *Model) (out []question.Setup, names []string) {
	t.Helper()
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, id := range procs.IDs() {
		p := procs[id]
		if ok, _ := p.Applies(m.Sys); !ok {
			continue
		}
		s := hookup(t, m, p)
		if key := m.key(s); !seen[key] {
			seen[key] = true
			out, names = append(out, s), append(names, id)
		}
	}
	return out, names
}

// hookup is how the vehicle stands for a procedure, as a person gets it there.
func hookup(t *testing.T, m *Model, p *question.Procedure) question.Setup {
	t.Helper()
	target, err := p.Target(m.Sys)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := m.Sys.Rig.Path(m.Sys.Rig.Rest, target)
	if err != nil {
		t.Fatal(err)
	}
	return question.Setup{Rig: plan.Final, Engine: question.EngineSpeed(&m.Sys.Rig, plan.Final), Hold: p.Hold}
}

// What ngspice is asked for. A vehicle that hangs on its leaks alone (a clamp off
// with the engine running) finds no operating point to the last digit, and is
// asked again for a thousandth of what is compared.
const (
	spiceOptions = ".options temp=27 tnom=27 gmin=1e-16 reltol=1e-9 abstol=1e-15 vntol=1e-12 itl1=500"
	again        = ".options temp=27 tnom=27 gmin=1e-16 reltol=1e-8 abstol=1e-12 vntol=1e-9 pivrel=0.1 itl1=500"
)

func deck(t *testing.T, l *Linear, c networkCase) string {
	t.Helper()
	var b bytes.Buffer
	if err := l.Net.Netlist(&b, c.name, c.p); err != nil {
		t.Fatal(err)
	}
	b.WriteString(spiceOptions + "\n.end\n")
	return b.String()
}

// apart is the largest difference between two solutions over the largest
// voltage of either, and the node where it is.
func apart(t *testing.T, net *circuit.Compiled, x []float64, theirs map[string]float64) (float64, string) {
	t.Helper()
	largest, worst, at := 0.0, 0.0, ""
	for i, name := range net.Network().Names() {
		n := circuit.Node(i)
		if n == 0 {
			continue
		}
		v, ok := theirs["v("+net.SpiceNode(n)+")"]
		if !ok {
			return math.Inf(1), name + " (ngspice gave no operating point)"
		}
		ours := x[net.At(n)]
		largest = math.Max(largest, math.Max(math.Abs(ours), math.Abs(v)))
		if d := math.Abs(ours - v); !(d <= worst) {
			worst, at = d, name
		}
	}
	return worst / largest, at
}

// operatingPoints runs all decks in one ngspice and returns what each found, by
// vector; nil where it found none.
func operatingPoints(t *testing.T, program string, decks []string) []map[string]float64 {
	t.Helper()
	dir := t.TempDir()
	var main strings.Builder
	main.WriteString("* many operating points\n.control\n")
	for i, d := range decks {
		if d == "" {
			continue
		}
		file := fmt.Sprintf("c%d.cir", i)
		if err := os.WriteFile(filepath.Join(dir, file), []byte(d), 0o600); err != nil {
			t.Fatal(err)
		}
		// A run that finds nothing leaves its file unwritten: the constants'
		// plot holds no node.
		fmt.Fprintf(&main, "source %s\nop\nwrite c%d.raw\ndestroy all\nremcirc\n", file, i)
	}
	main.WriteString("quit\n.endc\n.end\n")
	in := filepath.Join(dir, "main.cir")
	if err := os.WriteFile(in, []byte(main.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "-b", in)
	cmd.Dir = dir
	said, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("ngspice: %v\n%s", err, said[max(0, len(said)-2000):])
	}
	out := make([]map[string]float64, len(decks))
	for i := range decks {
		raw, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("c%d.raw", i)))
		if err == nil {
			out[i] = onePoint(raw)
		}
	}
	return out
}

// onePoint reads a binary raw file that holds one point of float64.
func onePoint(raw []byte) map[string]float64 {
	head, body, ok := bytes.Cut(raw, []byte("\nBinary:\n"))
	if !ok {
		return nil
	}
	out := map[string]float64{}
	_, list, _ := strings.Cut(string(head), "\nVariables:\n")
	for line := range strings.SplitSeq(list, "\n") {
		f := strings.Fields(line)
		if len(f) < 3 {
			continue
		}
		k, err := strconv.Atoi(f[0])
		if err != nil || len(body) < 8*(k+1) {
			return nil
		}
		out[strings.ToLower(f[1])] = math.Float64frombits(binary.LittleEndian.Uint64(body[8*k:]))
	}
	return out
}
