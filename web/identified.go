package web

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/identify"
	"chargewright/job"
	"chargewright/problem"
	"chargewright/system"
	"chargewright/web/page"
)

// lookMark begins the names of the fields in which looks travel with a job's form.
const lookMark = "look-"

// looksIn are the answers to looks that a form or an address carries.
func looksIn(form url.Values) map[string]string {
	out := map[string]string{}
	for name, values := range form {
		if look, is := strings.CutPrefix(name, lookMark); is && len(values) > 0 && values[0] != "" {
			out[look] = values[0]
		}
	}
	return out
}

// lookFields are answers to looks as they travel.
func lookFields(answers map[string]string) []page.Field {
	var out []page.Field
	for _, look := range slices.Sorted(maps.Keys(answers)) {
		out = append(out, page.Field{Name: lookMark + look, Value: answers[look]})
	}
	return out
}

// lookQuery is the same behind an address; "" without any.
func lookQuery(answers map[string]string) string {
	q := url.Values{}
	for _, f := range lookFields(answers) {
		q.Set(f.Name, f.Value)
	}
	return q.Encode()
}

// identifiedBy says by which looks a job's system was chosen; nil without any.
func identifiedBy(s *system.System, answers map[string]string) (*job.IdentifiedBody, error) {
	if len(answers) == 0 {
		return nil, nil //nolint:nilnil // nothing was looked at
	}
	lib, err := identify.Library()
	if err != nil {
		return nil, err
	}
	b, err := job.IdentifiedBy(lib, s, answers)
	return &b, err
}

// seenBefore puts on the form of a new job what was seen of the vehicle.
func (s *Server) seenBefore(v *page.Intake, chosen *system.System) {
	answers := map[string]string{}
	for _, f := range v.Looks {
		answers[strings.TrimPrefix(f.Name, lookMark)] = f.Value
	}
	if chosen == nil {
		chosen = &system.System{}
	}
	b, err := identifiedBy(chosen, answers)
	switch {
	case err != nil:
		v.Looks = nil // not of this program's catalogue; looksRead says so
	case b != nil:
		v.Seen = b.Seen()
		if chosen.ID != "" {
			v.SeenSays = "For the system that is ticked, " + b.Name + ": " + b.Says() + "."
		}
	}
}

// looksRead says where looks that came with a form are none.
func looksRead(r *http.Request, v *page.Intake) {
	if _, err := identifiedBy(&system.System{}, looksIn(r.Form)); err != nil {
		v.Problems = append(v.Problems, page.Problem{Field: "system", Text: "What was seen of the vehicle cannot be read any more: look again, or open the job without it"})
	}
}

// identifiedPage weighs what is seen of the vehicle of a job that was opened
// before, or opened without a look.
func (s *Server) identifiedPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.toBeLookedAt(w, r)
	if !ok {
		return
	}
	answers := map[string]string{}
	for look, a := range r.URL.Query() {
		if len(a) > 0 && a[0] != "" {
			answers[look] = a[0]
		}
	}
	s.showIdentified(w, r, http.StatusOK, x, answers, nil)
}

// toBeLookedAt is a job that is not signed; the steps that come next do not matter.
func (s *Server) toBeLookedAt(w http.ResponseWriter, r *http.Request) (*work, bool) {
	x, ok := s.asItStands(w, r)
	if ok && x.job.Signed != nil {
		s.isSigned(w, r, x)
		return nil, false
	}
	return x, ok
}

func (s *Server) showIdentified(w http.ResponseWriter, r *http.Request, code int, x *work, answers map[string]string, problems page.Problems) {
	lib, err := identify.Library()
	if err != nil {
		s.broken(w, r, err)
		return
	}
	lib.Prune(answers)
	v := page.Identified{Hidden: s.hidden(x.seq), Of: x.job.System.Name}
	v.Shell, v.Action = s.jobShell(r, x, "What is fitted", "now"), "/jobs/"+x.stream+"/identified"
	if before := x.job.Identified; before != nil {
		v.Before, v.BeforeSays = before.Title(), before.Says()
	}
	b, err := identifiedBy(x.job.System, answers)
	var wrong problem.List
	switch {
	case errors.As(err, &wrong):
		code, v.Problems, answers = http.StatusUnprocessableEntity, lines(err), map[string]string{}
	case err != nil:
		s.broken(w, r, err)
		return
	}
	weighed := s.seenSoFar(&v.Fitted, lib, answers)
	v.Wrong = problems
	if len(v.Problems) == 0 && b != nil {
		v.Says, v.Confirm, v.Looks = b.Says(), b.Other == nil, lookFields(answers)
		if b.Other != nil {
			v.Instead = otherwise(weighed, answers, v.Job)
			v.Open = "" // Instead says where a new job is opened
		}
	}
	s.show(w, r, code, page.IdentifiedPage(v))
}

// otherwise says what to do where what is seen speaks for something else than what
// the job is on. The journal cannot change the arrangement of a job.
func otherwise(w identify.Weighed, answers map[string]string, base string) page.Instead {
	out := page.Instead{
		Say: "A job stays on the arrangement that it was opened with: each of its readings was weighed on that circuit, and its hook-ups are those of that circuit.",
		Do:  "Measure nothing more here until it is clear. Look again at what is least certain.",
		Log: page.Link{Text: "Say under Log what this job waits for", To: base + "/log"},
	}
	if f := w.Findings[0]; w.Settled() && f.System() != "" {
		out.Do = "Measure nothing more here. Put the vehicle back as it rolled in first: engine off, key out, leads and jumpers off. Then open a new job on the other arrangement and take the readings anew there; close this one with a signature that says so."
		out.Open = page.Link{Text: "New job on " + f.System(), To: "/jobs/new?system=" + url.QueryEscape(f.System()) + "&" + lookQuery(answers)}
	}
	return out
}

// identified records that somebody looked and found what the job is on.
func (s *Server) identified(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	answers := looksIn(r.PostForm)
	again := func(why string) {
		s.showIdentified(w, r, http.StatusUnprocessableEntity, x, answers, page.Problems{{Text: why}})
	}
	b, err := identifiedBy(x.job.System, answers)
	var wrong problem.List
	switch {
	case errors.As(err, &wrong):
		again(advice.Sentence(wrong[0].What))
	case err != nil:
		s.broken(w, r, err)
	case b == nil:
		again("Say what was seen first")
	case b.Other != nil:
		again("What was seen speaks for another arrangement than the one that this job is on")
	default:
		s.enter(w, r, x, h, "/jobs/"+x.stream+"/log", again, told{job.Identified, b})
	}
}
