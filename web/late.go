package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"maps"
	"net/http"
	"strings"
	"sync"
	"time"

	"chargewright/journal"
	"chargewright/web/page"
)

// A page that takes longer than Config.Patience is answered with one that says
// so and asks again at once; the work goes on behind it. What asks again is held
// for a while, so that the page changes little while it is worked on, and comes
// as soon as it is there. It needs no script: the page says "refresh" itself.
const (
	heldFor  = 5 * time.Second // an answer that is asked for again
	keptFor  = 2 * time.Minute // an answer that nobody has fetched yet
	mostLate = 64              // at once; more are answered when they are ready
)

// lates are the answers that are being worked on, by what asks for them again.
type lates struct {
	mu sync.Mutex
	by map[string]*late
}

// late is an answer in the making.
type late struct {
	done   chan struct{}
	answer *keptAnswer // set when done is closed
}

// begin finds what is being worked on under a key, or makes room for it; mine
// says that the caller has to begin it. Nil: there is no room.
func (l *lates) begin(key string) (x *late, mine bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if x := l.by[key]; x != nil {
		return x, false
	}
	if len(l.by) >= mostLate {
		return nil, false
	}
	x = &late{done: make(chan struct{})}
	l.by[key] = x
	return x, true
}

func (l *lates) find(key string) *late {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.by[key]
}

// fetch takes an answer away, so that it is shown once: its forms carry ids, and
// two pages with the same would be taken for one form sent twice. It says
// whether the answer was there still.
func (l *lates) fetch(key string, x *late) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	there := l.by[key] == x
	if there {
		delete(l.by, key)
	}
	return there
}

// keptAnswer is an answer that is written down before it is sent.
type keptAnswer struct {
	code   int
	header http.Header
	body   bytes.Buffer
}

func (k *keptAnswer) Header() http.Header { return k.header }

func (k *keptAnswer) WriteHeader(code int) {
	if k.code == 0 {
		k.code = code
	}
}

func (k *keptAnswer) Write(b []byte) (int, error) {
	k.WriteHeader(http.StatusOK)
	return k.body.Write(b)
}

func (k *keptAnswer) send(w http.ResponseWriter) {
	maps.Copy(w.Header(), k.header)
	k.WriteHeader(http.StatusOK) // when nothing was written
	w.WriteHeader(k.code)
	_, _ = w.Write(k.body.Bytes()) // whoever has gone away needs no answer
}

// patient lets a page that takes long say so. Parts that the script asks for
// show by themselves that they are worked on.
func (s *Server) patient(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		form := r.Method == http.MethodPost
		if s.Patience <= 0 || r.Header.Get("HX-Request") != "" || form && r.Header.Get("Content-Type") != "application/x-www-form-urlencoded" || s.live.Err() != nil {
			next.ServeHTTP(w, r)
			return
		}
		if err := r.ParseForm(); err != nil { // the body is gone once a first answer has begun
			s.tooMuch(w, r)
			return
		}
		key, to, ticket := lateKey(r), local(r.URL.RequestURI()), ""
		if form {
			ticket = rand.Text()
			to = "/later/" + ticket
			key = laterKey(r, to)
		}
		x, mine := s.lates.begin(key)
		if x == nil {
			next.ServeHTTP(w, r)
			return
		}
		wait := heldFor
		if mine {
			wait = s.Patience
			s.behind.Go(func() { s.workOn(x, key, next, r) })
		}
		if !awaited(r, x, wait) {
			if !form || s.keepAsked(r, ticket) {
				s.notYet(w, r, to)
				return
			}
			<-x.done // no other server could answer it: so it is answered here
		}
		if !s.lates.fetch(key, x) { // another page of this device was faster: this one is made for itself
			next.ServeHTTP(w, r)
			return
		}
		x.answer.send(w)
	})
}

// workOn makes an answer, whether or not whoever asked is still there: what a
// form says is recorded all the same.
func (s *Server) workOn(x *late, key string, next http.Handler, r *http.Request) {
	x.answer = s.answered(next, r)
	close(x.done)
	time.AfterFunc(keptFor, func() { s.lates.fetch(key, x) })
}

// answered is an answer as it is written down.
func (s *Server) answered(next http.Handler, r *http.Request) (k *keptAnswer) {
	k = &keptAnswer{header: http.Header{}}
	defer func() {
		if why := recover(); why != nil { // ErrAbortHandler, which caught lets through
			k = &keptAnswer{header: http.Header{}, code: http.StatusInternalServerError}
		}
	}()
	s.caught(next).ServeHTTP(k, r.WithContext(context.WithoutCancel(r.Context())))
	return k
}

