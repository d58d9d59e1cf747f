package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

// hookUp records that the hook-up is done up to a line.
func (s *Server) hookUp(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	k := parseKey(r.FormValue("key"))
	to := k.at("/jobs/" + x.stream)
	step, err := k.step(x.stand)
	if err != nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "That cannot be done now", advice.Sentence(err.Error()))
		return
	}
	upto, line := 0, 0
	for _, l := range x.stand.Lines(step) {
		if slices.Contains(r.Form["line"], strconv.Itoa(l.N)) {
			upto, line = l.Upto, l.N
		}
	}
	if line == 0 {
		s.showStep(w, r, http.StatusUnprocessableEntity, x, k, nil, func(v *page.Job) {
			v.Untick = "No line was ticked. Tick the last one that is done: it takes those before it along."
		})
		return
	}
	s.enter(w, r, x, h, to, s.cannot(w, r), told{job.FoundRig, job.RigBody{Rig: step.RigAfter(upto), Leads: x.stand.LeadsOn(step, line)}})
}

func (s *Server) standsPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	s.showStands(w, r, http.StatusOK, x, nil, "")
}

// showStands shows the form of how the vehicle stands: as it is known to stand,
// but for what was chosen.
func (s *Server) showStands(w http.ResponseWriter, r *http.Request, code int, x *work, chosen map[string]string, problem string) {
	v := page.Stands{
		Shell: s.jobShell(r, x, "How it stands", "now"), Hidden: s.hidden(x.seq), Places: x.stand.Places(), Against: x.stand.Against(), Problem: problem,
	}
	for i := range v.Places {
		if at := chosen[v.Places[i].ID]; at != "" {
			v.Places[i].Now = at
		}
	}
	s.show(w, r, code, page.StandsPage(v))
}

// asItStands is the job of an address for a page that asks nothing of the steps that come
// next; what went wrong is answered.
func (s *Server) asItStands(w http.ResponseWriter, r *http.Request) (*work, bool) {
	seq, err := s.last(r.Context(), r.PathValue("job"))
	var x *work
	if err == nil {
		x, err = s.weighed(r.Context(), r.PathValue("job"), seq)
	}
	if err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	return x, true
}

// opened opens the job of a page that needs advice.
func (s *Server) opened(w http.ResponseWriter, r *http.Request) (*work, bool) {
	x, err := s.open(r.Context(), r.PathValue("job"))
	if err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	if x.stand == nil {
		s.show(w, r, http.StatusUnprocessableEntity, page.Plain(s.jobShell(r, x, "Not on this system", ""), "Not on this system", x.refused, page.Link{Text: "To the job", To: "/jobs/" + x.stream}))
		return nil, false
	}
	return x, true
}

// stands records how the vehicle was seen to stand.
func (s *Server) stands(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	b := job.RigBody{Rig: map[string]string{}}
	for _, p := range x.job.System.Rig.Places {
		if at := r.FormValue("p-" + p.ID); at != "" {
			b.Rig[p.ID] = at
		}
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream, func(why string) {
		s.showStands(w, r, http.StatusUnprocessableEntity, x, b.Rig, advice.Sentence(why))
	}, told{job.FoundRig, b})
}

var reasons = []page.Choice{
	{ID: "cannot reach the point", Text: "Cannot reach the point"},
	{ID: "no such instrument here", Text: "No such instrument here"},
	{ID: "not safe today", Text: "Not safe today"},
}

func (s *Server) couldNotPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	s.showCouldNot(w, r, http.StatusOK, x, parseKey(r.FormValue("key")), "", nil)
}

func (s *Server) showCouldNot(w http.ResponseWriter, r *http.Request, code int, x *work, k key, own string, problems page.Problems) {
	step, err := k.step(x.stand)
	if err != nil || step.Body.Procedure == "" {
		s.sorry(w, r, http.StatusUnprocessableEntity, "Nothing is being read", "Choose a test first.")
		return
	}
	e := s.entry(r, x, step, of(step, k))
	s.show(w, r, code, page.CouldNotPage(page.CouldNot{
		Shell: s.jobShell(r, x, "Could not take it", "now"), Hidden: s.hidden(x.seq), Entry: e.Entry, Name: step.Name, Procedure: step.Body.Procedure,
		Reasons: reasons, Own: own, Problems: problems,
	}))
}

// couldNot records that a test could not be done.
func (s *Server) couldNot(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	b := job.CouldNotBody{Procedure: r.FormValue("procedure"), Why: strings.TrimSpace(r.FormValue("why"))}
	if b.Why == "" {
		b.Why = strings.TrimSpace(r.FormValue("own"))
	}
	problem := tooLong(b.Why)
	if b.Why == "" {
		problem = "Say why it could not be taken, in a few words"
	}
	if _, known := s.Shelf.Catalogue[b.Procedure]; !known || problem != "" {
		s.showCouldNot(w, r, http.StatusUnprocessableEntity, x, key{do: b.Procedure}, r.FormValue("own"), page.Problems{{Field: "own", Text: problem}})
		return
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream, s.cannot(w, r), told{job.CouldNot, b})
}

// undo takes back the last thing that stands.
func (s *Server) undo(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	last, ok := job.Last(x.events)
	if !ok {
		s.sorry(w, r, http.StatusUnprocessableEntity, "Nothing can be taken back", "The opening and a signature stay.")
		return
	}
	if !s.mayTakeBack(r, last.Kind) {
		s.notYours(w, r, dutyOf[last.Kind])
		return
	}
	to := "/jobs/" + x.stream
	if chosen := r.FormValue("key"); chosen != "" { // a line was unticked: its step goes on
		to = parseKey(chosen).at(to)
	}
	s.enter(w, r, x, h, to, s.cannot(w, r), told{job.Withdrawn, job.WithdrawnBody{Event: last.ID}})
}
