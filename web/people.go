package web

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/web/page"
)

// personChanged is the kind of event that says what was done to an account. It
// holds ids and no names.
const personChanged job.Kind = "person"

// audit writes what was done to an account into the journal, in the transaction
// that does it.
func (s *Server) audit(ctx context.Context, tx *sql.Tx, c account.Change) error {
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return s.Journal.Note(ctx, tx, journal.People, job.Event{ID: journal.NewID(s.Now()), Kind: personChanged, V: 1, Body: body, Person: c.By, Engine: s.Version})
}

const dayFormat = "2 January 2006"

// changed is how often the latest changes stand on the page of people.
const changesShown = 40

func (s *Server) peoplePage(w http.ResponseWriter, r *http.Request) {
	s.showPeople(w, r, http.StatusOK, page.People{})
}

func (s *Server) showPeople(w http.ResponseWriter, r *http.Request, code int, v page.People) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	people, err := s.Accounts.People(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	invited, err := s.Accounts.Invitations(r.Context())
	if err == nil {
		v.Changes, err = s.personChanges(r, people, invited)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v.Shell = s.shell(r, "People")
	for _, p := range people {
		v.List = append(v.List, s.personLine(p))
	}
	for _, i := range invited {
		v.Invited = append(v.Invited, page.PersonLine{ID: i.ID, Name: i.Name, Role: advice.Capital(string(i.Role)), State: "link good until " + i.Expires.Format("2 January, 15:04"), Again: i.Again})
	}
	v.Roles = roleChoices(v.Role)
	s.show(w, r, code, page.PeoplePage(v))
}

func roleChoices(on string) []page.Choice {
	var out []page.Choice
	for _, role := range account.Invited() {
		out = append(out, page.Choice{ID: string(role), Text: advice.Capital(string(role)), Note: role.Words(), On: string(role) == on})
	}
	return out
}

func (s *Server) personLine(p account.Person) page.PersonLine {
	l := page.PersonLine{ID: p.ID, Name: p.Name, Role: advice.Capital(string(p.Role)), To: "/people/" + p.ID, Since: "here since " + p.Joined.Format(dayFormat), State: "not signed in"}
	switch {
	case p.Withdrawn:
		l.State = "left: signs in no more"
	case p.Sessions > 0:
		l.State = "signed in on " + plural(p.Sessions, "device", "devices") + ", last used " + shortTime(p.Seen, s.Now())
	}
	return l
}

// personChanges are the latest changes of accounts in words, newest first.
func (s *Server) personChanges(r *http.Request, people []account.Person, invited []account.Invitation) ([]page.PersonChange, error) {
	events, err := s.Journal.Read(r.Context(), journal.People, 0)
	if err != nil {
		return nil, err
	}
	names := map[string]string{"": "The program, on its own machine"}
	for _, p := range people {
		names[p.ID] = p.Name
	}
	for _, i := range invited {
		names[i.ID] = i.Name
	}
	var out []page.PersonChange
	for _, e := range slices.Backward(events) {
		var c account.Change
		if err := json.Unmarshal(e.Body, &c); err != nil || e.Kind != personChanged || e.V != 1 {
			return nil, fmt.Errorf("event %d of the people is of a newer program: %s, version %d (%w)", e.Seq, e.Kind, e.V, err)
		}
		if len(out) == changesShown {
			break
		}
		whom := names[c.Account]
		if whom == "" {
			whom = "somebody who never came"
		}
		out = append(out, page.PersonChange{When: shortTime(e.Recorded, s.Now()), By: names[e.Person], What: changeWords(c, whom, e.Person == c.Account)})
	}
	return out, nil
}

// changeWords says what was done, as a sentence that begins with who did it.
func changeWords(c account.Change, whom string, self bool) string {
	switch c.What {
	case account.DidInvite:
		return "invited " + whom + " as " + string(c.Role)
	case account.DidUninvite:
		return "took back the link of " + whom
	case account.DidLink:
		return "gave " + whom + " a link for a new password"
	case account.DidJoin:
		return "came in as " + string(c.Role)
	case account.DidClaim:
		return "set a new password by link"
	case account.DidRole:
		return "made " + whom + " " + string(c.Role) + ", who was " + string(c.Was)
	case account.DidWithdraw:
		return "withdrew " + whom + ", who was " + string(c.Was)
	case account.DidPassword:
		return "changed the password"
	case account.DidSignedOut:
		return "signed out everywhere"
	case account.DidPasskey:
		return "added a passkey"
	case account.DidNoPasskey:
		if self {
			return "removed a passkey"
		}
		return "removed the passkeys of " + whom
	}
	if self {
		return string(c.What)
	}
	return string(c.What) + ": " + whom
}

// invite makes a link for somebody new.
func (s *Server) invite(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	name, role := r.FormValue("name"), account.Role(r.FormValue("role"))
	var problems page.Problems
	if strings.TrimSpace(name) == "" {
		problems = append(problems, page.Problem{Field: "name", Text: "Write what the person is called"})
	}
	if !slices.Contains(account.Invited(), role) {
		problems = append(problems, page.Problem{Field: "role", Text: "Choose what the person will do here"})
	}
	if len(problems) == 0 {
		token, expires, err := s.Accounts.Invite(r.Context(), who(r).ID, name, role)
		if err == nil {
			s.showLink(w, r, name, "It makes the account of a "+string(role)+".", token, expires)
			return
		}
		for _, l := range lines(err) {
			problems = append(problems, page.Problem{Field: "name", Text: l})
		}
	}
	s.showPeople(w, r, http.StatusUnprocessableEntity, page.People{Name: name, Role: string(role), Problems: problems})
}

// showLink shows a one-time link, once: it is stored nowhere.
func (s *Server) showLink(w http.ResponseWriter, r *http.Request, name, what, token string, expires time.Time) {
	s.show(w, r, http.StatusOK, page.LinkPage(page.OneTime{
		Shell: s.shell(r, "Link for "+name), Name: name, What: what, Link: s.base(r) + "/join/" + token, Until: expires.Format("Monday, 2 January, 15:04"),
	}))
}

// base is where whoever asks reaches the pages.
func (s *Server) base(r *http.Request) string {
	switch {
	case len(s.Origins) > 0:
		return strings.TrimSuffix(s.Origins[0], "/")
	case s.Secure || r.TLS != nil:
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// somebody is the person of an address.
func (s *Server) somebody(w http.ResponseWriter, r *http.Request) (account.Person, bool) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return account.Person{}, false
	}
	people, err := s.Accounts.People(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return account.Person{}, false
	}
	for _, p := range people {
		if p.ID == r.PathValue("person") {
			return p, true
		}
	}
	s.nobody(w, r)
	return account.Person{}, false
}

func (s *Server) nobody(w http.ResponseWriter, r *http.Request) {
	s.sorry(w, r, http.StatusNotFound, "There is nobody of that account", "The address names an account that this workshop does not have.")
}

func (s *Server) personPage(w http.ResponseWriter, r *http.Request) {
	if p, ok := s.somebody(w, r); ok {
		s.showPerson(w, r, http.StatusOK, p, "")
	}
}

func (s *Server) showPerson(w http.ResponseWriter, r *http.Request, code int, p account.Person, problem string) {
	s.show(w, r, code, page.PersonPage(page.Person{
		Shell: s.shell(r, p.Name), PersonLine: s.personLine(p), Owner: p.Role == account.Owner, Left: p.Withdrawn, Roles: roleChoices(string(p.Role)), Does: p.Role.Words(), Problem: problem,
		Passkeys: passkeyCount(p.Passkeys),
	}))
}

// changed answers what was done to somebody, or why it was not.
func (s *Server) changed(w http.ResponseWriter, r *http.Request, to string, err error) {
	switch {
	case errors.Is(err, account.ErrNobody):
		s.nobody(w, r)
	case errors.Is(err, account.ErrOwner):
		s.sorry(w, r, http.StatusUnprocessableEntity, "This cannot be done", advice.Sentence(err.Error()))
	case err != nil:
		s.broken(w, r, err)
	default:
		http.Redirect(w, r, to, http.StatusSeeOther)
	}
}

func (s *Server) setRole(w http.ResponseWriter, r *http.Request) {
	p, ok := s.somebody(w, r)
	if !ok {
		return
	}
	role := account.Role(r.FormValue("role"))
	if p.Role != account.Owner && !slices.Contains(account.Invited(), role) {
		s.showPerson(w, r, http.StatusUnprocessableEntity, p, "Choose what "+p.Name+" will do here")
		return
	}
	err := account.ErrOwner
	if p.Role != account.Owner {
		err = s.Accounts.SetRole(r.Context(), who(r).ID, p.ID, role)
	}
	s.changed(w, r, "/people/"+p.ID, err)
}

func (s *Server) withdraw(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	s.changed(w, r, "/people", s.Accounts.Withdraw(r.Context(), who(r).ID, r.PathValue("person")))
}

func (s *Server) uninvite(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	s.changed(w, r, "/people", s.Accounts.Uninvite(r.Context(), who(r).ID, r.PathValue("person")))
}

// newLink makes a link with which somebody sets a new password, or comes back.
func (s *Server) newLink(w http.ResponseWriter, r *http.Request) {
	p, ok := s.somebody(w, r)
	if !ok {
		return
	}
	token, expires, err := s.Accounts.NewLink(r.Context(), who(r).ID, p.ID)
	if err != nil {
		s.changed(w, r, "", err)
		return
	}
	what := "It sets a new password; when it is used every device of " + p.Name + " is signed out, and passkeys are removed."
	if p.Withdrawn {
		what = "It lets " + p.Name + " come back as " + string(p.Role) + ", with a new password."
	}
	s.showLink(w, r, p.Name, what, token, expires)
}
