package main

import (
	"fmt"
	"strings"

	"chargewright/fit"
	"chargewright/unit"
)

// printFit writes the report of a fit.
func printFit(t *text, r *fit.Result) {
	x := r.Figures
	t.head("FIT %s ON %s", x.ID, x.Template.ID)
	t.line(2, "%s (%s): %s, %s", x.Manual, x.Basis, plural(len(r.Fitted), "figure", "figures"), plural(len(r.Unknowns), "unknown", "unknowns"))
	t.line(2, "%d of %d starts end at this fit (seed %d)", r.Same, r.Starts, r.Seed)

	t.head("FIGURES: given, fitted, misfit in the figure's own tolerance")
	for i := range r.Fitted {
		f := &r.Fitted[i]
		t.entry(f.ID, f.Words(), fmt.Sprintf("%s; fitted %s; %s (p. %s, line %d)", f.Given(), unit.Format(f.Dim(), f.Predicted), fit.Missed(f.Misfit), f.Page, f.Pos.Line))
	}

	t.head("UNKNOWNS: fitted, 90 %% interval, how much the figures say")
	for _, k := range r.Unknowns {
		line := fmt.Sprintf("%s (%s to %s): %s", fit.Shown(k.Dim, k.Fitted.Median), fit.Shown(k.Dim, k.Fitted.Low), fit.Shown(k.Dim, k.Fitted.High), k.Verdict)
		said := "no figure says anything of it"
		if len(k.FiguresThatSay) > 0 {
			said = fmt.Sprintf("%s of the prior's variance removed", percent(k.Removed))
		}
		t.entry(k.ID, k.Name, line+"; "+said)
	}
	printOpen(t, r)
	if len(r.Conflicts) > 0 {
		t.head("CONTRADICTIONS")
		for _, c := range r.Conflicts {
			t.hang("  - ", c.Words)
		}
	}
	t.head("NOTES")
	for _, n := range r.Notes {
		t.hang("  - ", n)
	}
}

// printOpen writes what the figures leave undetermined, what goes along with it,
// and what would settle it.
func printOpen(t *text, r *fit.Result) {
	t.head("LEFT UNDETERMINED")
	none := true
	for _, k := range r.Wanting() {
		none = false
		stays := "stands between the figures and what the class has (" + fit.Shown(k.Dim, k.Prior.Low) + " to " + fit.Shown(k.Dim, k.Prior.High) + ")"
		if k.Verdict == fit.Undetermined {
			stays = "stays near what the class has, " + fit.Shown(k.Dim, k.Prior.Low) + " to " + fit.Shown(k.Dim, k.Prior.High)
		}
		var with []string
		for _, p := range k.With {
			with = append(with, p.Name+" "+fit.Shown(p.Dim, p.To)+" instead of "+fit.Shown(p.Dim, p.From))
		}
		along := ""
		if len(with) > 0 {
			along = "a larger one goes with: " + strings.Join(with, ", ")
		}
		t.entry(k.ID, k.Name+": "+stays, along, "would settle it: "+k.Settle)
	}
	if none {
		t.line(2, "nothing that a manual could give")
	}
}
