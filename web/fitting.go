package web

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"

	"chargewright/advice"
	"chargewright/fit"
	"chargewright/system"
	"chargewright/web/page"
)

// A manual gives a few figures of a machine; the page takes them as the manual has them,
// finds the machine that has them, and offers the system file.

func (s *Server) manualPage(w http.ResponseWriter, r *http.Request) {
	s.showManual(w, r, http.StatusOK, page.Manual{})
}

// fitManual asks for a machine with the form's figures, which is a task, and shows it once
// there is one. Nothing is kept for long: the file is kept from its own form, as one that
// was written by hand.
func (s *Server) fitManual(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	if r.FormValue("wires") != "" { // the form once more, with the wires of the system that was picked
		s.showManual(w, r, http.StatusOK, page.Manual{})
		return
	}
	f := figuresOf(r)
	x, err := s.figures(r.Context(), f.text.String())
	if err != nil {
		s.showManual(w, r, http.StatusUnprocessableEntity, page.Manual{Problems: f.problemsOf(err)})
		return
	}
	got, err := s.fitted(r.Context(), x, f.text.String())
	switch {
	case err != nil && !errors.Is(err, errNotFitted):
		s.broken(w, r, err)
	case err != nil:
		s.showManual(w, r, http.StatusServiceUnavailable, page.Manual{Problems: page.Problems{{Text: advice.Sentence(err.Error())}}})
	case got.Problem != "":
		s.showManual(w, r, http.StatusUnprocessableEntity, page.Manual{Problems: page.Problems{{Text: got.Problem}}})
	default:
		v := page.Manual{Fitted: true, ManualFound: got.ManualFound}
		if len(v.Conflicts) > 0 && r.FormValue("anyway") == "" {
			v.Source = "" // figures that contradict each other give no file unless it is asked for all the same
		}
		s.showManual(w, r, http.StatusOK, v)
	}
}

// figures reads a figures file, with the systems that this workshop has.
func (s *Server) figures(ctx context.Context, text string) (*fit.Figures, error) {
	return fit.Parse("the form", []byte(text), func(id string) (*system.System, error) {
		k, err := s.systems.find(ctx, id)
		if err != nil {
			return nil, err
		}
		return k.system, nil
	})
}

// manualFound is what a fit says.
func manualFound(res *fit.Result, file string) page.ManualFound {
	by := onPage(res.Figures)
	v := page.ManualFound{File: file, Said: "A machine with these figures was found.", Source: string(res.System)}
	for i := range res.Fitted {
		f := &res.Fitted[i]
		v.Figures = append(v.Figures, page.Row{advice.Capital(by.Replace(f.Words())), advice.Capital(met(f.Misfit)), by.Replace(f.Given()), by.Replace(fit.Shown(f.Dim(), f.Predicted))})
	}
	v.Curve = chartOf(res.Curve)
	for _, k := range res.Unknowns {
		v.Unknowns = append(v.Unknowns, page.Row{
			advice.Capital(k.Name), by.Replace(fit.Shown(k.Dim, k.Fitted.Median)),
			by.Replace(fit.Shown(k.Dim, k.Fitted.Low) + " to " + fit.Shown(k.Dim, k.Fitted.High)), advice.Capital(string(k.Verdict)),
		})
	}
	for _, k := range res.Wanting() {
		v.Open = append(v.Open, advice.Capital(k.Name)+": "+k.Settle)
	}
	for _, c := range res.Conflicts {
		v.Conflicts = append(v.Conflicts, contradiction(c, by))
	}
	for _, n := range res.Notes {
		v.Notes = append(v.Notes, advice.Sentence(by.Replace(n)))
	}
	if len(v.Conflicts) > 0 {
		v.Said = "Figures contradict each other: look at them before anything is built on this."
	}
	return v
}

func chartOf(c fit.Curve) page.Chart {
	points := func(list []fit.CurvePoint) (out []page.ChartPoint) {
		for _, p := range list {
			out = append(out, page.ChartPoint{X: p.Speed, Y: p.Amps, Low: p.Low, High: p.High})
		}
		return out
	}
	ticks := func(list []fit.Tick) (out []page.ChartTick) {
		for _, t := range list {
			out = append(out, page.ChartTick(t))
		}
		return out
	}
	return page.Chart{Words: c.Words, Points: points(c.Points), Given: points(c.Given), X: ticks(c.Speeds), Y: ticks(c.Amps)}
}

// showManual shows the form as it was filled in.
func (s *Server) showManual(w http.ResponseWriter, r *http.Request, code int, v page.Manual) {
	all, n, err := s.systems.list(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	slices.SortStableFunc(all, func(a, b *kept) int { return cmp.Compare(a.system.Volts, b.system.Volts) }) // as for a new job: 24 V is rarer
	v.Shell, v.Hidden = s.shell(r, "From a manual's figures"), s.hidden(n)
	for _, k := range all {
		v.Templates = append(v.Templates, page.Choice{ID: k.system.ID, Text: k.system.Name, On: r.FormValue("template") == k.system.ID})
	}
	for _, b := range []page.Choice{{ID: string(system.Read), Text: "The manual lies before me"}, {ID: string(system.Memory), Text: "From memory"}, {ID: string(system.Invented), Text: "Made up, to try it"}} {
		b.On = r.FormValue("basis") == b.ID
		v.Bases = append(v.Bases, b)
	}
	v.Name, v.ID, v.Manual = r.FormValue("name"), r.FormValue("id"), r.FormValue("manual")
	picked := all[0].system // what a page shows picked where nothing is
	for _, k := range all {
		if k.system.ID == r.FormValue("template") {
			picked = k.system
		}
	}
	for n := range manualSections {
		x := sectionOf(r, n, picked, v.Problems)
		if manualSections[n].key == "wires" && v.Wires == "" {
			v.Wires = x.ID
		}
		v.Sections = append(v.Sections, x)
	}
	s.show(w, r, code, page.ManualPage(v))
}

// sectionOf is a part of the form as it was filled in. One that says something, or has
// something wrong in it, stands open.
func sectionOf(r *http.Request, n int, template *system.System, problems page.Problems) page.ManualSection {
	m := &manualSections[n]
	out := page.ManualSection{ID: m.key + "-" + strconv.Itoa(n), Title: m.title, Open: m.open || m.filled(r, n) || m.key == r.FormValue("wires")}
	for i := range m.boxes {
		b := &m.boxes[i]
		box := page.ManualBox{Field: m.field(n, b), Label: b.label, Note: b.note, Value: r.FormValue(m.field(n, b))}
		out.Open = out.Open || len(problems.At(box.Field)) > 0
		for _, c := range b.choices {
			c.On = c.ID == b.picked(box.Value)
			box.Choices = append(box.Choices, c)
		}
		if b.wires {
			box.Choices = wiresOf(template, box.Value)
		}
		if b.unit != "" && b.unit != "%" {
			box.Label += " [" + inBoxes.Replace(b.unit) + "]"
		}
		out.Boxes = append(out.Boxes, box)
	}
	return out
}

// wiresOf are the wires of a system to pick from; one that was picked of another stays
// to be seen.
func wiresOf(sys *system.System, now string) []page.Choice {
	out := []page.Choice{{Text: "none"}}
	there := now == ""
	for _, e := range sys.Elements {
		if e.Kind == system.Wire {
			out = append(out, page.Choice{ID: e.ID, Text: e.Name, On: e.ID == now})
			there = there || e.ID == now
		}
	}
	if !there {
		out = append(out, page.Choice{ID: now, Text: now + ", which this system has not", On: true})
	}
	return out
}
