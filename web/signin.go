package web

import (
	"cmp"
	"errors"
	"net/http"
	"net/netip"
	"strings"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/web/page"
)

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) {
	s.askName(w, r, http.StatusOK, "")
}

func (s *Server) askName(w http.ResponseWriter, r *http.Request, code int, problem string) {
	if s.Accounts == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	has, err := s.Accounts.HasOwner(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	sh := s.shell(r, "Sign in")
	sh.Nav = nil
	f := page.SignInForm{To: local(r.FormValue("to")), Name: r.FormValue("name"), Problem: problem, Nobody: !has}
	if sh.Passkeys, f.Instead, err = s.passkeysHere(r); err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, code, page.SignIn(sh, f))
}

func (s *Server) signIn(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	token, session, err := s.Accounts.SignIn(r.Context(), r.FormValue("name"), r.FormValue("password"), account.From{Address: s.address(r), Device: cookie(r, s.deviceCookie())})
	var wait *account.Wait
	switch {
	case errors.As(err, &wait):
		s.askName(w, r, http.StatusTooManyRequests, wait.Error())
	case errors.Is(err, account.ErrWrong):
		s.askName(w, r, http.StatusUnauthorized, "Name and password do not belong together. Write both again.")
	case err != nil:
		s.broken(w, r, err)
	default:
		s.begun(w, r, token, session)
	}
}

// begun gives the device its session, and goes where it wanted to go.
func (s *Server) begun(w http.ResponseWriter, r *http.Request, token string, session account.Session) {
	if old := cookie(r, s.sessionCookie()); old != "" { // one device, one session
		if err := s.Accounts.SignOut(r.Context(), old); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	s.setCookie(w, s.sessionCookie(), token, session.Expires.Sub(s.Now()))
	s.setCookie(w, s.deviceCookie(), session.Device, year)
	http.Redirect(w, r, local(r.FormValue("to")), http.StatusSeeOther)
}

// address is where a request comes from. Behind a proxy that is what the proxy
// says last: what stands before it anyone can write. Where the proxy says
// nothing, a guesser could; then the pace of the name still holds (account's
// pace.go).
func (s *Server) address(r *http.Request) string {
	if !s.Secure {
		return r.RemoteAddr
	}
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !from.Addr().Unmap().IsLoopback() && !from.Addr().Unmap().IsPrivate() {
		return r.RemoteAddr
	}
	said := strings.Join(r.Header.Values("X-Forwarded-For"), ",")
	last := strings.TrimSpace(said[strings.LastIndex(said, ",")+1:])
	if ap, err := netip.ParseAddrPort(last); err == nil {
		last = ap.Addr().String()
	}
	if _, err := netip.ParseAddr(last); err != nil {
		return r.RemoteAddr
	}
	return last
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) {
	if s.Accounts != nil {
		if err := s.Accounts.SignOut(r.Context(), cookie(r, s.sessionCookie())); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	s.signedOut(w, r)
}

// signedOut takes the cookie of a session that has ended off the device.
func (s *Server) signedOut(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{Name: s.sessionCookie(), Path: "/", MaxAge: -1, HttpOnly: true, Secure: s.Secure, SameSite: http.SameSiteLaxMode})
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
}

func (s *Server) ownerPage(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	_, err := s.Accounts.WhoseLink(r.Context(), r.PathValue("token"))
	s.askOwner(w, r, http.StatusOK, err)
}

// askOwner shows the form of a one-time link, or that the link is not good.
func (s *Server) askOwner(w http.ResponseWriter, r *http.Request, code int, err error) {
	acc, gone := s.Accounts.WhoseLink(r.Context(), r.PathValue("token"))
	head := "The owner's account"
	if acc.Role != account.Owner {
		head = "Your account as " + string(acc.Role)
	}
	sh := s.shell(r, head)
	sh.Nav = nil
	if errors.Is(err, account.ErrLink) || errors.Is(gone, account.ErrLink) {
		sh.Title = "This link is not good any more"
		s.show(w, r, http.StatusNotFound, page.Plain(sh, sh.Title, "It was used, replaced by a newer one, or has run out. Have a new one made by the owner; the owner's own: stop the program and start it with --owner-link.", page.Link{Text: "Sign in", To: "/sign-in"}))
		return
	}
	if gone != nil {
		s.broken(w, r, gone)
		return
	}
	var problems []string
	if err != nil {
		problems = lines(err)
	}
	s.show(w, r, code, page.Owner(sh, page.OwnerForm{To: r.URL.Path, Head: head, Does: advice.Capital(acc.Role.Words()), Name: cmp.Or(r.FormValue("name"), acc.Name), Problems: problems}))
}

func (s *Server) owner(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	if r.FormValue("password") != r.FormValue("again") {
		s.askOwner(w, r, http.StatusUnprocessableEntity, errors.New("the two passwords are not the same: write the same one twice"))
		return
	}
	_, err := s.Accounts.Claim(r.Context(), r.PathValue("token"), r.FormValue("name"), r.FormValue("password"))
	if err != nil {
		s.askOwner(w, r, http.StatusUnprocessableEntity, err)
		return
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
}
