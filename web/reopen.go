package web

import (
	"net/http"
	"slices"
	"strings"

	"chargewright/job"
	"chargewright/web/page"
)

// unsigned is opened for a page on which something is done: a signed job is
// reopened first. What arrives for one all the same, from a device that was
// away, is recorded as it ever was (decision 042).
func (s *Server) unsigned(w http.ResponseWriter, r *http.Request) (*work, bool) {
	x, ok := s.opened(w, r)
	if ok && x.job.Signed != nil {
		s.isSigned(w, r, x)
		return nil, false
	}
	return x, ok
}

// isSigned says that a job is signed, and asks whoever may reopen it why.
func (s *Server) isSigned(w http.ResponseWriter, r *http.Request, x *work) {
	s.showReopen(w, r, http.StatusConflict, x, job.ReopenedBody{}, nil)
}

func (s *Server) reopenPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.asItStands(w, r)
	if !ok {
		return
	}
	s.showReopen(w, r, http.StatusOK, x, job.ReopenedBody{}, nil)
}

func (s *Server) showReopen(w http.ResponseWriter, r *http.Request, code int, x *work, b job.ReopenedBody, problems page.Problems) {
	v := page.Reopen{Shell: s.jobShell(r, x, "Reopen the job", "report"), Hidden: s.hidden(x.seq), Why: b.Why, Complaint: b.Complaint, Mended: len(x.job.Repairs) > 0, Problems: problems}
	list, err := s.signatures(r, x)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if n := len(list); n > 0 && list[n-1].Stands {
		v.Signed = strings.Join(nonEmpty(list[n-1].When, list[n-1].ByWords()), ", ")
	}
	s.show(w, r, code, page.ReopenPage(v))
}

// notSaid is the answer of whoever does not know what the complaint does now. It
// stands in no event, as in those of before it was asked.
const notSaid = "not-said"

// reopen opens a signed job again.
func (s *Server) reopen(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	b := job.ReopenedBody{Why: strings.TrimSpace(r.FormValue("why")), Complaint: r.FormValue("complaint")}
	var problems page.Problems
	if long := tooLong(b.Why); long != "" {
		problems = append(problems, page.Problem{Field: "why", Text: long})
	}
	if b.Why == "" {
		problems = append(problems, page.Problem{Field: "why", Text: "Say why it is reopened, in a few words"})
	}
	if !slices.Contains(append([]string{notSaid}, job.ComplaintNow...), b.Complaint) {
		problems = append(problems, page.Problem{Field: "complaint", Text: "Say what the complaint does now; “not said” will do"})
	}
	if len(problems) > 0 {
		s.showReopen(w, r, http.StatusUnprocessableEntity, x, b, problems)
		return
	}
	said := b
	if b.Complaint == notSaid {
		said.Complaint = ""
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream, func(why string) {
		s.showReopen(w, r, http.StatusUnprocessableEntity, x, b, page.Problems{{Text: why}})
	}, told{job.Reopened, said})
}

// reopenedWhy is why a job was reopened last, since its last signature; "" when
// it was not.
func reopenedWhy(j *job.Job) string {
	why := ""
	for _, e := range j.Entries {
		switch b := e.Body.(type) {
		case job.SignedBody:
			why = ""
		case job.ReopenedBody:
			if !e.Back {
				why = strings.Join(nonEmpty(b.Why, b.Says()), "; ")
			}
		}
	}
	return why
}
