package machine

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"chargewright/internal/need"
	"chargewright/internal/sample"
)

const buildFixture = "testdata/ngspice_builds.txt"

// buildCase is one stored run of a build: mean, orders 1 2 3 4 6 12, peak to peak
// of the output current [A], and the mean D+ voltage [V].
type buildCase struct {
	name    string
	build   Build
	netlist string
	out     [9]float64
}

// ratedDelta is the worked machine wound as the delta that looks the same from
// outside.
func ratedDelta(rpm, volts float64) Build {
	b := ratedBuild(Healthy, rpm, volts)
	b.Winding = Delta
	b.EMF *= math.Sqrt(3)
	b.Ohms, b.Henries = 3*b.Ohms, 3*b.Henries
	return b
}

// ratedNine is the worked machine with field diodes that feed a held 2.5 A.
func ratedNine(rpm, volts float64) Build {
	b := ratedBuild(Healthy, rpm, volts)
	b.Field = &FieldSide{Diode: SmallDiode, Amps: 2.5}
	return b
}

// buildCases are what OperatingPoint's cases do not have: delta windings,
// diodes and faults at the star point, field diodes, partial faults.
func buildCases() []buildCase {
	var cases []buildCase
	add := func(name string, b Build, changes ...string) {
		for _, c := range changes {
			if err := b.Changes.Apply(c); err != nil {
				panic(err) // a list of our own
			}
			name += " " + c
		}
		cases = append(cases, buildCase{name: name, build: b, netlist: b.Netlist(name, "out.txt", ngspicePeriods, ngspiceSteps)})
	}
	harmonic := func(b Build) Build {
		b.Third, b.Fifth, b.ZeroHenries = 0.1, 0.04, 0.25*b.Henries
		return b
	}
	delta := ratedDelta(2875, 15)
	add("delta", delta)
	add("delta with EMF harmonics", harmonic(delta))
	for _, c := range []string{"winding-a=open", "lead-a=open", "lead-a=0.3 Ohm", "winding-b=0.5 Ohm", "a-case=short", "b-c=short"} {
		add("delta", delta, c)
	}
	add("delta with EMF harmonics", harmonic(delta), "winding-a=open")
	star := harmonic(ratedBuild(Healthy, 8000, 15))
	star.StarDiodes = true
	add("star-point diodes", star)
	add("star-point diodes", star, "star-diode+=open")
	star.Omega, star.EMF = star.Omega/3, star.EMF/3
	add("star-point diodes, a third of the speed", star, "lead-a=open")
	add("star", ratedBuild(Healthy, 2875, 15), "star-case=short")
	add("star", ratedBuild(Healthy, 2875, 15), "diode-a+=1 Ohm")
	add("star", ratedBuild(Healthy, 2875, 15), "lead-b=0.5 Ohm")
	for _, rpm := range []float64{2875, 1300} {
		name := fmt.Sprintf("field diodes at %v rpm", rpm)
		add(name, ratedNine(rpm, 14))
		for _, c := range []string{"field-diode-a=open", "field-diode-a=short", "diode-a+=open", "diode-a-=open", "diode-a+=short", "diode-a-=short", "lead-a=open"} {
			add(name, ratedNine(rpm, 14), c)
		}
	}
	soft := ratedNine(2875, 13.5)
	soft.SourceOhms = 0.03
	soft.Field.Amps, soft.Field.Siemens, soft.Field.Behind = 0.5, 0.4, 6
	add("field diodes behind 30 mOhm, D+ on a resistance", soft)
	add("field diodes, no output: cut in on D+ alone", ratedNine(900, 14))
	return cases
}

