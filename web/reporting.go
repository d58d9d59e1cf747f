package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/account"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/report"
	"chargewright/web/page"
)

// sheetOf is the report of a job: what was signed where it is signed, else as
// the job stands now.
func (s *Server) sheetOf(r *http.Request, x *work) (page.Sheet, error) {
	v, err := s.emptySheet(r, x)
	if err != nil {
		return v, err
	}
	v.Report = report.Of(x.job, x.stand, x.seq, s.Version)
	v.PDF, v.Proved = v.Job+"/report.pdf", x.job.Proved != nil
	if n := len(x.job.Repairs); n > 0 {
		v.Gone = x.job.Repairs[n-1].Cured
	}
	last := len(v.Signatures) - 1
	if x.job.Signed == nil {
		at, err := s.Journal.Head(r.Context())
		if err != nil {
			return v, err
		}
		v.Cover.Head = at.Sum.String()
		if last >= 0 {
			v.Earlier = "It was signed before, " + v.Signatures[last].When + ", as event " + strconv.Itoa(v.Signatures[last].Event) + " of the journal, and went on since. " +
				"That signature covers what stood then and stays in the journal; this sheet wants its own."
		}
		return v, nil
	}
	now := v.Report
	if err := s.signedAs(&v, x, v.Signatures[last].Event); err != nil {
		return v, err
	}
	if !slices.Equal(v.Report.Wrong, now.Wrong) {
		v.Newer = &now
	}
	return v, nil
}

// emptySheet is a sheet without its data: for whom it is, and the job's
// signatures.
func (s *Server) emptySheet(r *http.Request, x *work) (page.Sheet, error) {
	v := page.Sheet{Shell: s.jobShell(r, x, "Report", "report"), Hidden: s.hidden(x.seq), Cover: report.Cover{Workshop: s.Workshop, Date: s.Now()}}
	v.Date = v.Cover.Date.Format("2 January 2006")
	if x.job.Customer != "" {
		c, err := s.Journal.Customer(r.Context(), x.job.Customer)
		if err != nil && !errors.Is(err, journal.ErrUnknown) {
			return v, err
		}
		v.Cover.Customer, v.Cover.Plate = c.Name, c.Plate
	}
	var err error
	v.Signatures, err = s.signatures(r, x)
	return v, err
}

// signatures are all that a job had, the first one first: each covers what stood
// then, and its sheet stays.
func (s *Server) signatures(r *http.Request, x *work) ([]page.Signature, error) {
	var out []page.Signature
	for _, e := range x.job.Entries {
		b, ok := e.Body.(job.SignedBody)
		if !ok {
			continue
		}
		by, err := s.personName(r, e.Person)
		if err != nil {
			return nil, err
		}
		to := "/jobs/" + x.stream + "/signed/" + strconv.Itoa(e.Seq)
		out = append(out, page.Signature{
			Event: e.Seq, When: e.Recorded.In(s.Now().Location()).Format("2 January 2006, 15:04"), By: by, Gone: goneWords[b.Gone], Note: b.Note,
			Head: b.Head, Sheet: journal.Sum(sha256.Sum256(b.Report)).String(), To: to, PDF: to + "/report.pdf",
		})
	}
	if n := len(out); n > 0 {
		out[n-1].Stands = x.job.Signed != nil
	}
	return out, nil
}

var goneWords = map[string]string{"yes": "the complaint is gone", "no": "the complaint is still there", "unknown": "not known yet whether the complaint is gone"}

// signedAs puts what was signed at an event on a sheet.
func (s *Server) signedAs(v *page.Sheet, x *work, event int) error {
	for _, e := range x.job.Entries {
		b, ok := e.Body.(job.SignedBody)
		if !ok || e.Seq != event {
			continue
		}
		var err error
		if v.Report, err = report.Parse(b.Report); err != nil {
			return err
		}
		v.Signed, v.Cover.Head, v.Cover.Note, v.Cover.Date = true, b.Head, b.Note, e.Recorded.In(s.Now().Location())
		v.Date = v.Cover.Date.Format("2 January 2006")
		for _, g := range v.Signatures {
			if g.Event == event {
				v.Cover.Signed, v.PDF = strings.Join(nonEmpty(g.When, g.ByWords()), ", "), g.PDF
			}
		}
		return nil
	}
	return errNoSheet
}

// errNoSheet is the answer to a signed sheet that is not there.
var errNoSheet = errors.New("this job was not signed at that event")

// personName is how whoever did something is called now; "" when nobody was
// signed in.
func (s *Server) personName(r *http.Request, id string) (string, error) {
	if id == "" || s.Accounts == nil {
		return id, nil
	}
	name, err := s.Accounts.Name(r.Context(), id)
	if errors.Is(err, account.ErrWrong) {
		return "account " + id, nil
	}
	return name, err
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
	s.sendPDF(w, r, x, v, "report", err)
}

// signedSheet is a sheet as it was signed, whatever came since: advice is not
// asked, so that it is shown even where this program would refuse the vehicle.
func (s *Server) signedSheet(r *http.Request) (*work, page.Sheet, error) {
	x, err := s.open(r.Context(), r.PathValue("job"))
	if err != nil {
		return nil, page.Sheet{}, err
	}
	v, err := s.emptySheet(r, x)
	if err != nil {
		return x, v, err
	}
	event, err := strconv.Atoi(r.PathValue("event"))
	if err != nil {
		return x, v, errNoSheet
	}
	v.Past = true
	return x, v, s.signedAs(&v, x, event)
}

func (s *Server) signedPage(w http.ResponseWriter, r *http.Request) {
	_, v, err := s.signedSheet(r)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, page.ReportPage(v))
}

func (s *Server) signedPDF(w http.ResponseWriter, r *http.Request) {
	x, v, err := s.signedSheet(r)
	s.sendPDF(w, r, x, v, "signed-"+r.PathValue("event"), err)
}

func (s *Server) sendPDF(w http.ResponseWriter, r *http.Request, x *work, v page.Sheet, kind string, err error) {
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
	h.Set("Content-Disposition", `inline; filename="`+fileName(kind, x.job.ID)+`"`)
	h.Set("Content-Length", strconv.Itoa(b.Len()))
	_, _ = w.Write(b.Bytes()) // whoever has gone away needs no answer
}

// fileName is a job's id as the name of a file.
func fileName(kind, id string) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, id)
	return kind + "-" + clean + ".pdf"
}

// sign closes a job: what the sheet says goes into the journal with it.
func (s *Server) sign(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	gone, note := r.FormValue("gone"), strings.TrimSpace(r.FormValue("note"))
	var problems page.Problems
	if !slices.Contains([]string{"yes", "no", "unknown"}, gone) {
		problems = append(problems, page.Problem{Field: "gone", Text: "Say whether the complaint is gone; “not known yet” will do"})
	}
	if long := tooLong(note); long != "" {
		problems = append(problems, page.Problem{Field: "note", Text: long})
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
	// What is signed is worked out from the beginning, so that it does not hang on
	// the way that led here.
	fresh, err := s.made(r.Context(), x.events, nil)
	b := job.SignedBody{Gone: gone, Note: note}
	if err == nil {
		b.Head, err = s.headBefore(r, x, h)
	}
	if err == nil {
		b.Report, err = json.Marshal(report.Of(x.job, fresh.stand, x.seq, s.Version))
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream+"/report", s.cannot(w, r), told{job.Signed, b})
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
