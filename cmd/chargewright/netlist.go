package main

import (
	"fmt"
	"math"
	"os"
	"strings"

	"chargewright/machine"
	"chargewright/prediction"
	"chargewright/question"
	"chargewright/truth"
	"chargewright/unit"
)

type netlistCmd struct {
	vehicleFlags
	Procedure string  `help:"What is done. Without it the vehicle stands as it rolls in, and every point is read." placeholder:"PROCEDURE"`
	Settle    float64 `default:"0.4" help:"Seconds before the readings are taken: more where the printed drift is too large." placeholder:"SECONDS"`
	Output    string  `short:"o" help:"Write to this file instead of standard output." placeholder:"FILE"`
}

// Run writes a vehicle as a netlist that ngspice -b runs as it is.
func (c *netlistCmd) Run(e *env) error {
	s, err := c.situation(e)
	if err != nil {
		return err
	}
	if !(c.Settle >= 0.05 && c.Settle <= 60) {
		return usage("--settle %g: from 0.05 to 60 seconds", c.Settle)
	}
	q := question.Question{Setup: s.day}
	q.Setup.Rig = s.sys.Rig.Rest
	for _, p := range s.sys.Points {
		if !p.Reference && p.Number > 0 {
			q.Seek = append(q.Seek, question.Observable{Kind: question.Volts, Red: p.ID, Black: s.sys.Battery.Negative, Note: p.Name})
		}
	}
	title := "as it rolls in"
	if c.Procedure != "" {
		list, err := s.named([]string{c.Procedure})
		if err != nil {
			return err
		}
		if list[0].Look != nil {
			return problemf("a procedure that measures", "procedure %s is a look: no circuit answers it", c.Procedure)
		}
		if q, err = s.question(list[0]); err != nil {
			return err
		}
		title = list[0].ID + ": " + list[0].Name
	}
	deck, err := s.deck(q, title, c.Settle)
	if err != nil {
		return err
	}
	if c.Output == "" {
		_, err = fmt.Fprint(e.stdout, deck)
		return err
	}
	if err := os.WriteFile(c.Output, []byte(deck), 0o644); err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Output, plain(err))
	}
	return nil
}

// deck is the whole netlist. Resistances are measured on the dead circuit, with
// a current of its own; everything else on the running one.
func (s *situation) deck(q question.Question, title string, settle float64) (string, error) {
	asked, err := s.model.Ask(q)
	if err != nil {
		return "", problemf("another procedure", "%v", err)
	}
	values := s.model.Values(s.hyp, s.middle(), q.Setup, make([]float64, s.model.Dims()))
	var b strings.Builder
	fmt.Fprintf(&b, "* %s (%s), %s\n* vehicle: %s\n", s.sys.Name, s.sys.ID, title, s.middleWords())
	for _, x := range s.set {
		fmt.Fprintf(&b, "* set by hand: %s %s\n", x.id, unit.Format(x.dim, x.value))
	}
	fmt.Fprintf(&b, "* free figures at their medians; air at %s. Run it with ngspice -b.\n", unit.Format(unit.Kelvin, s.day.Ambient.K))
	var x simulated
	x.q = q
	if s.label(s.model.NewWorker(), &asked, &x); x.others() != "" {
		fmt.Fprintf(&b, "* %d operating points exist: the run settles at one of them, simulate may take another\n", x.roots)
	}
	for _, p := range s.sys.Points {
		fmt.Fprintf(&b, "* node %s: %s\n", s.node(p.ID), p.Name)
	}
	if allOhms(q.Seek) {
		s.deadDeck(&b, q.Seek, values)
		return b.String(), nil
	}
	v := truth.Vehicle{Name: "vehicle", Fault: s.hyp, Comp: s.middle(), Z: make([]float64, s.model.Dims())}
	n, err := v.Write(s.model, q.Setup, truth.Options{}, settle)
	if err != nil {
		return "", problemf("another procedure", "%v", err)
	}
	body := strings.TrimSuffix(strings.TrimSpace(n.Text), ".end")
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		b.WriteString(s.commented(line) + "\n")
	}
	if err := s.readings(&b, q.Seek, values, body); err != nil {
		return "", err
	}
	return b.String(), nil
}

func allOhms(seek []question.Observable) bool {
	for _, o := range seek {
		if o.Kind != question.Ohms {
			return false
		}
	}
	return true
}