// program: ngspice 39, netlists as stored. Agreement 0.5 % of the mean or of the
// largest order, whichever is larger (the bar of the bridge); D+ within 0.5 % of
// the output voltage.
func TestRunAgainstNgspice(t *testing.T) {
	if *update {
		updateBuilds(t)
	}
	stored := readBuilds(t)
	var worst [9]float64 // shares of the largest current, or of the output voltage
	for _, c := range buildCases() {
		ref, ok := stored[c.name]
		if !ok || ref.netlist != c.netlist {
			t.Errorf("%s: not in %s, or with another netlist: run go test ./machine -run Ngspice -update", c.name, buildFixture)
			continue
		}
		p, err := Run(c.build)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got := [9]float64{0: p.Stud.Mean, 7: p.Stud.PeakToPeak, 8: p.DPlusVolts.Mean}
		copy(got[1:7], p.Stud.Orders[:])
		if c.build.Field == nil {
			got[8] = p.StudVolts.Mean
		}
		scale := 1.0 // [A], where the output is cut off
		for _, x := range ref.out[:7] {
			scale = max(scale, x)
		}
		for k, want := range ref.out {
			size := scale
			if k == 8 {
				size = c.build.Volts
			}
			worst[k] = max(worst[k], math.Abs(got[k]-want)/size)
			if math.Abs(got[k]-want) > 0.005*size {
				t.Errorf("%s: figure %d is %.4f, ngspice %.4f", c.name, k, got[k], want)
			}
		}
	}
	for k, w := range worst {
		t.Logf("figure %d: at most %.3f %% from ngspice", k, 100*w)
	}
}

// The stored values are what the simulator says today, within 0.2 % of the
// largest figure.
func TestBuildFixtureIsFresh(t *testing.T) {
	need.Program(t, "ngspice")
	stored := readBuilds(t)
	for k, c := range buildCases() {
		// Every eighth case keeps this test short; CHARGEWRIGHT_ALL takes all.
		if !sample.All() && k%8 != 0 {
			continue
		}
		out := runBuild(t, c.netlist)
		for i, want := range stored[c.name].out {
			if math.Abs(out[i]-want) > 2e-3*max(stored[c.name].out[0], stored[c.name].out[7], 1) {
				t.Errorf("%s: figure %d is %.5f live, %.5f stored", c.name, i, out[i], want)
			}
		}
	}
}

// runBuild runs a netlist and reduces the last period.
func runBuild(t *testing.T, netlist string) (out [9]float64) {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "case.cir"), []byte(netlist), 0o644); err != nil {
		t.Fatal(err)
	}
	limit, cancel := context.WithTimeout(t.Context(), time.Minute) // 0.3 s are usual
	defer cancel()
	cmd := exec.CommandContext(limit, "ngspice", "-b", "case.cir")
	cmd.Dir = dir
	if msg, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ngspice: %v\n%s", err, msg)
	}
	data, err := os.ReadFile(filepath.Join(dir, "out.txt"))
	if err != nil {
		t.Fatal(err)
	}
	var at, amps, volts []float64
	for line := range strings.Lines(string(data)) {
		var x, y, z float64
		if _, err := fmt.Sscan(line, &x, &y, &x, &z); err == nil {
			at, amps, volts = append(at, x), append(amps, y), append(volts, z)
		}
	}
	if len(at) < ngspiceSteps {
		t.Fatalf("ngspice wrote %d samples", len(at))
	}
	current, voltage := reduce(at, amps), reduce(at, volts)
	copy(out[:], current[:])
	out[8] = voltage[0]
	return out
}

func updateBuilds(t *testing.T) {
	t.Helper()
	var b strings.Builder
	b.WriteString("# Machines with delta windings, star-point diodes and field diodes by an independent simulator, for build_spice_test.go.\n")
	b.WriteString("# program: ngspice-39, the netlist below each case; output amperes: mean, orders 1 2 3 4 6 12 (peak), peak to peak; mean volts of D+, of the output without D+\n")
	for _, c := range buildCases() {
		fmt.Fprintf(&b, "== %s\n", c.name)
		for k, x := range runBuild(t, c.netlist) {
			if k > 0 {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "%.5f", x)
		}
		fmt.Fprintf(&b, "\n%s", c.netlist)
	}
	if err := os.WriteFile(buildFixture, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

func readBuilds(t *testing.T) map[string]buildCase {
	t.Helper()
	data, err := os.ReadFile(buildFixture)
	if err != nil {
		t.Fatal(err)
	}
	stored := map[string]buildCase{}
	for _, block := range strings.Split(string(data), "\n== ")[1:] {
		scan := bufio.NewScanner(strings.NewReader(block))
		scan.Scan()
		c := buildCase{name: scan.Text()}
		scan.Scan()
		for k, f := range strings.Fields(scan.Text()) {
			if _, err := fmt.Sscan(f, &c.out[k]); err != nil {
				t.Fatal(err)
			}
		}
		for scan.Scan() {
			c.netlist += scan.Text() + "\n"
		}
		stored[c.name] = c
	}
	return stored
}
