package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/web/page"
)

// site is where whoever asks has the pages open, as passkeys go by it. no says why
// browsers allow none there; "" when they do: they want a name and TLS, or this
// machine itself (W3C Secure Contexts; Web Authentication, 5.1.3: memory).
func (s *Server) site(r *http.Request) (site account.Site, no string) {
	base := s.base(r)
	for _, o := range s.Origins { // a proxy may serve under several
		if u, err := url.Parse(o); err == nil && strings.EqualFold(u.Host, r.Host) {
			base = strings.TrimSuffix(o, "/")
		}
	}
	u, err := url.Parse(base)
	if err != nil {
		return site, "Passkeys do not work here: the address of this page cannot be read. Open it under the address that the program printed when it started."
	}
	site = account.Site{Name: s.Workshop, Host: strings.ToLower(u.Hostname()), Origin: base}
	this := site.Host == "localhost" || strings.HasSuffix(site.Host, ".localhost")
	switch {
	case inFigures(u.Host):
		no = "Passkeys do not work under this address: browsers keep them by a name, and " + site.Host + " is figures. Open the pages under a name of this workshop over TLS, or as localhost on its own machine."
	case u.Scheme != "https" && !this:
		no = "Passkeys do not work under this address: browsers allow them over TLS alone, and these pages come without. Have the workshop served with a certificate, or open the pages as localhost on its own machine."
	}
	return site, no
}

// passkeysHere says on the page of the sign-in whether a passkey can be used here,
// and if not, under which names the workshop's work.
func (s *Server) passkeysHere(r *http.Request) (here bool, instead string, err error) {
	sites, err := s.Accounts.PasskeySites(r.Context())
	if err != nil || len(sites) == 0 {
		return false, "", err
	}
	site, no := s.site(r)
	if no == "" && slices.Contains(sites, site.Host) {
		return true, "", nil
	}
	return false, "Passkeys of this workshop work where its pages are open as " + strings.Join(sites, " or ") + ", not under this address. The password works everywhere.", nil
}

// passkeyLines are one's own passkeys.
func (s *Server) passkeyLines(r *http.Request) ([]page.PasskeyLine, error) {
	list, err := s.Accounts.Passkeys(r.Context(), who(r).ID)
	if err != nil {
		return nil, err
	}
	var out []page.PasskeyLine
	for _, p := range list {
		l := page.PasskeyLine{ID: p.ID, Name: p.Name, Note: "for " + p.Site + ", added " + p.Added.Format(dayFormat), Used: "not used yet"}
		if !p.Used.IsZero() {
			l.Used = "last used " + dayAndTime(p.Used, s.Now())
		}
		out = append(out, l)
	}
	return out, nil
}

// dayAndTime is a time that may be months ago.
func dayAndTime(t, now time.Time) string {
	if t.Year() == now.Year() {
		return shortTime(t, now)
	}
	return t.Format(dayFormat)
}

func passkeyCount(n int) string {
	if n == 0 {
		return ""
	}
	return plural(n, "passkey", "passkeys")
}

// passkeyWords say what stands in the way of a passkey; ok is false when it is not
// the sender's to mend.
func passkeyWords(err error) (code int, say string, ok bool) {
	var wait *account.Wait
	switch {
	case errors.As(err, &wait):
		return http.StatusTooManyRequests, advice.Sentence(wait.Error()), true
	case errors.Is(err, account.ErrWrong):
		return http.StatusUnprocessableEntity, "This is not the password that you sign in with.", true
	}
	for _, e := range []error{account.ErrAsked, account.ErrCopied, account.ErrMany, account.ErrUnnamed, account.ErrPasskey, account.ErrSignedOut} {
		if errors.Is(err, e) {
			return http.StatusUnprocessableEntity, advice.Sentence(e.Error()), true
		}
	}
	return 0, "", false
}

// askDevice answers a script with what it is to ask the device.
func (s *Server) askDevice(w http.ResponseWriter, r *http.Request, options []byte, err error) {
	if err == nil {
		answerData(w, http.StatusOK, json.RawMessage(options))
		return
	}
	code, say, ok := passkeyWords(err)
	if !ok {
		s.Log.Error("a passkey could not be asked for", "path", logPath(r), "why", err)
		code, say = http.StatusInternalServerError, "The server cannot do it now."
	}
	refuseData(w, code, say)
}

