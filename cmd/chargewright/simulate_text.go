package main

import (
	"fmt"
	"math"
	"strings"

	"chargewright/question"
	"chargewright/unit"
)

// print writes what tests read as text.
func (s *situation) print(t *text, list []simulated) {
	t.head("%s (%s)", s.sys.Name, s.sys.ID)
	t.line(0, "Vehicle: %s.", s.faultWords())
	for _, x := range s.set {
		t.line(0, "Set by hand: %s %s.", x.id, unit.Format(x.dim, x.value))
	}
	t.line(0, "Air at %s. Each line: the median, where %g %% of such vehicles read, and the meter's own standard uncertainty.",
		unit.Format(unit.Kelvin, s.day.Ambient.K), 100*coverage)
	for i := range list {
		s.printOne(t, &list[i])
	}
}

func (s *situation) printOne(t *text, x *simulated) {
	t.head("%s: %s", x.p.ID, x.p.Name)
	if x.p.Look != nil {
		t.line(2, "%s", x.p.Look.Question)
		for i, c := range x.p.Look.Classes {
			t.hang(pad("    "+percent(x.look[i]), column-4), c)
		}
		return
	}
	if x.refused != "" {
		t.line(2, "cannot be done here: %s", x.refused)
		return
	}
	t.line(2, "%s", s.conditionWords(x))
	if x.unsolved {
		t.line(2, "no operating point found")
		return
	}
	if o := x.others(); o != "" {
		t.line(2, "%s", o)
	}
	for i := range x.values {
		x.values[i].print(t)
	}
}

// conditionWords says how the vehicle stands and what its regulator does.
func (s *situation) conditionWords(x *simulated) string {
	var words []string
	for i, p := range s.sys.Rig.Places {
		if at := x.q.Setup.Rig.At(i); at != s.sys.Rig.Rest.At(i) {
			words = append(words, p.Name+": "+p.Positions[at].Name)
		}
	}
	for _, h := range x.p.Hold {
		dim, _ := question.HoldDim(h.What)
		words = append(words, strings.ReplaceAll(h.What, "-", " ")+" held at "+unit.Format(dim, h.Target))
	}
	if x.regime != "" {
		words = append(words, fmt.Sprintf("regulator at %s: %s", unit.Format(unit.Kelvin, x.regulatorK), regimes[x.regime]))
		if x.second != "" {
			words = append(words, "second regulator: "+regimes[x.second])
		}
	}
	if len(words) == 0 {
		return "as the vehicle rolls in"
	}
	return strings.Join(words, "; ")
}

// unseen is by how much a value must be smaller than the meter's own uncertainty to be
// printed as 0: what leaks through a solver's diodes is no reading.
const unseen = 100

// widths of the columns: name, median, interval, meter.
var readingColumns = []int{30, 12, 22}

func (v *predicted) print(t *text) {
	dim, _ := v.obs.Dim()
	tail := (1 - coverage) / 2
	show := func(si float64) string {
		if math.Abs(si) < v.u/unseen {
			si = 0
		}
		return unit.Format(dim, figures(si))
	}
	name := v.obs.Note
	if len(wrapText(name, readingColumns[0]-1)) > 1 {
		t.line(2, "%s", name)
		name = ""
	}
	about := show(v.quantile(tail)) + " to " + show(v.quantile(1-tail))
	with := "u " + show(v.u)
	if v.u == 0 {
		with = "no range"
	}
	t.columns(2, readingColumns, name, show(v.quantile(0.5)), about, with)
	if v.over > 0 {
		t.line(4, "Beyond the %s, which ends at %s: take a larger range, or a fused lead first.", v.obs.Meter, unit.Format(dim, v.over))
	}
	if !v.straight {
		t.line(4, "The spread is curved: its ends are worked out, between them it is rough.")
	}
	for i := range v.limits {
		l := &v.limits[i]
		t.hang("    limit ", fmt.Sprintf("%s: %s (%s); %s. %s, %s", bounds(l.Dim, l.Low, l.High), percent(v.within(l.Low, l.High))+" within",
			l.ID, l.Condition, l.Source, l.Basis))
	}
}
