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
	s.showAccount(w, r, http.StatusOK, page.Account{Done: map[string]string{
		"password": "The new password is set. Every other device is signed out; passkeys stay good.", "passkey": "The passkey is added: it signs you in under this address.",
		"named": "The passkey has its new name.", "removed": "The passkey is removed: it signs nobody in any more.",
	}[r.URL.Query().Get("done")]})
}

// showAccount fills in what is known of the account around what is said already.
func (s *Server) showAccount(w http.ResponseWriter, r *http.Request, code int, v page.Account) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	n, err := s.Accounts.Sessions(r.Context(), who(r).ID)
	if err == nil {
		v.Passkeys, err = s.passkeyLines(r)
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	role := who(r).Role
	v.Shell, v.Name, v.Role, v.Does = s.shell(r, "Your account"), who(r).Name, advice.Capital(string(role)), role.Words()
	v.Devices = "Signed in on " + plural(n, "device", "devices") + ", this one included."
	v.Ends = "A device is signed out when nobody has used it for " + hours(account.IdleAfter) + ", and in any case after " + days(account.OldAfter) + "."
	_, v.NoPasskeys = s.site(r)
	v.Shell.Passkeys = v.NoPasskeys == ""
	s.show(w, r, code, page.AccountPage(v))
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
		s.showAccount(w, r, http.StatusUnprocessableEntity, page.Account{Problems: problems})
		return
	}
	err := s.Accounts.SetPassword(r.Context(), cookie(r, s.sessionCookie()), r.FormValue("before"), r.FormValue("password"))
	var wait *account.Wait
	var weak *account.Weak
	switch {
	case errors.As(err, &wait):
		s.showAccount(w, r, http.StatusTooManyRequests, page.Account{Problems: page.Problems{{Field: "before", Text: advice.Capital(wait.Error())}}})
	case errors.Is(err, account.ErrWrong) || errors.As(err, &weak):
		if errors.Is(err, account.ErrWrong) {
			problems = append(problems, page.Problem{Field: "before", Text: "This is not the password that you sign in with"})
		}
		if errors.As(err, &weak) {
			for _, l := range lines(weak) {
				problems = append(problems, page.Problem{Field: "password", Text: l})
			}
		}
		s.showAccount(w, r, http.StatusUnprocessableEntity, page.Account{Problems: problems})
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
