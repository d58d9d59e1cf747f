package web

import (
	"errors"
	"net/http"
	"time"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/web/page"
)

// accountPage is what somebody may look after of their own account.
func (s *Server) accountPage(w http.ResponseWriter, r *http.Request) {
	s.showAccount(w, r, http.StatusOK, nil, r.URL.Query().Get("done") == "password")
}

func (s *Server) showAccount(w http.ResponseWriter, r *http.Request, code int, problems page.Problems, done bool) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	n, err := s.Accounts.Sessions(r.Context(), who(r).ID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	role := who(r).Role
	s.show(w, r, code, page.AccountPage(page.Account{
		Shell: s.shell(r, "Your account"), Name: who(r).Name, Role: advice.Capital(string(role)), Does: role.Words(), Problems: problems, Done: done,
		Devices: "Signed in on " + plural(n, "device", "devices") + ", this one included.",
		Ends:    "A device is signed out when nobody has used it for " + hours(account.IdleAfter) + ", and in any case after " + days(account.OldAfter) + ".",
	}))
}

// setPassword changes one's own password; other devices are signed out.
func (s *Server) setPassword(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	var problems page.Problems
	if r.FormValue("password") != r.FormValue("again") {
		problems = page.Problems{{Field: "again", Text: "The two new passwords are not the same: write the same one twice"}}
		s.showAccount(w, r, http.StatusUnprocessableEntity, problems, false)
		return
	}
	err := s.Accounts.SetPassword(r.Context(), cookie(r, s.sessionCookie()), r.FormValue("before"), r.FormValue("password"))
	var wait *account.Wait
	var weak *account.Weak
	switch {
	case errors.As(err, &wait):
		s.showAccount(w, r, http.StatusTooManyRequests, page.Problems{{Field: "before", Text: advice.Capital(wait.Error())}}, false)
	case errors.Is(err, account.ErrWrong) || errors.As(err, &weak):
		if errors.Is(err, account.ErrWrong) {
			problems = append(problems, page.Problem{Field: "before", Text: "This is not the password that you sign in with"})
		}
		if errors.As(err, &weak) {
			for _, l := range lines(weak) {
				problems = append(problems, page.Problem{Field: "password", Text: l})
			}
		}
		s.showAccount(w, r, http.StatusUnprocessableEntity, problems, false)
	case err != nil:
		s.broken(w, r, err)
	default:
		http.Redirect(w, r, "/account?done=password", http.StatusSeeOther)
	}
}

// signOutEverywhere ends every session of whoever asks, this one as well.
func (s *Server) signOutEverywhere(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	if err := s.Accounts.SignOutEverywhere(r.Context(), who(r).ID); err != nil {
		s.broken(w, r, err)
		return
	}
	s.signedOut(w, r)
}

// hours and days put a time into words.
func hours(d time.Duration) string { return plural(int(d.Hours()), "hour", "hours") }
func days(d time.Duration) string  { return plural(int(d.Hours()/24), "day", "days") }
