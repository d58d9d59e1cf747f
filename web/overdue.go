package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"

	"chargewright/account"
	"chargewright/journal"
	"chargewright/web/page"
)

// A form that a server said had arrived is recorded though that server has died and
// its page was closed: whoever takes its task a minute later does it over (decisions 029,
// 041). What then cannot be recorded stands on the page of its job.

// giveUpAfter is how long a form is tried that a server cannot answer.
const giveUpAfter = time.Hour

// doForm is the task of a form that has arrived. It may have been done. Its event's id keeps
// it from being recorded twice, the event that its page knew from standing on top of
// something that its sender had not seen.
func (s *Server) doForm(ctx context.Context, ticket string) error {
	a, undone, err := s.Journal.Arrived(ctx, ticket)
	if err != nil || !undone {
		return err
	}
	form, err := url.ParseQuery(a.Form)
	to, wrong := url.Parse(a.Target)
	if err != nil || wrong != nil || form.Get("event") == "" || !strings.HasPrefix(to.Path, "/jobs/") || path.Base(to.Path) == "preview" {
		return s.Journal.Done(ctx, a.Ticket, nil) // it records nothing on a job
	}
	if has, err := s.Journal.Has(ctx, form.Get("event")); has || err != nil {
		if err == nil {
			err = s.Journal.Done(ctx, a.Ticket, nil)
		}
		return err
	}
	code, err := s.once(ctx, a, form.Get(heldDevice))
	if err != nil {
		return err
	}
	if code >= 500 && s.Now().Sub(a.At) < giveUpAfter {
		return fmt.Errorf("the form was answered %d; it is tried for %v", code, giveUpAfter)
	}
	has, err := s.Journal.Has(ctx, form.Get("event"))
	if err != nil {
		return err
	}
	s.Log.Info("a form was done over that nobody had done", "path", logPath(&http.Request{URL: to}), "answer", code, "recorded", has)
	if has {
		return s.Journal.Done(ctx, a.Ticket, nil)
	}
	stream, _, _ := strings.Cut(strings.TrimPrefix(to.Path, "/jobs/"), "/")
	return s.Journal.Done(ctx, a.Ticket, &journal.Unrecorded{Asked: a, Stream: stream, Why: whyNot(code)})
}

// once answers a form in the name of who sent it, with what he may do now, and of the
// device that it came from.
func (s *Server) once(ctx context.Context, a journal.Asked, device string) (code int, err error) {
	if s.Accounts != nil {
		who, err := s.Accounts.Account(ctx, a.Person)
		switch {
		case errors.Is(err, account.ErrWrong) || err == nil && who.Withdrawn:
			return http.StatusUnauthorized, nil
		case err != nil:
			return 0, err
		}
		ctx = context.WithValue(ctx, whoKey{}, who)
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, a.Target, strings.NewReader(a.Form))
	if err != nil {
		return http.StatusBadRequest, nil //nolint:nilerr // no server can do it: that is the answer
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.AddCookie(&http.Cookie{Name: hereCookie, Value: url.QueryEscape(device)})
	return s.answered(s.forms, r).code, nil
}

// whyNot says why a form was not recorded.
func whyNot(code int) string {
	switch {
	case code == http.StatusConflict:
		return "something else had been entered on this job first, or it had been taken back"
	case code == http.StatusForbidden:
		return "whoever sent it may not do that any more"
	case code == http.StatusUnauthorized:
		return "whoever sent it has no account here any more"
	case code >= 500:
		return "no server could answer it; the servers' logs say why"
	}
	return "something was missing in it, or it did not fit the job"
}

// formNames say what a form was, by the last part of where it was sent.
var formNames = map[string]string{
	"hook-up": "Hook-up lines", "stands": "How it stands", "readings": "A reading", "correct": "A correction", "could-not": "A test that could not be taken", "undo": "Taking back the last entry",
	"wait": "That the job waits", "repair": "A repair", "proof": "A proof", "sign": "A signature", "reopen": "A reopening", "identified": "What is fitted",
}

// unrecorded are the forms of a job that could not be recorded, as its page tells
// of them. Whoever may do what one says can enter it, in his own name.
func (s *Server) unrecorded(r *http.Request, x *work) []page.Unrecorded {
	list, err := s.Journal.Unrecorded(r.Context(), x.stream)
	if err != nil {
		s.Log.Error("forms that could not be recorded could not be read", "why", err)
	}
	var out []page.Unrecorded
	for _, u := range list {
		to, _ := url.Parse(u.Target)        // it was one when it was done over
		form, _ := url.ParseQuery(u.Form)   // the same
		who, _ := s.personName(r, u.Person) // the id, when his name cannot be read
		p := page.Unrecorded{
			What: formNames[path.Base(to.Path)], When: shortTime(u.At, s.Now()), Why: u.Why, Held: typed(form), Away: "/jobs/" + x.stream + "/unrecorded/" + u.Ticket,
			Hidden: s.hidden(x.seq), Ticket: u.Ticket, Reading: nextReading(x), Fields: fields(form),
		}
		if who != "" {
			p.Who = " by " + who
		}
		if !looksFirst(to.Path) && s.mayPost(r, to) {
			p.Again = u.Target
		}
		out = append(out, p)
	}
	return out
}

// mayPost says whether whoever asks may send a form somewhere.
func (s *Server) mayPost(r *http.Request, to *url.URL) bool {
	_, pattern := s.forms.Handler(&http.Request{Method: http.MethodPost, URL: to, Host: r.Host})
	for _, x := range s.routes {
		if x.pattern == pattern {
			return s.may(r, x.needs)
		}
	}
	return false
}

// wasEntered puts away what could not be recorded before and was entered now.
func (s *Server) wasEntered(r *http.Request, stream string) {
	if ticket := r.PostFormValue("unrecorded"); ticket != "" {
		if err := s.Journal.PutAway(r.Context(), stream, ticket); err != nil {
			s.Log.Error("a form that was entered stands as not recorded still", "why", err)
		}
	}
}

// leftOver are the jobs that something was sent for which could not be recorded.
func (s *Server) leftOver(r *http.Request) (out []page.Link) {
	jobs, err := s.Journal.UnrecordedJobs(r.Context())
	if err != nil {
		s.Log.Error("forms that could not be recorded could not be read", "why", err)
	}
	for _, stream := range jobs {
		l, err := s.Journal.Line(r.Context(), stream)
		if err != nil {
			continue // no such job: nothing leads to it
		}
		out = append(out, page.Link{Text: strings.Join(nonEmpty("job", l.Job, l.Note), " "), To: "/jobs/" + stream})
	}
	return out
}

// putAway takes off the page of a job what could not be recorded: somebody has read
// it.
func (s *Server) putAway(w http.ResponseWriter, r *http.Request) {
	if err := s.Journal.PutAway(r.Context(), r.PathValue("job"), r.PathValue("ticket")); err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/jobs/"+r.PathValue("job"), http.StatusSeeOther)
}
