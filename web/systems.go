package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/journal"
	"chargewright/problem"
	"chargewright/system"
	"chargewright/unit"
	"chargewright/web/page"
)

func (s *Server) systemsPage(w http.ResponseWriter, r *http.Request) {
	all, _, err := s.systems.list(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Systems{Shell: s.shell(r, "Systems")}
	for _, k := range all {
		y := k.system
		v.List = append(v.List, page.SystemLine{To: "/systems/" + y.ID, Name: y.Name, About: y.About, Counts: counts(y), Origin: origin(k)})
	}
	s.show(w, r, http.StatusOK, page.SystemsPage(v))
}

func counts(y *system.System) string {
	joints, wires := 0, 0
	for _, e := range y.Elements {
		switch e.Kind {
		case system.Joint:
			joints++
		case system.Wire:
			wires++
		}
	}
	return strings.Join([]string{plural(joints, "joint", "joints"), plural(wires, "wire", "wires"), plural(len(y.Faults), "fault", "faults")}, ", ")
}

func origin(k *kept) string {
	if k.shipped {
		return "shipped"
	}
	return "the workshop's own"
}

func (s *Server) systemPage(w http.ResponseWriter, r *http.Request) {
	k, err := s.systems.find(r.Context(), r.PathValue("system"))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	y := k.system
	v := page.System{Shell: s.shell(r, y.Name), Name: y.Name, About: y.About, Edit: "/systems/" + y.ID + "/edit"}
	v.Picture, _ = s.svg(y, drawing.Wide, false, drawing.Options{Rig: y.Rig.Rest}, "sheet")
	v.Narrow, _ = s.svg(y, sheetNarrow, false, drawing.Options{Rig: y.Rig.Rest}, "narrow")
	v.Facts = facts(k)
	for _, p := range y.Points {
		number := strconv.Itoa(p.Number)
		if p.Number == 0 {
			number = "–"
		}
		v.Points = append(v.Points, page.Row{number, advice.Capital(p.Name), p.Terminal})
	}
	for _, l := range y.Limits {
		v.Limits = append(v.Limits, page.Row{s.procedureName(l.Procedure), limitWords(l), degrees(l.Condition), degrees(l.Source) + " (" + string(l.Basis) + ")"})
	}
	for _, f := range y.Faults {
		if !f.Outside {
			v.Faults = append(v.Faults, page.Row{advice.Capital(f.Name), s.Shelf.PracticeOf(y).Repairs[f.Repair].Name, f.Note})
		}
	}
	s.show(w, r, http.StatusOK, page.SystemPage(v))
}

// facts are what a system is, every machine and every battery of it.
func facts(k *kept) []page.Fact {
	y := k.system
	out := []page.Fact{{Name: "Voltage", Value: unit.Format(unit.Volt, y.Volts)}}
	for _, g := range y.Generators() {
		m := g.Machine
		out = append(out,
			page.Fact{Name: advice.Capital(g.Stage), Value: strings.ReplaceAll(g.Regulator.Kind, "-", " ")},
			page.Fact{Name: advice.Capital(g.Device), Value: unit.Format(unit.Amp, m.RatedAmps) + " at " + unit.Format(unit.Volt, m.RatedVolts) + ", pulley " + strconv.FormatFloat(m.PulleyRatio, 'g', 4, 64)})
	}
	for _, b := range y.Accumulators() {
		out = append(out, page.Fact{Name: advice.Capital(b.Called), Value: unit.Format(unit.AmpHour, unit.FromUCUM(unit.AmpHour, b.AmpHours))})
	}
	return append(out, page.Fact{Name: "Holds", Value: counts(y)}, page.Fact{Name: "From", Value: origin(k)}, page.Fact{Name: "File", Value: journal.Sum(y.SHA256).String()})
}

// degrees writes degrees as people do; files have letters that every keyboard has.
func degrees(s string) string { return strings.ReplaceAll(s, "degC", "°C") }

func limitWords(l system.Limit) string {
	switch {
	case l.Low != nil && l.High != nil:
		return unit.Format(l.Dim, *l.Low) + " to " + unit.Format(l.Dim, *l.High)
	case l.Low != nil:
		return unit.Format(l.Dim, *l.Low) + " at least"
	case l.High != nil:
		return unit.Format(l.Dim, *l.High) + " at most"
	}
	return ""
}

func (s *Server) editPage(w http.ResponseWriter, r *http.Request) {
	k, err := s.systems.find(r.Context(), r.PathValue("system"))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.showEditor(w, r, http.StatusOK, page.Editor{
		ID: k.system.ID, Source: string(k.system.Own()), Said: "A system keeps its id; give it another one to keep both. Jobs that are open stay on the bytes that they were opened with.",
	})
}

func (s *Server) showEditor(w http.ResponseWriter, r *http.Request, code int, v page.Editor) {
	_, n, err := s.systems.list(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v.Shell, v.Hidden = s.shell(r, "System file"), s.hidden(n)
	v.Head = "System file"
	s.show(w, r, code, page.EditorPage(v))
}

// read reads a system file as a form holds it, and prepares it: what only shows
// there is a problem too. Browsers send lines with a carriage return.
func (s *Server) read(source string) (*system.System, page.Editor) {
	source = strings.ReplaceAll(source, "\r\n", "\n")
	v := page.Editor{Source: source, Checked: true}
	sys, err := system.Parse("system.yaml", []byte(source))
	if err == nil {
		_, err = advice.Prepare(sys, s.Shelf.PracticeOf(sys), s.Shelf.Catalogue, advice.DefaultSettings())
	}
	if err == nil {
		v.Said = "Everything is read: " + counts(sys) + "."
		return sys, v
	}
	var list problem.List
	if !errors.As(err, &list) {
		list = problem.List{{What: err.Error()}}
	}
	list.Sort()
	by := map[int][]page.FileProblem{}
	for i, p := range list {
		f := page.FileProblem{Line: max(p.Line, 1), What: p.What, Instead: p.Instead}
		for _, later := range list[i+1:] {
			if later.Line > f.Line {
				f.Next = later.Line
				break
			}
		}
		v.Problems = append(v.Problems, f)
		by[f.Line] = append(by[f.Line], f)
	}
	for i, text := range strings.Split(source, "\n") {
		v.Lines = append(v.Lines, page.CodeLine{N: i + 1, Text: text, Problems: by[i+1]})
	}
	v.Said = plural(len(list), "place needs", "places need") + " a second look."
	return nil, v
}

// checkSystem says what is wrong with a system file, and keeps nothing.
func (s *Server) checkSystem(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	_, v := s.read(r.FormValue("source"))
	v.ID = r.FormValue("id")
	s.showEditor(w, r, codeOf(v), v)
}

func codeOf(v page.Editor) int {
	if len(v.Problems) > 0 {
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

// keepSystem keeps a system that has no problem.
func (s *Server) keepSystem(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	h, err := carried(r)
	if err != nil {
		s.sorry(w, r, http.StatusBadRequest, "This was not taken", advice.Sentence(err.Error()))
		return
	}
	sys, v := s.read(r.FormValue("source"))
	v.ID = r.FormValue("id")
	if sys == nil {
		s.showEditor(w, r, http.StatusUnprocessableEntity, v)
		return
	}
	err = s.systems.keep(r.Context(), sys, h.Event, deviceOf(r), who(r).ID, h.Seen)
	var moved *journal.Moved
	var reused *journal.Reused
	switch {
	case errors.As(err, &reused):
		s.sorry(w, r, http.StatusConflict, "This form was sent before", "It kept a system then, with something else in it. Open the editor again and keep this one from there.")
	case errors.As(err, &moved):
		v.Said = "Somebody else kept a system since this page was made. Look at the list, then keep yours."
		s.showEditor(w, r, http.StatusConflict, v)
	case err != nil:
		s.broken(w, r, err)
	default:
		http.Redirect(w, r, "/systems/"+sys.ID, http.StatusSeeOther)
	}
}
