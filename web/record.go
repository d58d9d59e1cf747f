package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

// hookUp records that the hook-up is done up to a line.
func (s *Server) hookUp(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	k := parseKey(r.FormValue("key"))
	to := k.at("/jobs/" + x.stream)
	if x.stand == nil {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
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
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	e, err := s.event(r, h, job.FoundRig, job.RigBody{Rig: step.RigAfter(upto), Leads: x.stand.LeadsOn(step, line)})
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, to)
}

func (s *Server) standsPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	s.show(w, r, http.StatusOK, page.StandsPage(page.Stands{
		Shell: s.jobShell(r, x, "How it stands", "now"), Hidden: s.hidden(x.seq), Places: x.stand.Places(), Against: x.stand.Against(),
	}))
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
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	b := job.RigBody{Rig: map[string]string{}}
	for _, p := range x.job.System.Rig.Places {
		if at := r.FormValue("p-" + p.ID); at != "" {
			b.Rig[p.ID] = at
		}
	}
	e, err := s.event(r, h, job.FoundRig, b)
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/jobs/"+x.stream)
}

var reasons = []page.Choice{
	{ID: "cannot reach the point", Text: "Cannot reach the point"},
	{ID: "no such instrument here", Text: "No such instrument here"},
	{ID: "not safe today", Text: "Not safe today"},
}

func (s *Server) couldNotPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	s.showCouldNot(w, r, http.StatusOK, x, parseKey(r.FormValue("key")), nil)
}

func (s *Server) showCouldNot(w http.ResponseWriter, r *http.Request, code int, x *work, k key, problems page.Problems) {
	step, err := k.step(x.stand)
	if err != nil || step.Body.Procedure == "" {
		s.sorry(w, r, http.StatusUnprocessableEntity, "Nothing is being read", "Choose a test first.")
		return
	}
	e := s.entry(x, step, of(step, k))
	s.show(w, r, code, page.CouldNotPage(page.CouldNot{
		Shell: s.jobShell(r, x, "Could not take it", "now"), Hidden: s.hidden(x.seq), Entry: e.Entry, Name: step.Name, Procedure: step.Body.Procedure,
		Reasons: reasons, Problems: problems,
	}))
}

// couldNot records that a test could not be done.
func (s *Server) couldNot(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	b := job.CouldNotBody{Procedure: r.FormValue("procedure"), Why: strings.TrimSpace(r.FormValue("why"))}
	if b.Why == "" {
		b.Why = strings.TrimSpace(r.FormValue("own"))
	}
	if _, known := s.Shelf.Catalogue[b.Procedure]; !known || b.Why == "" || len(b.Why) > longestText {
		if x.stand == nil {
			s.sorry(w, r, http.StatusUnprocessableEntity, "Not on this system", x.refused)
			return
		}
		s.showCouldNot(w, r, http.StatusUnprocessableEntity, x, key{do: b.Procedure}, page.Problems{{Field: "own", Text: "Say why it could not be taken, in a few words"}})
		return
	}
	e, err := s.event(r, h, job.CouldNot, b)
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/jobs/"+x.stream)
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
	e, err := s.event(r, h, job.Withdrawn, job.WithdrawnBody{Event: last.ID})
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/jobs/"+x.stream)
}

// wait says that a job waits.
func (s *Server) wait(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	b := job.WaitsBody{For: r.FormValue("for"), What: strings.TrimSpace(r.FormValue("what"))}
	if !slices.Contains(job.WaitWords, b.For) || len(b.What) > longestText {
		s.sorry(w, r, http.StatusUnprocessableEntity, "For what does it wait?", "Go back and choose one of the answers; a few words are enough.")
		return
	}
	e, err := s.event(r, h, job.Waits, b)
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/")
}

var kindNames = map[job.Kind]string{
	job.Took: "a reading", job.FoundRig: "hook-up lines", job.CouldNot: "a test that could not be taken", job.Corrected: "a correction",
	job.Repaired: "a repair", job.Waits: "that the job waits", job.Proved: "the proof",
}

// numberedLine is a line of the log with its place.
type numberedLine struct {
	page.LogLine
	Seq int
}

// leadWords says that leads were put on.
func leadWords(leads []string) []string {
	if len(leads) == 0 {
		return nil
	}
	return []string{"the meter's leads on"}
}