// middleWords names the faults with the magnitudes that the one vehicle has.
func (s *situation) middleWords() string {
	if len(s.hyp.Faults) == 0 {
		return "sound"
	}
	var words []string
	c := s.middle()
	for k, f := range s.hyp.Faults {
		w := s.sys.Faults[f].Name
		if m := s.sys.Faults[f].Magnitude; m != nil {
			w += ", " + unit.Format(m.Dim, math.Pow(10, c.Mean[k]))
		}
		words = append(words, w)
	}
	return strings.Join(words, "; and ")
}

// node is a point's node in a netlist of package truth.
func (s *situation) node(point string) string {
	for _, p := range s.sys.Points {
		if p.ID == point && p.Reference {
			return "0"
		}
	}
	return "n_" + strings.ReplaceAll(point, "-", "_")
}

// across is the voltage from one point to another as ngspice writes it.
func (s *situation) across(from, to string) string {
	a, b := s.node(from), s.node(to)
	switch {
	case a == "0" && b == "0":
		return "0*time"
	case a == "0":
		return "-v(" + b + ")"
	case b == "0":
		return "v(" + a + ")"
	}
	return "v(" + a + ")-v(" + b + ")"
}

// readings writes what is measured: means over the last window of whole turns,
// and over the one before it, to show that the vehicle has settled.
func (s *situation) readings(b *strings.Builder, seek []question.Observable, v prediction.Values, body string) error {
	to, err := stopTime(body)
	if err != nil {
		return err
	}
	window := windowOf(v)
	// Now and then the run finds no first step, with all diodes blocking; with
	// another conductance across them, far below what a diode leaks, it does.
	fmt.Fprintf(b, `.control
set numdgt=7
* again with another gmin where the run stopped short
let reached = 0
foreach g 1e-10 1e-12 1e-9 1e-11 1e-8
  if const.reached < %.9g
    option gmin=$g
    run
    let const.reached = time[length(time)-1]
  end
* the next gmin
end
`, 0.999*to)
	for i, o := range seek {
		of := ""
		switch o.Kind {
		case question.Volts, question.ACVolts:
			of = s.across(o.Red, o.Black)
		case question.Amps:
			for k, e := range s.sys.Elements {
				if e.ID == o.Through {
					of = fmt.Sprintf("(%s)/%.9g", s.across(e.From, e.To), v.Ohms[k])
				}
			}
		}
		n := i + 1
		fmt.Fprintf(b, "* r%d: %s, %s\n", n, o.Note, leads(o))
		if of == "" {
			fmt.Fprintf(b, "* %s is not read off a circuit\n", o.Kind)
			continue
		}
		fmt.Fprintf(b, "let e%d = %s\n", n, of)
		if o.Kind == question.ACVolts {
			fmt.Fprintf(b, "meas tran m%d avg e%d from=%.9g to=%.9g\nlet w%d = e%d - m%d\n", n, n, to-window, to, n, n, n)
			fmt.Fprintf(b, "meas tran r%d rms w%d from=%.9g to=%.9g\n", n, n, to-window, to)
			continue
		}
		fmt.Fprintf(b, "meas tran b%d avg e%d from=%.9g to=%.9g\n", n, n, to-2*window, to-window)
		fmt.Fprintf(b, "meas tran r%d avg e%d from=%.9g to=%.9g\nlet drift%d = r%d - b%d\nprint drift%d\n", n, n, to-window, to, n, n, n, n)
	}
	b.WriteString("quit\n.endc\n.end\n")
	return nil
}

// stopTime is when the run ends: the second figure of its .tran line [s].
func stopTime(body string) (float64, error) {
	_, rest, _ := strings.Cut(body, "\n.tran ")
	var step, stop float64
	if _, err := fmt.Sscanf(rest, "%g %g", &step, &stop); err != nil {
		return 0, fmt.Errorf("the netlist has no .tran line to measure by: %w", err)
	}
	return stop, nil
}

// windowOf is the length of time that readings are averaged over: whole
// electrical turns, 20 ms at least [s].
func windowOf(v prediction.Values) float64 {
	const least = 0.02
	hertz := math.Abs(v.Alternator[machine.Omega]*(1-v.Alternator[machine.Slip])) / (2 * math.Pi)
	if hertz < 10 {
		return least
	}
	return math.Ceil(least*hertz) / hertz
}
