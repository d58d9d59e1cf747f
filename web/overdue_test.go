package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"chargewright/account"
	"chargewright/job"
	"chargewright/journal"
)

// afterwards is another server on a workshop, two minutes later by its clock.
func afterwards(t *testing.T, s *shop) *shop {
	t.Helper()
	c := s.Config
	c.Now = func() time.Time { return time.Now().Add(2 * time.Minute) }
	book, err := journal.Open(t.Context(), s.db, c.Now)
	if err != nil {
		t.Fatal(err)
	}
	c.Journal, c.AtOnce = book, 0
	again, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(again.Close)
	out := &shop{Server: again, book: book, accounts: s.accounts, db: s.db}
	out.readyFrom(t, s)
	return out
}

// died keeps a form as a server keeps it that says that it has arrived, and dies
// before it has done anything more.
func (s *shop) died(t *testing.T, person, target string, form url.Values) (ticket string) {
	t.Helper()
	ticket = "T" + form.Get("event") + strings.NewReplacer("/", "-", "?", "-").Replace(target)
	if err := s.book.KeepAsked(t.Context(), journal.Asked{Ticket: ticket, Person: person, Target: target, Form: form.Encode()}, s.doneOverLater(ticket)); err != nil {
		t.Fatal(err)
	}
	return ticket
}

// overdue does the tasks of forms that nobody has done and that are due by this server's
// clock.
func (s *shop) overdue(t *testing.T) {
	t.Helper()
	list, err := s.book.Undone(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range list {
		if overdue(a.Ticket, a.At).Due.After(s.Now()) {
			continue
		}
		if err := s.doForm(t.Context(), a.Ticket); err != nil {
			t.Fatal(err)
		}
	}
}

// TestDoneOver: a form that has arrived is recorded, once, by whichever server is
// left, also when its page was closed; one that cannot be recorded stands on the
// page of its job until somebody has read it, unless its sender was told.
func TestDoneOver(t *testing.T) {
	s := theShop(t)
	one, two := afterwards(t, s), afterwards(t, s)
	at := s.newJob(t)
	fix := s.get(t, at+"/repair?mend=clean-clamps").form(t, "", "repair", "clean-clamps", "what", "both clamps cleaned", "cured", "unknown")
	s.died(t, "", at+"/repair", fix)
	s.overdue(t)
	if n := len(s.events(t, at)); n != 1 {
		t.Errorf("%d events: it was done over at once", n)
	}
	one.overdue(t)
	two.overdue(t)
	s.died(t, "", at+"/repair?again", fix) // a second tap
	one.overdue(t)
	if events := s.events(t, at); len(events) != 2 || events[1].ID != fix.Get("event") {
		t.Fatalf("%d events, want the opening and the repair", len(events))
	}
	one.get(t, at).want(t, 200)
	if strings.Contains(one.get(t, at).body, "Not recorded") {
		t.Error("what was recorded is told of")
	}

	// Somebody was faster: told on the job, with what it held.
	late := s.get(t, at+"/repair?mend=clean-clamps").form(t, "", "repair", "clean-clamps", "what", "lug pressed on", "cured", "unknown")
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	s.died(t, "", at+"/repair", late)
	s.died(t, "", at+"/preview", late)
	s.died(t, "", "/systems/check", url.Values{"event": {"e-none-of-them"}})
	one.overdue(t)
	two.overdue(t)
	if n := len(s.events(t, at)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
	told := two.get(t, at).want(t, 200, "Not recorded: A repair", "something else had been entered", "It held: lug pressed on", "Read: put it away")
	clean(t, told.body)
	if n := strings.Count(told.body, "Not recorded"); n != 1 {
		t.Errorf("it is told %d times", n)
	}
	_, away, _ := strings.Cut(told.body, `action="`+at+`/unrecorded/`)
	away, _, _ = strings.Cut(away, `"`)
	two.ask(t, http.MethodPost, at+"/unrecorded/"+away, url.Values{}).want(t, 303)
	if strings.Contains(one.get(t, at).body, "Not recorded") {
		t.Error("it was read and is told still")
	}

	// Its sender was shown what was wrong: nobody else is told.
	wrong := s.get(t, at+"/repair").form(t, at+"/repair", "what", "pin A was green")
	ticket := s.died(t, "", at+"/repair", wrong)
	s.follow(t, s.ask(t, http.MethodGet, "/later/"+url.PathEscape(ticket), nil))
	one.overdue(t)
	if strings.Contains(one.get(t, at).body, "Not recorded") {
		t.Error("it is told though its sender was")
	}
}

// TestDoneOverAs: a form is done over as its sender, with what he may do now.
func TestDoneOverAs(t *testing.T) {
	s, _ := signedShop(t)
	as := with(session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)))
	owner, err := s.accounts.People(t.Context())
	if err != nil || len(owner) != 1 {
		t.Fatal(owner, err)
	}
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, as).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, as).want(t, 303).Get("Location")
	one := afterwards(t, s)
	for person, want := range map[string]string{owner[0].ID: "", "acc-none": "whoever sent it has no account here any more"} {
		fix := s.ask(t, http.MethodGet, at+"/repair?mend=clean-clamps", nil, as).form(t, "", "repair", "clean-clamps", "what", "cleaned", "cured", "unknown")
		before := len(s.events(t, at))
		s.died(t, person, at+"/repair", fix)
		one.overdue(t)
		events := s.events(t, at)
		if want == "" && (len(events) != before+1 || events[before].Person != person) || want != "" && len(events) != before {
			t.Errorf("%q: %d events after %d, the last by %q", person, len(events), before, events[len(events)-1].Person)
		}
		page := s.ask(t, http.MethodGet, at, nil, as).want(t, 200)
		if want != "" {
			page.want(t, 200, want)
		}
	}
}

