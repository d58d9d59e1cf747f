package main

import (
	"fmt"
	"io"
	"slices"

	"chargewright/system"
)

// content prints how many figures of the library stand on what.
func (w *world) content(out io.Writer) error {
	rows := map[string]map[system.Basis]int{}
	count := func(what string, b system.Basis) {
		if rows[what] == nil {
			rows[what] = map[system.Basis]int{}
		}
		rows[what][b]++
	}
	for _, e := range w.sys.Elements {
		count("joints, wires, loads", e.Basis)
	}
	for _, p := range w.sys.Params {
		count("free parameters", p.Basis)
	}
	for _, l := range w.sys.Limits {
		count("limits", l.Basis)
	}
	for _, c := range w.sys.Cautions {
		count("cautions", c.Basis)
	}
	for _, r := range w.prac.Rates {
		count("fault rates", r.Basis)
	}
	for _, p := range w.prac.Procedures {
		count("minutes of procedures", p.Basis)
	}
	for _, r := range w.prac.Repairs {
		count("repairs", r.Basis)
	}
	bases := []system.Basis{system.Read, system.ReadSecondary, system.CommonPractice, system.Computed, system.Memory, system.Invented}
	fmt.Fprintln(out, "| figures | read | read (secondary) | common practice | computed | memory | invented | all |\n|---|---|---|---|---|---|---|---|")
	var keys []string
	for k := range rows {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		all := 0
		fmt.Fprintf(out, "| %s |", k)
		for _, n := range rows[k] {
			all += n
		}
		for _, b := range bases {
			fmt.Fprintf(out, " %d |", rows[k][b])
		}
		fmt.Fprintf(out, " %d |\n", all)
	}
	fmt.Fprintf(out, "\n%d faults (%d on the list), %d procedures (%d measure on the vehicle).\n", len(w.sys.Faults), w.listed(), len(w.board.Procs), w.measuring())
	return nil
}

func (w *world) listed() int {
	n := 0
	for _, f := range w.sys.Faults {
		if !f.Outside {
			n++
		}
	}
	return n
}

func (w *world) measuring() int {
	n := 0
	for _, p := range w.board.Procs {
		if p.Where == "vehicle" && p.Look == nil {
			n++
		}
	}
	return n
}
