package main

import (
	"fmt"
	"math"
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
		t.entry(f.ID, f.Words(), fmt.Sprintf("%s; fitted %s; %s (p. %s, line %d)", f.Given(), unit.Format(f.Dim(), f.Predicted), misfit(f.Misfit), f.Page, f.Pos.Line))
	}

	t.head("UNKNOWNS: fitted, 90 %% interval, how much the figures say")
	for _, k := range r.Unknowns {
		line := fmt.Sprintf("%s (%s to %s): %s", free(k.Dim, k.Fitted.Median), free(k.Dim, k.Fitted.Low), free(k.Dim, k.Fitted.High), k.Verdict)
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
	for _, k := range r.Unknowns {
		if k.Verdict == fit.Determined || k.FromTemplate {
			continue
		}
		if k.Verdict == fit.Partly && len(k.With) == 0 {
			continue
		}
		none = false
		stays := "stands between the figures and what the class has (" + free(k.Dim, k.Prior.Low) + " to " + free(k.Dim, k.Prior.High) + ")"
		if k.Verdict == fit.Undetermined {
			stays = "stays near what the class has, " + free(k.Dim, k.Prior.Low) + " to " + free(k.Dim, k.Prior.High)
		}
		var with []string
		for _, p := range k.With {
			with = append(with, p.Name+" "+free(p.Dim, p.To)+" instead of "+free(p.Dim, p.From))
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

// free prints an unknown; the models' plain numbers with three figures.
func free(dim unit.Dim, v float64) string {
	if dim == unit.One {
		return fmt.Sprintf("%.3g", v)
	}
	return unit.Format(dim, v)
}

// misfit words how far a figure is missed.
func misfit(m float64) string {
	switch a := math.Abs(m); {
	case a < 0.005:
		return "met"
	case a <= 1:
		return fmt.Sprintf("%+.2f of its tolerance", m)
	}
	return fmt.Sprintf("MISSED by %+.1f of its tolerance", m)
}
