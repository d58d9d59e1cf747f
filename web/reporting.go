package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/report"
	"chargewright/web/page"
)

// sheetOf is the report of a job: what was signed where it is signed, else as
// the job stands now.
func (s *Server) sheetOf(r *http.Request, x *work) (page.Sheet, error) {
	v := page.Sheet{Shell: s.jobShell(r, x, "Report", "report"), Hidden: s.hidden(x.seq), Proved: x.job.Proved != nil}
	v.Cover = report.Cover{Workshop: s.Workshop, Date: s.Now()}
	if x.job.Customer != "" {
		c, err := s.Journal.Customer(r.Context(), x.job.Customer)
		if err != nil && !errors.Is(err, journal.ErrUnknown) {
			return v, err
		}
		v.Cover.Customer, v.Cover.Plate = c.Name, c.Plate
	}
	v.Report = report.Of(x.job, x.stand, x.seq, s.Version)
	if n := len(x.job.Repairs); n > 0 {
		v.Gone = x.job.Repairs[n-1].Cured
	}
	if x.job.Signed == nil {
		at, err := s.Journal.Head(r.Context())
		if err != nil {
			return v, err
		}
		v.Cover.Head, v.Earlier = at.Sum.String(), s.earlier(r, x)
		v.Date = v.Cover.Date.Format("2 January 2006")
		return v, nil
	}
	return v, s.signedSheet(r, x, &v)
}

// signedSheet puts what was signed in place of what stands now.
func (s *Server) signedSheet(r *http.Request, x *work, v *page.Sheet) error {
	signed, err := report.Parse(x.job.Signed.Report)
	if err != nil {
		return err
	}
	if !slices.Equal(signed.Wrong, v.Report.Wrong) {
		now := v.Report
		v.Newer = &now
	}
	v.Report, v.Signed, v.Cover.Head, v.Cover.Note = signed, true, x.job.Signed.Head, x.job.Signed.Note
	if e := lastSigned(x); e != nil {
		v.Cover.Date, v.Cover.Signed = e.Recorded.In(s.Now().Location()), s.signature(r, e)
	}
	v.Date = v.Cover.Date.Format("2 January 2006")
	return nil
}

// lastSigned is the last signature of a job, nil without one.
func lastSigned(x *work) *job.Entry {
	for i := len(x.job.Entries) - 1; i >= 0; i-- {
		if x.job.Entries[i].Kind == job.Signed {
			return &x.job.Entries[i]
		}
	}
	return nil
}

// signature says when a job was signed, and by whom.
func (s *Server) signature(r *http.Request, e *job.Entry) string {
	out := e.Recorded.In(s.Now().Location()).Format("2 January 2006, 15:04")
	if e.Person != "" {
		out += ", by " + s.personName(r, e.Person)
	}
	return out
}

// earlier says that a job was signed and went on; "" when it never was.
func (s *Server) earlier(r *http.Request, x *work) string {
	e := lastSigned(x)
	if e == nil {
		return ""
	}
	return "It was signed before, " + s.signature(r, e) + ", as event " + strconv.Itoa(e.Seq) + " of the journal, and went on since. " +
		"That signature covers what stood then and stays in the journal; this sheet wants its own."
}

// personName is how an account is called; who is signed in is the only one
// whose name can be said.
func (s *Server) personName(r *http.Request, id string) string {
	if a := who(r); a.ID == id {
		return a.Name
	}
	return "account " + id
}

func (s *Server) reportPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	v, err := s.sheetOf(r, x)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, page.ReportPage(v))
}

func (s *Server) reportPDF(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	v, err := s.sheetOf(r, x)
	var b bytes.Buffer
	if err == nil {
		err = report.PDF(&b, v.Report, v.Cover)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Disposition", `inline; filename="`+fileName(x.job.ID)+`"`)
	h.Set("Content-Length", strconv.Itoa(b.Len()))
	_, _ = w.Write(b.Bytes()) // whoever has gone away needs no answer
}

// fileName is a job's id as the name of a file.
func fileName(id string) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, id)
	return "report-" + clean + ".pdf"
}

// sign closes a job: what the sheet says goes into the journal with it.
func (s *Server) sign(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	if x.stand == nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "Not on this system", x.refused)
		return
	}
	// What is signed is worked out from the beginning, so that it does not hang on
	// the way that led here.
	fresh, err := s.made(r.Context(), x.events, nil)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	gone, note := r.FormValue("gone"), strings.TrimSpace(r.FormValue("note"))
	var problems page.Problems
	if !slices.Contains([]string{"yes", "no", "unknown"}, gone) {
		problems = append(problems, page.Problem{Field: "gone", Text: "Say whether the complaint is gone; “not known yet” will do"})
	}
	if len(note) > longestText {
		problems = append(problems, page.Problem{Field: "note", Text: "This is longer than " + strconv.Itoa(longestText) + " characters. Write less"})
	}
	if len(problems) > 0 {
		v, err := s.sheetOf(r, x)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		v.Problems, v.Gone, v.Cover.Note = problems, gone, note
		s.show(w, r, http.StatusUnprocessableEntity, page.ReportPage(v))
		return
	}
	b := job.SignedBody{Gone: gone, Note: note}
	if b.Head, err = s.headBefore(r, x, h); err == nil {
		b.Report, err = json.Marshal(report.Of(x.job, fresh.stand, x.seq, s.Version))
	}
	var e job.Event
	if err == nil {
		e, err = s.event(r, h, job.Signed, b)
	}
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/jobs/"+x.stream+"/report")
}

// headBefore is the journal's head that a signature rests on; when the form is
// sent again, the one that was signed.
func (s *Server) headBefore(r *http.Request, x *work, h page.Hidden) (string, error) {
	events, err := s.Journal.Read(r.Context(), x.stream, x.seq+1)
	if err != nil {
		return "", err
	}
	for _, e := range events {
		var b job.SignedBody
		if e.ID == h.Event && json.Unmarshal(e.Body, &b) == nil {
			return b.Head, nil
		}
	}
	at, err := s.Journal.Head(r.Context())
	return at.Sum.String(), err
}
