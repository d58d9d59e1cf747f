package web

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

// wait says that a job waits.
func (s *Server) wait(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	b := job.WaitsBody{For: r.FormValue("for"), What: strings.TrimSpace(r.FormValue("what"))}
	var problems page.Problems
	if !slices.Contains(job.WaitWords, b.For) {
		problems = append(problems, page.Problem{Field: "for", Text: "Choose for what it waits"})
	}
	if long := tooLong(b.What); long != "" {
		problems = append(problems, page.Problem{Field: "what", Text: long})
	}
	if len(problems) > 0 {
		s.showLog(w, r, http.StatusUnprocessableEntity, x, b, problems)
		return
	}
	s.enter(w, r, x, h, "/", s.cannot(w, r), told{job.Waits, b})
}

var kindNames = map[job.Kind]string{
	job.Took: "a reading", job.FoundRig: "hook-up lines", job.CouldNot: "a test that could not be taken", job.Corrected: "a correction",
	job.Repaired: "a repair", job.Waits: "that the job waits", job.Proved: "the proof", job.Reopened: "the reopening", job.Identified: "what was identified",
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
		case job.ReopenedBody:
			l.What, l.Why = "Reopened", strings.Join(nonEmpty(b.Why, b.Says()), "; ")
		case job.IdentifiedBody:
			l.What, l.Why = b.Title(), strings.Join(append([]string{advice.Sentence(b.Says())}, b.Seen()...), " · ")
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
	l.Why = s.lateNote(e)
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
	x, ok := s.asItStands(w, r)
	if !ok {
		return
	}
	s.showLog(w, r, http.StatusOK, x, x.job.Waits, nil)
}

// showLog shows everything that happened, and the form that says for what the
// job waits.
func (s *Server) showLog(w http.ResponseWriter, r *http.Request, code int, x *work, waits job.WaitsBody, problems page.Problems) {
	at, err := s.Journal.Head(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Log{Shell: s.jobShell(r, x, "Log", "log"), Hidden: s.hidden(x.seq), What: waits.What, Head: at.Sum.String(), Assumed: x.job.Assumed, Problems: problems}
	v.Follow = true
	for _, l := range slices.Backward(s.logLines(x)) {
		v.Lines = append(v.Lines, l.LogLine)
	}
	var told []string
	if x.stand != nil {
		told = x.stand.Advice.ToldLines()
	}
	v.Lines = append(v.Lines, page.LogLine{
		Time: shortTime(x.events[0].Recorded, s.Now()), What: "Opened: " + complaintWords(x.job.Complaint.Kind),
		Why: strings.Join(nonEmpty(append([]string{x.job.Complaint.Words}, told...)...), " "),
	})
	if last, ok := job.Last(x.events); ok && s.mayTakeBack(r, last.Kind) {
		v.Undo = kindNames[last.Kind]
	}
	for _, word := range job.WaitWords {
		v.WaitFor = append(v.WaitFor, page.Choice{ID: word, Text: advice.Capital(waitWords[word]), On: word == waits.For})
	}
	s.show(w, r, code, page.LogPage(v))
}
