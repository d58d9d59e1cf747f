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

// dc times the operating point of the vehicle's network (machine, battery and
// regulator as plain stand-ins) against ngspice's own loop of alter and op on the
// same netlist at the same tolerance, in the same run.
func (w *world) dc(out io.Writer) error {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		fmt.Fprintln(out, "Not measured: ngspice is not installed (Debian package ngspice).")
		return nil
	}
	version, err := ngspice.Version(program)
	if err != nil {
		return err
	}
	l, p, err := w.linear("loaded-output")
	if err != nil {
		return err
	}
	moved := slices.IndexFunc(w.sys.Elements, func(e system.Element) bool { return e.ID == "j-stud" })
	param := l.Ohms(moved)
	s := l.Net.NewSolver()
	ours := func(loops int, cold bool) error {
		for k := range 2 * loops {
			p[param] = movedOhms[k%2]
			if cold {
				s.Forget()
				clear(s.X)
			}
			if err := s.Solve(p); err != nil {
				return err
			}
		}
		return nil
	}
	var deck bytes.Buffer
	if err := l.Net.Netlist(&deck, "operating point, again and again", p); err != nil {
		return err
	}
	theirs := func(loops int) (time.Duration, error) {
		text := deck.String() + spiceOptions + control(moved, loops) + ".end\n"
		t := time.Now()
		cmd := exec.Command(program, "-b", "/dev/stdin")
		cmd.Stdin = strings.NewReader(text)
		said, err := cmd.CombinedOutput()
		if err != nil {
			return 0, fmt.Errorf("ngspice: %w\n%s", err, said[max(0, len(said)-1000):])
		}
		return time.Since(t), nil
	}
	var cold, warm, spice []float64 // [us] an operating point
	for range dcBlocks {
		short, err := theirs(1)
		if err != nil {
			return err
		}
		long, err := theirs(1 + dcLoops)
		if err != nil {
			return err
		}
		spice = append(spice, micro(long-short)/(2*dcLoops))
		for _, c := range []bool{true, false} {
			t := time.Now()
			if err := ours(dcLoops, c); err != nil {
				return err
			}
			us := micro(time.Since(t)) / (2 * dcLoops)
			if c {
				cold = append(cold, us)
			} else {
				warm = append(warm, us)
			}
		}
	}
	before := s.Work
	allocs, err := allocations(func() error { return ours(dcLoops, true) })
	if err != nil {
		return err
	}
	for _, v := range [][]float64{cold, warm, spice} {
		slices.Sort(v)
	}
	c, h, n := quantileOf(cold, 0.5), quantileOf(warm, 0.5), quantileOf(spice, 0.5)
	fmt.Fprintln(out, "| operating point of the network | us, median of 11 blocks | ratio |\n|---|---|---|")
	fmt.Fprintf(out, "| %s, alter and op in its own loop (every op starts anew) | %.1f | 1 |\n", version, n)
	fmt.Fprintf(out, "| ours, cold: from flat | %.1f | %.0f (bar 20) |\n", c, n/c)
	fmt.Fprintf(out, "| ours, warm: from the last | %.1f | %.0f |\n", h, n/h)
	fmt.Fprintf(out, "\n%d unknowns; %d floating-point operations for one elimination and solve, counted off the compiled program; cold %.1f Newton iterations, %.2f allocations an operating point.\n",
		l.Net.Unknowns(), l.Net.Flops(), float64(s.Work.Newton-before.Newton)/(2*dcLoops), float64(allocs)/(2*dcLoops))
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