// hired is somebody new in the workshop: who, and signed in.
func (s *shop) hired(t *testing.T, name string, role account.Role) (person string, as func(*http.Request)) {
	t.Helper()
	token, _, err := s.accounts.Invite(t.Context(), "", name, role)
	if err != nil {
		t.Fatal(err)
	}
	a, err := s.accounts.Claim(t.Context(), token, name, "a lamp on the bench")
	if err != nil {
		t.Fatal(err)
	}
	f := url.Values{"name": {name}, "password": {"a lamp on the bench"}}
	return a.ID, with(session(s.ask(t, http.MethodPost, "/sign-in", f).want(t, 303)))
}

// TestRightsThatAreGone: a form whose sender lost the role, or was withdrawn, before it
// was recorded is not done over, stands on its job and on the list with who sent it,
// when and what, and is entered by whoever may, in his own name and once. Whoever may
// not is shown it without the way to enter it.
func TestRightsThatAreGone(t *testing.T) {
	s, _ := signedShop(t)
	owner := with(session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)))
	_, apprentice := s.hired(t, "Bo", account.Apprentice)
	for name, lose := range map[string]func(person string) error{
		"Ines": func(person string) error { return s.accounts.SetRole(t.Context(), "", person, account.Apprentice) },
		"Juno": func(person string) error { return s.accounts.Withdraw(t.Context(), "", person) },
	} {
		t.Run(name, func(t *testing.T) {
			person, as := s.hired(t, name, account.Technician)
			f := s.ask(t, http.MethodGet, "/jobs/new", nil, owner).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm", "job", "no-"+name)
			at := s.ask(t, http.MethodPost, "/jobs", f, owner).want(t, 303).Get("Location")
			fix := s.ask(t, http.MethodGet, at+"/repair?mend=clean-clamps", nil, as).want(t, 200).form(t, "", "repair", "clean-clamps", "what", "both clamps cleaned", "cured", "yes")
			s.died(t, person, at+"/repair", fix)
			if err := lose(person); err != nil {
				t.Fatal(err)
			}
			later := afterwards(t, s)
			later.overdue(t)
			later.overdue(t)
			if n := len(s.events(t, at)); n != 1 {
				t.Fatalf("%d events: it was recorded with rights that are gone", n)
			}
			later.ask(t, http.MethodGet, "/", nil, owner).want(t, 200, "Not recorded:", "no-"+name)
			told := later.ask(t, http.MethodGet, at, nil, owner).want(t, 200, "Not recorded: A repair", "by "+name, "It held: both clamps cleaned")
			clean(t, told.body)
			if seen := later.ask(t, http.MethodGet, at, nil, apprentice).want(t, 200, "both clamps cleaned").body; strings.Contains(seen, "Enter it as it was sent") {
				t.Error("whoever may not record repairs is offered to")
			}
			enter := told.form(t, at+"/repair")
			later.ask(t, http.MethodPost, at+"/repair", enter, apprentice).want(t, 403)
			for range 2 { // a second tap
				later.ask(t, http.MethodPost, at+"/repair", enter, owner).want(t, 303)
			}
			events := s.events(t, at)
			var b job.RepairBody
			if len(events) != 2 || events[1].Kind != job.Repaired || events[1].Person == person || events[1].ID == fix.Get("event") {
				t.Fatalf("%d events, the last %+v", len(events), events[len(events)-1])
			}
			if err := json.Unmarshal(events[1].Body, &b); err != nil || b.Repair != "clean-clamps" || b.What != "both clamps cleaned" || b.Cured != "yes" {
				t.Errorf("recorded is %s (%v)", events[1].Body, err)
			}
			for _, page := range []string{at, "/"} {
				if strings.Contains(later.ask(t, http.MethodGet, page, nil, owner).want(t, 200).body, "Not recorded") {
					t.Errorf("%s: it was entered and is told still", page)
				}
			}
		})
	}
}