// awaited waits for an answer; it says whether it is there. Whoever has gone away
// gets none.
func awaited(r *http.Request, x *late, wait time.Duration) bool {
	end := time.NewTimer(wait)
	defer end.Stop()
	select {
	case <-x.done:
		return true
	case <-end.C:
	case <-r.Context().Done():
	}
	return false
}

// notYet says that a page is being worked on, and asks for it again.
func (s *Server) notYet(w http.ResponseWriter, r *http.Request, to string) {
	sh := s.shell(r, "Working it out")
	sh.Again = to
	said := "The first time this takes some seconds, because every test is worked out under every cause. The page comes by itself."
	if r.Method == http.MethodPost || strings.HasPrefix(to, "/later/") {
		said = "What you sent has arrived and is being worked on: do not send it again. The page comes by itself."
	}
	s.show(w, r, http.StatusAccepted, page.NotYet(sh, said))
}

// keepAsked keeps a form for whichever server is asked for its answer. It says
// whether it could.
func (s *Server) keepAsked(r *http.Request, ticket string) bool {
	form := maps.Clone(r.PostForm)
	form.Set(heldDevice, deviceOf(r))
	a := journal.Asked{Ticket: ticket, Person: who(r).ID, Target: r.URL.RequestURI(), Form: form.Encode()}
	err := s.Journal.KeepAsked(context.WithoutCancel(r.Context()), a, s.doneOverLater(ticket))
	if err != nil {
		s.Log.Error("a form that takes long could not be kept", "path", logPath(r), "why", err)
	}
	return err == nil
}

// doneOverLater adds the task of a form that arrives, in the transaction that keeps it.
func (s *Server) doneOverLater(ticket string) func(context.Context, *sql.Tx) error {
	return func(ctx context.Context, tx *sql.Tx) error { return s.Tasks.Add(ctx, tx, overdue(ticket, s.Now())) }
}

// takeUp begins to answer a form that another server was sent, or this program
// before it was started anew. Doing it twice does no harm: its event has an id.
// False: there is no such form of this person. Nil: there is no room for it now.
func (s *Server) takeUp(r *http.Request) (*late, bool) {
	a, err := s.Journal.Asked(r.Context(), r.PathValue("ticket"))
	if err != nil || a.Person != who(r).ID {
		if err != nil && !errors.Is(err, journal.ErrUnknown) {
			s.Log.Error("a form that takes long could not be read", "why", err)
		}
		return nil, false
	}
	again, err := http.NewRequestWithContext(r.Context(), http.MethodPost, a.Target, strings.NewReader(a.Form))
	if err != nil {
		return nil, false
	}
	again.Header = r.Header.Clone()
	again.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	key := laterKey(r, r.URL.Path)
	x, mine := s.lates.begin(key)
	if mine {
		s.behind.Go(func() { s.workOn(x, key, s.forms, again) })
	}
	return x, true
}

// later answers a form that took long, whichever server it was sent to. Its
// answer may be loaded again for a while: nobody else knows the address.
func (s *Server) later(w http.ResponseWriter, r *http.Request) {
	x := s.lates.find(laterKey(r, r.URL.Path))
	known := x != nil
	if !known {
		x, known = s.takeUp(r)
	}
	if x == nil {
		x = &late{} // nothing is done on it: it is asked for again after a while
	}
	switch {
	case !known:
		s.sorry(w, r, http.StatusNotFound, "There is nothing more to show here", "What was sent was answered a while ago. The log of the job says what was recorded.")
	case awaited(r, x, heldFor):
		x.answer.send(w)
		if err := s.Journal.Done(context.WithoutCancel(r.Context()), r.PathValue("ticket"), nil); err != nil { // its sender knows
			s.Log.Error("a form that was answered is not marked so", "why", err)
		}
	default:
		s.notYet(w, r, r.URL.Path)
	}
}

// lateKey is what asks for the same page again: the address, for whom and in
// which view.
func lateKey(r *http.Request) string {
	return strings.Join([]string{who(r).ID, cookie(r, themeCookie), cookie(r, keysCookie), r.URL.RequestURI()}, "\n")
}

func laterKey(r *http.Request, to string) string { return who(r).ID + "\n" + to }
