package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/identify"
	"chargewright/web/page"
)

// leastFound is the share under which a finding is not shown.
const leastFound = 0.01

// carriedMark begins the names of a new job's fields where they are carried along: looks
// have names of their own.
const carriedMark = "new-"

// fittedPage weighs what was seen of a vehicle, which stands in the address, or in the
// form of somebody who came from a new job.
func (s *Server) fittedPage(w http.ResponseWriter, r *http.Request) {
	lib, err := identify.Library()
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	v := page.Fitted{Shell: s.shell(r, "What is fitted"), Action: "/fitted", Carried: carriedFields(r.PostForm)}
	answers := looksIn(r.PostForm) // that were answered before, where the form of a new job comes back
	for look, a := range r.Form {
		fromJob := r.PostForm.Has("event") || strings.HasPrefix(look, carriedMark) || strings.HasPrefix(look, lookMark) || look == "again"
		if len(a) > 0 && a[0] != "" && !fromJob && !r.PostForm.Has("again") {
			answers[look] = a[0]
		}
	}
	lib.Prune(answers)
	code := http.StatusOK
	if err := lib.Check(answers); err != nil {
		code = http.StatusUnprocessableEntity
		v.Problems = lines(err)
		answers = map[string]string{}
	}
	s.seenSoFar(&v, lib, answers)
	if v.Looks = lookFields(answers); v.Open != "" {
		v.Open += "&" + lookQuery(answers)
	}
	s.show(w, r, code, page.FittedPage(v))
}

// seenSoFar weighs answers for a page, and asks for the looks that would tell more.
func (s *Server) seenSoFar(v *page.Fitted, lib *identify.Catalogue, answers map[string]string) identify.Weighed {
	weighed := lib.Weigh(answers)
	if len(answers) > 0 {
		s.found(v, lib, weighed)
	}
	for _, n := range weighed.Next {
		v.Next = append(v.Next, looked(lib, n.Look, ""))
	}
	for _, l := range lib.Looks {
		if answers[l.ID] != "" {
			v.Seen = append(v.Seen, looked(lib, l, answers[l.ID]))
		}
	}
	return weighed
}

// carriedFields are the fields of a new job's form, as it was sent or as they were
// carried along since.
func carriedFields(form url.Values) []page.Field {
	var out []page.Field
	for name, values := range form {
		marked := strings.HasPrefix(name, carriedMark)
		if !marked && !form.Has("event") || strings.HasPrefix(name, lookMark) { // looks are answers
			continue
		}
		for _, value := range values {
			if value != "" {
				out = append(out, page.Field{Name: carriedMark + strings.TrimPrefix(name, carriedMark), Value: value})
			}
		}
	}
	slices.SortFunc(out, func(a, b page.Field) int { return strings.Compare(a.Name+"\n"+a.Value, b.Name+"\n"+b.Value) })
	return out
}

// intakeAgain shows the form of a new job with what was typed into it before somebody
// looked up what is fitted.
func (s *Server) intakeAgain(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	found := r.PostForm.Get("system")
	r.Form = url.Values{}
	for name, values := range r.PostForm {
		if field, ok := strings.CutPrefix(name, carriedMark); ok {
			r.Form[field] = values
		}
		if strings.HasPrefix(name, lookMark) {
			r.Form[name] = values
		}
	}
	if found != "" {
		r.Form.Set("system", found)
	}
	h, err := carried(r)
	if err != nil {
		s.sorry(w, r, http.StatusBadRequest, "This was not taken", advice.Sentence(err.Error()))
		return
	}
	v := intakeOf(r, h)
	b, _ := s.opening(r, &v)
	v.Problems = nil // it was not sent to be opened
	s.showIntake(w, r, http.StatusOK, v, &b)
}

func (s *Server) found(v *page.Fitted, lib *identify.Catalogue, w identify.Weighed) {
	for i, f := range w.Findings {
		if i > 0 && f.Probability < leastFound {
			continue
		}
		x := page.Found{Name: advice.Capital(f.Alternator.Name), Note: f.Wiring.Name, Share: advice.Percent(f.Probability), Pair: f.Pair != nil}
		if f.Pair == nil {
			x.Name = "Not a pair: " + f.Alternator.Name
			if would := lib.Would(f.Alternator.ID, f.Wiring.ID); would != "" {
				x.Note += "; together: " + would
			}
		}
		v.Found = append(v.Found, x)
	}
	if w.None >= leastFound {
		v.Found = append(v.Found, page.Found{Name: "None of these", Share: advice.Percent(w.None)})
	}
	v.Verdict = w.Verdict()
	if f := w.Findings[0]; f.System() != "" {
		v.System = f.System()
		v.Open, v.Open2 = "/jobs/new?system="+url.QueryEscape(f.System()), "New job on this system"
	}
}

func looked(lib *identify.Catalogue, l identify.Look, answer string) page.Looked {
	x := page.Looked{ID: l.ID, Ask: l.Ask, Minutes: advice.MinutesWords(l.Minutes), Do: l.Do}
	for _, c := range lib.CautionsOf(l) {
		x.Cautions = append(x.Cautions, advice.Cautions{Text: c})
	}
	for _, a := range l.Answers {
		x.Answers = append(x.Answers, page.Choice{ID: a.ID, Text: advice.Capital(a.Say), On: a.ID == answer})
	}
	return x
}