// keySite is site for a script, which is told where there is none.
func (s *Server) keySite(w http.ResponseWriter, r *http.Request) (account.Site, bool) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return account.Site{}, false
	}
	site, no := s.site(r)
	if no != "" {
		refuseData(w, http.StatusUnprocessableEntity, no)
	}
	return site, no == ""
}

// askPasskey begins adding a passkey, for a script.
func (s *Server) askPasskey(w http.ResponseWriter, r *http.Request) {
	site, ok := s.keySite(w, r)
	if !ok {
		return
	}
	options, err := s.Accounts.AskPasskey(r.Context(), cookie(r, s.sessionCookie()), r.FormValue("key-password"), site)
	s.askDevice(w, r, options, err)
}

// addPasskey adds what the device has made.
func (s *Server) addPasskey(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	site, no := s.site(r)
	if no != "" {
		s.showAccount(w, r, http.StatusUnprocessableEntity, page.Account{KeyProblems: page.Problems{{Text: no}}})
		return
	}
	_, err := s.Accounts.AddPasskey(r.Context(), cookie(r, s.sessionCookie()), site, r.FormValue("key-name"), []byte(r.FormValue("answer")))
	if errors.Is(err, account.ErrPasskey) {
		s.showAccount(w, r, http.StatusUnprocessableEntity, page.Account{KeyName: r.FormValue("key-name"), KeyProblems: page.Problems{{Text: "The device made no passkey that this workshop can use: it has to ask for a code or a finger, and to keep the account with the key. Try another device, or a security key with a code of its own."}}})
		return
	}
	s.ownPasskey(w, r, "passkey", err)
}

func (s *Server) namePasskey(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	s.ownPasskey(w, r, "named", s.Accounts.NamePasskey(r.Context(), who(r).ID, r.PathValue("passkey"), r.FormValue("key-name")))
}

func (s *Server) removePasskey(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	s.ownPasskey(w, r, "removed", s.Accounts.RemovePasskey(r.Context(), who(r).ID, r.PathValue("passkey")))
}

// ownPasskey answers what was done with one's own passkeys, or why it was not.
func (s *Server) ownPasskey(w http.ResponseWriter, r *http.Request, done string, err error) {
	if err == nil {
		http.Redirect(w, r, "/account?done="+done, http.StatusSeeOther)
		return
	}
	code, say, ok := passkeyWords(err)
	field := ""
	switch {
	case !ok:
		s.broken(w, r, err)
		return
	case errors.Is(err, account.ErrUnnamed):
		field = "key-name"
	case errors.Is(err, account.ErrPasskey): // of an address
		code, say = http.StatusNotFound, "This account has no such passkey: it was removed already."
	}
	s.showAccount(w, r, code, page.Account{KeyName: r.FormValue("key-name"), KeyProblems: page.Problems{{Field: field, Text: say}}})
}

// askSignIn begins a sign-in with a passkey, for a script.
func (s *Server) askSignIn(w http.ResponseWriter, r *http.Request) {
	site, ok := s.keySite(w, r)
	if !ok {
		return
	}
	options, err := s.Accounts.AskSignIn(r.Context(), site, account.From{Address: s.address(r)})
	s.askDevice(w, r, options, err)
}

// signInByPasskey signs in whoever has the key that answered.
func (s *Server) signInByPasskey(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	site, no := s.site(r)
	if no != "" {
		s.askName(w, r, http.StatusUnprocessableEntity, no)
		return
	}
	token, session, err := s.Accounts.SignInByPasskey(r.Context(), site, []byte(r.FormValue("answer")))
	if err == nil {
		s.begun(w, r, token, session)
		return
	}
	if _, say, ok := passkeyWords(err); ok && !errors.Is(err, account.ErrWrong) {
		s.askName(w, r, http.StatusUnauthorized, say)
		return
	}
	if errors.Is(err, account.ErrWrong) { // withdrawn, or given another password, in this very moment
		s.askName(w, r, http.StatusUnauthorized, "The account was changed just now. Sign in again.")
		return
	}
	s.broken(w, r, err)
}

// removePasskeys takes the passkeys off somebody's account.
func (s *Server) removePasskeys(w http.ResponseWriter, r *http.Request) {
	if s.Accounts == nil {
		s.nowhere(w, r)
		return
	}
	s.changed(w, r, "/people/"+r.PathValue("person"), s.Accounts.RemovePasskeys(r.Context(), who(r).ID, r.PathValue("person")))
}
