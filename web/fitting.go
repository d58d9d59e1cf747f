package web

import (
	"net/http"
	"strings"

	"chargewright/advice"
	"chargewright/fit"
	"chargewright/system"
	"chargewright/web/page"
)

// A manual gives a few figures of a machine; the page takes them as the manual has them,
// finds the machine that has them, and offers the system file.

// How a fit is begun: always the same, so that the same figures give the same file.
const (
	fitSeed   = 1
	fitStarts = 8
)

func (s *Server) manualPage(w http.ResponseWriter, r *http.Request) {
	s.showManual(w, r, http.StatusOK, page.Manual{})
}

// fitManual fits a machine to what the form says and shows what comes of it. Nothing is kept:
// the file is kept from its own form, as one that was written by hand.
func (s *Server) fitManual(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	f := figuresOf(r)
	x, err := fit.Parse("the form", []byte(f.text.String()), func(id string) (*system.System, error) {
		k, err := s.systems.find(r.Context(), id)
		if err != nil {
			return nil, err
		}
		return k.system, nil
	})
	if err != nil {
		s.showManual(w, r, http.StatusUnprocessableEntity, page.Manual{Problems: f.problemsOf(err)})
		return
	}
	res, err := fit.Run(x, fit.Options{Seed: fitSeed, Starts: fitStarts})
	if err != nil {
		s.showManual(w, r, http.StatusUnprocessableEntity, page.Manual{Problems: page.Problems{{Text: advice.Sentence(err.Error())}}})
		return
	}
	s.showManual(w, r, http.StatusOK, manualResult(res, r.FormValue("anyway") != "", f.text.String()))
}

// manualResult is what a fit says. Figures that contradict each other give no file unless it
// is asked for all the same.
func manualResult(res *fit.Result, anyway bool, file string) page.Manual {
	v := page.Manual{Fitted: true, File: file, Said: "A machine with these figures was found."}
	for i := range res.Fitted {
		f := &res.Fitted[i]
		v.Figures = append(v.Figures, page.Row{advice.Capital(f.Words()), advice.Capital(fit.Missed(f.Misfit)), spaced(f.Given()), spaced(fit.Shown(f.Dim(), f.Predicted))})
	}
	for _, k := range res.Unknowns {
		v.Unknowns = append(v.Unknowns, page.Row{
			advice.Capital(k.Name), spaced(fit.Shown(k.Dim, k.Fitted.Median)),
			spaced(fit.Shown(k.Dim, k.Fitted.Low) + " to " + fit.Shown(k.Dim, k.Fitted.High)), advice.Capital(string(k.Verdict)),
		})
	}
	for _, k := range res.Wanting() {
		v.Open = append(v.Open, advice.Capital(k.Name)+": "+k.Settle)
	}
	for _, c := range res.Conflicts {
		v.Conflicts = append(v.Conflicts, advice.Sentence(c.Words))
	}
	for _, n := range res.Notes {
		v.Notes = append(v.Notes, advice.Sentence(n))
	}
	if len(v.Conflicts) > 0 {
		v.Said = "Figures contradict each other: look at them before anything is built on this."
	}
	if len(v.Conflicts) == 0 || anyway {
		v.Source = string(res.System)
	}
	return v
}

// spaced writes what keyboards have not.
func spaced(s string) string { return degrees(strings.ReplaceAll(s, "+-", "±")) }

// showManual shows the form as it was filled in.
func (s *Server) showManual(w http.ResponseWriter, r *http.Request, code int, v page.Manual) {
	all, n, err := s.systems.list(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v.Shell, v.Hidden = s.shell(r, "From a manual's figures"), s.hidden(n)
	for _, k := range all {
		v.Templates = append(v.Templates, page.Choice{ID: k.system.ID, Text: k.system.Name, On: r.FormValue("template") == k.system.ID})
	}
	for _, b := range []page.Choice{{ID: string(system.Read), Text: "The manual lies before me"}, {ID: string(system.Memory), Text: "From memory"}, {ID: string(system.Invented), Text: "Made up, to try it"}} {
		b.On = r.FormValue("basis") == b.ID
		v.Bases = append(v.Bases, b)
	}
	v.Name, v.ID, v.Manual = r.FormValue("name"), r.FormValue("id"), r.FormValue("manual")
	for n := range manualSections {
		m := &manualSections[n]
		sec := page.ManualSection{Title: m.title}
		for i := range m.boxes {
			b := &m.boxes[i]
			box := page.ManualBox{Field: m.field(n, b), Label: b.label, Note: b.note, Value: r.FormValue(m.field(n, b))}
			for _, c := range b.choices {
				c.On = c.ID == b.picked(box.Value)
				box.Choices = append(box.Choices, c)
			}
			if b.unit != "" && b.unit != "%" {
				box.Label += " [" + degrees(ohms(b.unit)) + "]"
			}
			sec.Boxes = append(sec.Boxes, box)
		}
		v.Sections = append(v.Sections, sec)
	}
	s.show(w, r, code, page.ManualPage(v))
}

func ohms(unit string) string { return strings.ReplaceAll(unit, "Ohm", "Ω") }
