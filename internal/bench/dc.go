package main

import (
	"bytes"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"time"

	"chargewright/circuit"
	"chargewright/internal/ngspice"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/system"
)

// What one measurement of the operating point takes.
const (
	dcBlocks = 11  // alternating blocks of ngspice and ours; the median counts
	dcLoops  = 300 // two operating points each
)

// spiceOptions ask ngspice for the tolerance that prediction's test compares at.
const spiceOptions = ".options temp=27 tnom=27 gmin=1e-16 reltol=1e-9 abstol=1e-15 vntol=1e-12 itl1=500\n"

// dcRun is the network that both programs solve, and the element that is moved.
type dcRun struct {
	program string
	net     *circuit.Compiled
	solver  *circuit.Solver
	p       []float64
	param   circuit.Param
	element int
	deck    string
}

// dc times the operating point of the vehicle's network (machine, battery and
// regulator as plain stand-ins) against ngspice's own loop of alter and op on the
// same netlist at the same tolerance, in the same run.
func (w *world) dc(out io.Writer) error {
	program, _ := exec.LookPath("ngspice") // "" when it is not there
	if program == "" {
		fmt.Fprintln(out, "Not measured: ngspice is not installed (Debian package ngspice).")
		return nil
	}
	version, err := ngspice.Version(program)
	if err != nil {
		return err
	}
	r, err := w.dcRun(program)
	if err != nil {
		return err
	}
	var cold, warm, spice []float64 // [us] an operating point
	for range dcBlocks {
		short, err := r.theirs(1)
		if err != nil {
			return err
		}
		long, err := r.theirs(1 + dcLoops)
		if err != nil {
			return err
		}
		spice = append(spice, micro(long-short)/(2*dcLoops))
		for _, c := range []*[]float64{&cold, &warm} {
			t := time.Now()
			if err := r.ours(dcLoops, c == &cold); err != nil {
				return err
			}
			*c = append(*c, micro(time.Since(t))/(2*dcLoops))
		}
	}
	for _, v := range [][]float64{cold, warm, spice} {
		slices.Sort(v)
	}
	c, h, n := quantileOf(cold, 0.5), quantileOf(warm, 0.5), quantileOf(spice, 0.5)
	fmt.Fprintln(out, "| operating point of the network | us, median of 11 blocks | ratio |\n|---|---|---|")
	fmt.Fprintf(out, "| %s, alter and op in its own loop (every op starts anew) | %.1f | 1 |\n", version, n)
	fmt.Fprintf(out, "| ours, cold: from flat | %.1f | %.0f (bar 20) |\n", c, n/c)
	fmt.Fprintf(out, "| ours, warm: from the last | %.1f | %.0f |\n", h, n/h)
	return r.work(out)
}

// dcRun prepares the network.
func (w *world) dcRun(program string) (*dcRun, error) {
	l, p, err := w.linear("loaded-output")
	if err != nil {
		return nil, err
	}
	moved := slices.IndexFunc(w.sys.Elements, func(e system.Element) bool { return e.ID == "j-stud" })
	var deck bytes.Buffer
	if err := l.Net.Netlist(&deck, "operating point, again and again", p); err != nil {
		return nil, err
	}
	return &dcRun{program, l.Net, l.Net.NewSolver(), p, l.Ohms(moved), moved, deck.String()}, nil
}

// ours solves two operating points a loop, from flat when cold.
func (r *dcRun) ours(loops int, cold bool) error {
	for k := range 2 * loops {
		r.p[r.param] = movedOhms[k%2]
		if cold {
			r.solver.Forget()
			clear(r.solver.X)
		}
		if err := r.solver.Solve(r.p); err != nil {
			return err
		}
	}
	return nil
}

// theirs lets ngspice do the same and returns how long its process took.
func (r *dcRun) theirs(loops int) (time.Duration, error) {
	t := time.Now()
	cmd := exec.Command(r.program, "-b", "/dev/stdin")
	cmd.Stdin = strings.NewReader(r.deck + spiceOptions + control(r.element, loops) + ".end\n")
	said, err := cmd.CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("ngspice: %w\n%s", err, said[max(0, len(said)-1000):])
	}
	return time.Since(t), nil
}

// work prints what a cold operating point takes, the same on every machine.
func (r *dcRun) work(out io.Writer) error {
	before := r.solver.Work.Newton
	allocs, err := allocations(func() error { return r.ours(dcLoops, true) })
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%d unknowns; %d floating-point operations for one elimination and solve, counted off the compiled program; cold %.1f Newton iterations, %.2f allocations an operating point.\n",
		r.net.Unknowns(), r.net.Flops(), float64(r.solver.Work.Newton-before)/(2*dcLoops), float64(allocs)/(2*dcLoops))
	return nil
}

// movedOhms are the two values between which a joint goes, so that no operating
// point is the last one's [Ohm].
var movedOhms = [2]float64{0.5e-3, 5e-3}

// control is ngspice's loop over the resistor of an element.
func control(element, loops int) string {
	return fmt.Sprintf(".control\nset noprintscale\nrepeat %d\nalter r%d = %g\nop\ndestroy\nalter r%d = %g\nop\ndestroy\nend\nquit\n.endc\n",
		loops, element, movedOhms[0], element, movedOhms[1])
}

// linear is the sound vehicle's network as it stands for a procedure.
func (w *world) linear(procedure string) (*prediction.Linear, []float64, error) {
	l, err := w.model.Linear()
	if err != nil {
		return nil, nil, err
	}
	target, err := w.procs[procedure].Target(w.sys)
	if err != nil {
		return nil, nil, err
	}
	plan, err := w.sys.Rig.Path(w.sys.Rig.Rest, target)
	if err != nil {
		return nil, nil, err
	}
	s := question.Setup{Rig: plan.Final, Engine: question.EngineSpeed(&w.sys.Rig, plan.Final)}
	return l, l.Params(prediction.Hypothesis{}, prediction.Component{}, s, make([]float64, w.model.Dims())), nil
}

func micro(d time.Duration) float64 { return float64(d.Nanoseconds()) / 1000 }

// allocations counts the heap objects that do makes.
func allocations(do func() error) (uint64, error) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	err := do()
	runtime.ReadMemStats(&after)
	return after.Mallocs - before.Mallocs, err
}
