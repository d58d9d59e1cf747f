package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"chargewright/planning"
	"chargewright/question"
)

type named struct {
	name   string
	policy planning.Policy
	infers bool
}

// policies are the planner, where asked for with rollouts, and its four baselines.
func (w *world) policies(stopFixed, stopClamp float64, rollouts int) ([]named, error) {
	p := planning.NewPlanner(w.board)
	fixed, clamp := w.prac.Orders["fixed"].Steps, w.prac.Orders["clamp"].Steps
	limits, err := p.PlainLimits(fixed, question.Setup{})
	if err != nil {
		return nil, err
	}
	rolled := *w.board
	rolled.Settings.Rollouts = rollouts
	out := []named{
		{"planner", p.Policy, true},
		{"rollouts on the planner", planning.NewPlanner(&rolled).Policy, true},
		{"fixed order, same inference", p.Ordered(fixed, stopFixed), true},
		{"good technician with a clamp, same inference", p.Ordered(clamp, stopClamp), true},
		{"fixed order, plain limits", limits, false},
		{"parts by rate over cost", p.PartsFirst(), false},
	}
	if rollouts == 0 {
		out = slices.Delete(out, 1, 2)
	}
	return out, nil
}

// play runs every case with a policy, two at a time, but for those that were
// played before.
func (w *world) play(part string, cases []*hiddenCase, p named, o options) ([]outcome, error) {
	out := make([]outcome, len(cases))
	stops := fmt.Sprint(o.stops, o.rollouts)
	err := inPairs(len(cases), func(i int) error {
		key := caseKey{part, o.seed, cases[i].number, p.name, stops}
		if x, ok := w.kept.get(key); ok && w.trace == nil {
			out[i] = x
			return nil
		}
		var err error
		if out[i], err = w.runCase(w.fresh(cases[i]), p.policy, p.infers); err != nil {
			return err
		}
		return w.kept.put(key, out[i])
	})
	return out, err
}

type summary struct {
	name                            string
	minutes, excess, p90, worst     float64
	first, confident, wrong, gaveUp float64
	readings, moves                 float64
	diff, half                      float64 // excess minus the planner's, and its 95 % half width
	outcomes                        []outcome
}

func summarise(name string, o, base []outcome) summary {
	s := summary{name: name, outcomes: o}
	n := float64(len(o))
	var ex, diffs []float64
	for i, x := range o {
		e := x.minutes - x.floor
		ex = append(ex, e)
		diffs = append(diffs, e-(base[i].minutes-base[i].floor))
		s.minutes += x.minutes / n
		s.excess += e / n
		s.first += b2f(x.first) / n
		s.confident += b2f(x.confident) / n
		s.wrong += float64(x.wrongParts) / n
		s.gaveUp += b2f(x.gaveUp) / n
		s.readings += float64(x.readings) / n
		s.moves += float64(x.moves) / n
	}
	s.diff, s.half = meanInterval(diffs)
	slices.Sort(ex)
	s.p90, s.worst = quantileOf(ex, 0.9), ex[len(ex)-1]
	return s
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// meanInterval is the mean and the half width of its 95 % interval (normal).
func meanInterval(v []float64) (mean, half float64) {
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	q := 0.0
	for _, x := range v {
		q += (x - mean) * (x - mean)
	}
	return mean, 1.96 * math.Sqrt(q/(n-1)/n)
}

func printSummary(out io.Writer, all []summary) {
	fmt.Fprintln(out, "| policy | minutes | over the floor | against the planner (95 %) | P90 | right first time | wrong parts a job | confident wrong | readings | moves | gave up |")
	fmt.Fprintln(out, "|---|---|---|---|---|---|---|---|---|---|---|")
	for i, s := range all {
		against := "-"
		if i > 0 {
			against = fmt.Sprintf("%+.1f ± %.1f", s.diff, s.half)
		}
		fmt.Fprintf(out, "| %s | %.1f | %.1f | %s | %.1f | %.1f %% | %.2f | %.1f %% | %.1f | %.1f | %.1f %% |\n",
			s.name, s.minutes, s.excess, against, s.p90, 100*s.first, s.wrong, 100*s.confident, s.readings, s.moves, 100*s.gaveUp)
	}
}

// halves are the vehicles whose machine is looked up and those whose machine runs in
// the time domain, for the first policy.
func halves(out io.Writer, cases []*hiddenCase, o []outcome) {
	var n, first [2]int
	timed, unsettled := 0, 0
	for i, x := range o {
		k := 0
		if cases[i].timed {
			k = 1
		}
		n[k]++
		first[k] += int(b2f(x.first))
		timed += x.timed
		unsettled += x.unsettled
	}
	if n[1] > 0 {
		fmt.Fprintf(out, "\nRight first time with the machine looked up in its tables %d of %d, in the time domain %d of %d (%d readings so, %d did not settle and were looked up).\n",
			first[0], n[0], first[1], n[1], timed, unsettled)
	}
}

// byClass is the average over repair classes, so that common faults do not hide
// rare ones, and where the fixed order wins.
func byClass(out io.Writer, cases []*hiddenCase, all []summary) {
	groups := map[string][]int{}
	for i, c := range cases {
		k := "nothing, or nothing that shows"
		if len(c.repairs) > 0 {
			k = c.repairs[0]
		}
		if c.outside {
			k = "outside the list"
		}
		groups[k] = append(groups[k], i)
	}
	first, n := 0.0, 0.0
	var loses []string
	for _, k := range sortedNames(groups) {
		right, mine, fixed := 0.0, 0.0, 0.0
		for _, i := range groups[k] {
			right += b2f(all[0].outcomes[i].first)
			mine += all[0].outcomes[i].minutes
			if len(all) > 1 {
				fixed += all[1].outcomes[i].minutes
			}
		}
		m := float64(len(groups[k]))
		first += right / m
		n++
		if len(all) > 1 && mine > 1.05*fixed {
			loses = append(loses, fmt.Sprintf("%s (%d: %.0f against %.0f min)", k, len(groups[k]), mine/m, fixed/m))
		}
	}
	fmt.Fprintf(out, "\nRight first time, averaged over %d repair classes: %.1f %%.\n", len(groups), 100*first/n)
	if len(all) > 1 {
		fmt.Fprintf(out, "The fixed order is more than 5 %% quicker in: %s.\n", orNone(loses))
	}
}

func orNone(s []string) string {
	if len(s) == 0 {
		return "none"
	}
	return strings.Join(s, "; ")
}

func sortedNames(m map[string][]int) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
