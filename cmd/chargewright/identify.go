package main

import (
	"fmt"
	"maps"
	"strings"

	"chargewright/identify"
	"chargewright/problem"
)

type identifyCmd struct {
	Answers []string `arg:"" optional:"" help:"What was seen, as LOOK=ANSWER; without any, the looks and their answers." placeholder:"LOOK=ANSWER"`
	JSON    bool     `name:"json" help:"Print JSON instead of text."`
}

// Run weighs what was seen of a vehicle and says which arrangement is fitted.
func (c *identifyCmd) Run(e *env) error {
	lib, err := identify.Library()
	if err != nil {
		return err
	}
	answers, wrong := seen(c.Answers)
	if err := together([]error{wrong, lib.Check(answers)}); err != nil {
		return err
	}
	w := lib.Weigh(answers)
	if c.JSON {
		return printJSON(e.stdout, identified(lib, answers, w))
	}
	t := &text{colour: e.colour}
	t.identified(lib, answers, w)
	return t.to(e.stdout)
}

// seen reads LOOK=ANSWER; an answer to the same look twice is a problem.
func seen(args []string) (map[string]string, error) {
	out := map[string]string{}
	var wrong problem.List
	for _, a := range args {
		look, answer, ok := strings.Cut(a, "=")
		switch {
		case !ok || look == "" || answer == "":
			wrong = append(wrong, problem.Problem{What: a + " is not LOOK=ANSWER", Instead: "such as terminals=one-blade; chargewright identify lists them"})
		case out[look] != "" && out[look] != answer:
			wrong = append(wrong, problem.Problem{What: look + " is answered twice, " + out[look] + " and " + answer, Instead: "one answer"})
		default:
			out[look] = answer
		}
	}
	return out, wrong.Err()
}

// leastShown is the share under which a finding is not printed.
const leastShown = 0.01

func (t *text) identified(lib *identify.Catalogue, answers map[string]string, w identify.Weighed) {
	if len(answers) == 0 {
		t.head("Which charging arrangement is fitted?")
		t.line(0, "Say what is seen: chargewright identify LOOK=ANSWER ... Shares are a tradesman's memory.")
	} else {
		t.head("SEEN")
		for _, l := range lib.Looks {
			for _, a := range l.Answers {
				if answers[l.ID] == a.ID {
					t.hang("  "+l.ID+": ", a.Say)
				}
			}
		}
		t.head("IT IS")
		for i, f := range w.Findings {
			if i == 0 || f.Probability >= leastShown {
				t.finding(lib, f)
			}
		}
		if w.None >= leastShown {
			t.cause("  ", "none of these", w.None)
		}
		t.line(0, "%s", w.Verdict())
	}
	if len(w.Next) > 0 {
		t.head("LOOK NEXT")
	}
	for i, n := range w.Next {
		if i == 3 && len(answers) > 0 {
			break
		}
		t.look(lib, n)
	}
	t.line(0, "The vehicle maker's manual, local rules and qualified practice come first.")
}

func (t *text) finding(lib *identify.Catalogue, f identify.Finding) {
	if f.Pair == nil {
		t.cause("  ", "not a pair: "+f.Alternator.Name+", on "+f.Wiring.Name, f.Probability)
		if would := lib.Would(f.Alternator.ID, f.Wiring.ID); would != "" {
			t.line(5, "would do: %s", would)
		}
		return
	}
	t.cause("  ", f.Name(), f.Probability)
	switch {
	case f.System() != "":
		t.line(5, "system: %s", f.System())
	case f.OtherVolts:
		t.line(5, "no system: %s is for other volts", f.Pair.System)
	}
}

func (t *text) look(lib *identify.Catalogue, n identify.Next) {
	t.line(2, "%s  %s (%g min)", n.Look.ID, n.Look.Ask, n.Look.Minutes)
	for _, d := range n.Look.Do {
		t.hang("     - ", d)
	}
	for _, c := range lib.CautionsOf(n.Look) {
		t.hang("       ! ", c)
	}
	for _, a := range n.Look.Answers {
		t.hang("       "+fmt.Sprintf("%-27s", n.Look.ID+"="+a.ID), a.Say)
	}
}

// identifyOut is what --json prints; schema output-identify.
type identifyOut struct {
	Format   int               `json:"format"`
	Seen     map[string]string `json:"seen"`
	Findings []findingOut      `json:"findings"`
	None     float64           `json:"none_of_these"`
	Next     []nextLookOut     `json:"next"`
	Basis    string            `json:"basis"`
}

type findingOut struct {
	Alternator  string  `json:"alternator"`
	Wiring      string  `json:"wiring"`
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	Pair        bool    `json:"pair"`
	System      string  `json:"system,omitempty"`
	Without     string  `json:"without,omitempty"`
	Would       string  `json:"would,omitempty"`
}

type nextLookOut struct {
	Look     string            `json:"look"`
	Ask      string            `json:"ask"`
	Minutes  float64           `json:"minutes"`
	Bits     float64           `json:"bits"`
	Do       []string          `json:"do"`
	Cautions []string          `json:"cautions"`
	Answers  map[string]string `json:"answers"`
}

func identified(lib *identify.Catalogue, answers map[string]string, w identify.Weighed) identifyOut {
	out := identifyOut{Format: outputFormat, Seen: maps.Clone(answers), None: w.None, Basis: lib.Basis, Findings: []findingOut{}, Next: []nextLookOut{}}
	for _, f := range w.Findings {
		x := findingOut{Alternator: f.Alternator.ID, Wiring: f.Wiring.ID, Name: f.Alternator.Name + "; " + f.Wiring.Name, Probability: f.Probability, Pair: f.Pair != nil}
		if f.Pair != nil {
			x.System, x.Without = f.System(), f.Without()
		} else {
			x.Would = lib.Would(f.Alternator.ID, f.Wiring.ID)
		}
		out.Findings = append(out.Findings, x)
	}
	for _, n := range w.Next {
		x := nextLookOut{Look: n.Look.ID, Ask: n.Look.Ask, Minutes: n.Look.Minutes, Bits: n.Bits, Do: n.Look.Do, Cautions: append([]string{}, lib.CautionsOf(n.Look)...), Answers: map[string]string{}}
		for _, a := range n.Look.Answers {
			x.Answers[a.ID] = a.Say
		}
		out.Next = append(out.Next, x)
	}
	return out
}
