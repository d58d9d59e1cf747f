package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/question"
	"chargewright/web/page"
)

// elsePage lists what may be done instead of the step that is proposed.
func (s *Server) elsePage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	v := page.Else{Shell: s.jobShell(r, x, "Something else", "now"), Query: strings.TrimSpace(r.FormValue("q"))}
	for _, way := range x.stand.Ways() {
		if !holdsWords(way.Name+" "+way.Settles, v.Query) {
			continue
		}
		line := page.WayLine{To: key{do: way.ID}.at(v.Job), Name: way.Name, Note: advice.Sentence(way.Settles), Cost: way.Minutes}
		if way.Done > 0 {
			line.Cost += ", done " + map[bool]string{true: "once", false: strconv.Itoa(way.Done) + " times"}[way.Done == 1]
		}
		switch {
		case way.Barred != "":
			line.Note = advice.Sentence(way.Barred)
			v.Barred = append(v.Barred, line)
		case way.Where == "vehicle":
			v.Vehicle = append(v.Vehicle, line)
		default:
			v.Bench = append(v.Bench, line)
		}
	}
	s.show(w, r, http.StatusOK, page.ElsePage(v))
}

// holdsWords says whether a text holds every word of a query, whatever its case.
func holdsWords(text, query string) bool {
	text = strings.ToLower(text)
	for _, w := range strings.Fields(strings.ToLower(query)) {
		if !strings.Contains(text, w) {
			return false
		}
	}
	return true
}

// freePage is a reading between two points, tapped one after the other.
func (s *Server) freePage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	k := key{kind: r.FormValue("kind"), red: r.FormValue("red"), black: r.FormValue("black"), through: r.FormValue("through")}
	switch {
	case k.kind == "amps" && k.through != "":
		k.red, k.black = "", ""
	case k.kind == "volts" || k.kind == "ac-volts" || k.kind == "ohms" || k.kind == "amps":
		k.through = ""
	default:
		k.kind, k.through = "volts", ""
	}
	s.showFree(w, r, http.StatusOK, x, k, nil, nil)
}

func (s *Server) showFree(w http.ResponseWriter, r *http.Request, code int, x *work, k key, f *filled, more func(*page.Job)) {
	st := x.stand
	v := page.Free{Points: st.Points(), Branches: st.Branches()}
	v.Shell, v.Hidden, v.Plain = s.jobShell(r, x, "Read between two points", "now"), s.hidden(x.seq), true
	v.Watch, v.Against = st.Watch(st.RigNow()), st.Against()
	v.Done, v.DoneLines = doneLines(x)
	for _, a := range st.Advice.Rig {
		v.Rig = append(v.Rig, a.Short)
	}
	for _, kind := range []string{"volts", "ac-volts", "amps", "ohms"} {
		v.Kinds = append(v.Kinds, page.Choice{ID: kind, Text: freeKinds[kind], On: kind == k.kind})
	}
	e := entry{}
	var step advice.Step
	v.Say = "Tap where the red lead goes"
	switch {
	case k.through != "" || k.red != "" && k.black != "":
		var err error
		step, err = k.step(st)
		var refused *advice.Refused
		switch {
		case errors.As(err, &refused):
			v.Problem, v.Say, code = refused, "Choose other points", http.StatusUnprocessableEntity
		case err != nil:
			v.Problem, v.Say, code = &advice.Refused{What: advice.Sentence(err.Error())}, "Choose other points", http.StatusUnprocessableEntity
		default:
			v.Ready, v.Say = true, step.Name
			e = s.entry(r, x, step, k)
			e.take(f)
			v.Step, v.Key, v.Lines, v.Strips = step, k.String(), st.Lines(step), step.Strips
			v.Working, v.Cautions = step.Holds(), step.Untold(v.Lines)
		}
	case k.red != "":
		v.Say = "Tap where the black lead goes"
	}
	e.Red, e.Black, e.Through = k.red, k.black, k.through
	v.Job.Entry = e.Entry
	if more != nil {
		more(&v.Job)
	}
	v.Maps = s.tapping(x, k, step, v.Job.Job)
	s.show(w, r, code, page.FreePage(v))
}

var freeKinds = map[string]string{"volts": "Volts", "ac-volts": "AC volts", "amps": "Amps, with a clamp meter", "ohms": "Ohms, circuit dead"}

// tapping is the circuit with its points as places to tap, for a wide page and
// a narrow one.
func (s *Server) tapping(x *work, k key, step advice.Step, base string) []page.Map {
	st := x.stand
	o := drawing.Options{Rig: st.In.Rig, Causes: causes(st)}
	switch {
	case k.through != "" && step.Name != "":
		o.Clamps = []drawing.Clamp{{Element: k.through}}
	case k.red != "" && k.black != "" && step.Name != "":
		o.Leads = []drawing.Lead{{Red: k.red, Black: k.black, Quantity: question.Kind(k.kind)}}
	case k.red != "" && k.black == "" && has(st.Points(), k.red):
		o.Now = &drawing.Now{Point: k.red}
	}
	var out []page.Map
	for _, m := range []struct {
		class string
		width int
	}{{"only-wide", sheetWide}, {"only-narrow", sheetNarrow}} {
		picture, drawn := s.svg(st.System, m.width, false, o, m.class)
		if drawn == nil {
			continue
		}
		one := page.Map{Class: m.class, Picture: picture, Box: "0 0 " + length(drawn.W) + " " + length(drawn.H)}
		if k.kind != "amps" {
			one.Taps = taps(st, drawn, k, base)
		}
		out = append(out, one)
	}
	return out
}

// taps are the points of a picture with where a tap on each leads.
func taps(st *advice.Standing, picture *drawing.Picture, k key, base string) []page.Tap {
	var out []page.Tap
	next := k
	for _, p := range picture.Points {
		if !has(st.Points(), p.Point) {
			continue
		}
		what := "red"
		if k.red == "" || k.black != "" { // the first tap, or a new beginning
			next.red, next.black = p.Point, ""
		} else {
			next.red, next.black, what = k.red, p.Point, "black"
		}
		out = append(out, page.Tap{X: length(p.At.X), Y: length(p.At.Y), To: next.at(base), Label: advice.Capital(what) + " lead on " + strconv.Itoa(p.Number) + ", " + pointName(st, p.Point)})
	}
	return out
}

func has(list []advice.Point, id string) bool {
	for _, p := range list {
		if p.ID == id {
			return true
		}
	}
	return false
}

func pointName(st *advice.Standing, id string) string {
	for _, p := range st.Points() {
		if p.ID == id {
			return strings.Join(nonEmpty(p.Name, p.Terminal), " ")
		}
	}
	return id
}

// length writes a length of a picture.
func length(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