// logLines are everything that happened, in order.
func (s *Server) logLines(x *work) []numberedLine {
	var out []numberedLine
	for _, e := range x.job.Entries {
		l := numberedLine{Seq: e.Seq, LogLine: page.LogLine{Time: shortTime(e.Recorded, s.Now()), Back: e.Back}}
		switch b := e.Body.(type) {
		case job.ReadingBody:
			s.logReading(x, &l.LogLine, e, b)
		case job.RigBody:
			l.What = "Hook-up: " + strings.Join(append(placeWords(x, b.Rig), leadWords(b.Leads)...), "; ")
		case job.CouldNotBody:
			l.What, l.Why = "Could not be taken: "+s.procedureName(b.Procedure), b.Why
		case job.CorrectBody:
			l.What, l.Why = "Correction of "+s.readingName(x, b.ID), b.Why
		case job.RepairBody:
			name := ""
			if x.stand != nil {
				name = x.stand.RepairName(b.Repair)
			}
			l.What = "Repair: " + strings.Join(nonEmpty(name, b.What), ": ")
			l.Why = map[string]string{"yes": "the complaint is gone", "no": "the complaint is still there", "unknown": "not known yet whether it helped"}[b.Cured]
		case job.WaitsBody:
			l.What, l.Why = "Waits for "+waitWords[b.For], b.What
		case job.ProvedBody:
			l.What, l.Why = "Proved by "+plural(len(b.Readings), "reading", "readings"), b.Note
		case job.SignedBody:
			l.What, l.Why = "Signed off", b.Note
		case job.WithdrawnBody:
			l.What = "The last entry taken back"
		}
		out = append(out, l)
	}
	return out
}

func (s *Server) logReading(x *work, l *page.LogLine, e job.Entry, b job.ReadingBody) {
	l.What = s.procedureName(b.Procedure)
	if l.What == "" {
		l.What = b.Quantity + " " + strings.Join(b.Between, ", ") + b.Through
	}
	if e.Back || x.stand == nil {
		return
	}
	base := "/jobs/" + x.stream + "/readings/" + b.ID
	l.To, l.Correct = base, base+"/correct"
	rd := x.stand.Advice.Readings[b.ID]
	if rd == nil {
		return
	}
	l.What = rd.Name
	var values []string
	for _, v := range rd.Values {
		values = append(values, v.Words())
		if len(v.Limits) > 0 && l.Limit == "" {
			l.Limit = v.Call() + " · " + v.Limits[0].Words(v.Dim) + ", " + v.Limits[0].Origin()
		}
	}
	l.Value = strings.Join(values, ", ")
	l.Letters = x.stand.Weights(b.ID)
	if len(l.Letters) > 2 {
		l.Letters = l.Letters[:2]
	}
}

func (s *Server) procedureName(id string) string {
	if p := s.Shelf.Catalogue[id]; p != nil {
		return p.Name
	}
	return id
}

func (s *Server) readingName(x *work, id string) string {
	if x.stand != nil && x.stand.Advice.Readings[id] != nil {
		return x.stand.Advice.Readings[id].Name
	}
	return id
}

// placeWords says in words where places were put.
func placeWords(x *work, rigOf map[string]string) []string {
	var out []string
	for _, p := range x.job.System.Rig.Places {
		for _, q := range p.Positions {
			if rigOf[p.ID] == q.ID {
				out = append(out, p.Name+" "+q.Name)
			}
		}
	}
	return out
}

func shortTime(t, now time.Time) string {
	t = t.In(now.Location())
	if t.Format(time.DateOnly) == now.Format(time.DateOnly) {
		return t.Format("15:04")
	}
	return t.Format("2 Jan 15:04")
}

func (s *Server) logPage(w http.ResponseWriter, r *http.Request) {
	x, err := s.open(r.Context(), r.PathValue("job"))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	at, err := s.Journal.Head(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Log{Shell: s.jobShell(r, x, "Log", "log"), Hidden: s.hidden(x.seq), What: x.job.Waits.What, Head: at.Sum.String(), Assumed: x.job.Assumed}
	v.Follow = true
	for _, l := range slices.Backward(s.logLines(x)) {
		v.Lines = append(v.Lines, l.LogLine)
	}
	v.Lines = append(v.Lines, page.LogLine{
		Time: shortTime(x.events[0].Recorded, s.Now()), What: "Opened: " + complaintWords(x.job.Complaint.Kind), Why: x.job.Complaint.Words,
	})
	if last, ok := job.Last(x.events); ok {
		v.Undo = kindNames[last.Kind]
	}
	for _, word := range job.WaitWords {
		v.WaitFor = append(v.WaitFor, page.Choice{ID: word, Text: advice.Capital(waitWords[word]), On: word == x.job.Waits.For})
	}
	s.show(w, r, http.StatusOK, page.LogPage(v))
}
