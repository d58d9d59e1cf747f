package web

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/account"
	"chargewright/advice"
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
	k, err := s.caseOf(r.Context(), x)
	if err != nil {
		return v, err
	}
	v.Proved = x.job.Proved != nil
	if n := len(x.job.Repairs); n > 0 {
		v.Gone = x.job.Repairs[n-1].Counts
	}
	last := len(v.Signatures) - 1
	if x.job.Signed == nil {
		if v.Report, err = report.Customer(r.Context(), k); err == nil {
			v.Cover, err = k.Front(v.Cover)
		}
		if err != nil {
			return v, err
		}
		v.Date = v.Cover.Date.Format("2 January 2006")
		if last >= 0 {
			v.Earlier = "It was signed before, " + v.Signatures[last].When + ", as event " + strconv.Itoa(v.Signatures[last].Event) + " of the journal, and went on since. " +
				"That signature covers what stood then and stays in the journal; this sheet wants its own."
			if why := reopenedWhy(x.job); why != "" {
				v.Earlier += " It was reopened: " + advice.Sentence(why)
			}
		}
		v.Papers, err = papersOf(v.Shell, sheetPaper, v.Report)
		return v, err
	}
	now := report.Of(x.job, x.stand, x.seq, s.Version)
	if err := s.signedAs(&v, x, v.Signatures[last].Event); err != nil {
		return v, err
	}
	if !slices.Equal(v.Report.Wrong, now.Wrong) {
		v.Newer = &now
	}
	v.Papers, err = papersOf(v.Shell, sheetPaper, v.Report)
	return v, err
}

// emptySheet is a sheet without its data: for whom it is, and the job's
// signatures.
func (s *Server) emptySheet(r *http.Request, x *work) (page.Sheet, error) {
	v := page.Sheet{Shell: s.jobShell(r, x, "Report", "report"), Hidden: s.hidden(x.seq)}
	var err error
	if v.Cover, err = s.coverOf(r, x); err != nil {
		return v, err
	}
	v.Signatures, err = s.signatures(r, x)
	return v, err
}

// coverOf is what stands on any paper of a job beside its data, but for its date
// and its signature.
func (s *Server) coverOf(r *http.Request, x *work) (report.Cover, error) {
	c := report.Cover{Workshop: s.Workshop, Paper: sizeOf(r), Zone: s.Now().Location(), People: map[string]string{}}
	for _, e := range x.events {
		if e.Person == "" || c.People[e.Person] != "" {
			continue
		}
		name, err := s.personName(r, e.Person)
		if err != nil {
			return c, err
		}
		c.People[e.Person] = name
	}
	if x.job.Customer == "" {
		return c, nil
	}
	whose, err := s.Journal.Customer(r.Context(), x.job.Customer)
	if errors.Is(err, journal.ErrUnknown) {
		return c, nil
	}
	c.Customer, c.Plate = whose.Name, whose.Plate
	return c, err
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
				v.Cover.Signed = strings.Join(nonEmpty(g.When, g.ByWords()), ", ")
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
	if err := s.signedAs(&v, x, event); err != nil {
		return x, v, err
	}
	v.Papers, err = papersOf(v.Shell, sheetPaper, v.Report)
	to := v.Job + "/signed/" + strconv.Itoa(event) + "/report"
	v.Papers.Files = []page.Link{{Text: "PDF, A4", To: to + ".pdf?paper=a4"}, {Text: "PDF, Letter", To: to + ".pdf?paper=letter"}}
	return x, v, err
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
	var b bytes.Buffer
	if err == nil {
		err = report.PDF(&b, v.Report, v.Cover)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	send(w, fileName("signed-"+r.PathValue("event"), x.job.ID, "pdf"), "pdf", b.Bytes())
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
	k, err := s.caseOf(r.Context(), x)
	k.Standing = nil
	b := job.SignedBody{Gone: gone, Note: note}
	if err == nil {
		b.Head, err = s.headBefore(r, x, h)
	}
	if err == nil {
		b.Report, err = sheetBytes(r.Context(), k)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream+"/report", s.cannot(w, r), told{job.Signed, b})
}

// sheetBytes is the sheet that a signature keeps.
func sheetBytes(ctx context.Context, k report.Case) (json.RawMessage, error) {
	v, err := report.Customer(ctx, k)
	if err != nil {
		return nil, err
	}
	return json.Marshal(v)
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
