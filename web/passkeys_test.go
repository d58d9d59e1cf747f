package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"

	"chargewright/internal/softkey"
	"chargewright/journal"
)

// under is a request under an address.
func under(host string, more ...func(*http.Request)) func(*http.Request) {
	return func(r *http.Request) {
		r.Host = host
		for _, m := range more {
			m(r)
		}
	}
}

var oneKey = regexp.MustCompile(`/account/passkeys/(k-[a-z0-9]+)/name`)

// TestPasskeys: added with the password, used, named and removed by forms; others
// have no hold on it, and the owner sees that it is there and can remove it.
func TestPasskeys(t *testing.T) {
	s, as := staffed(t)
	s.Secure = true
	for letter, cookie := range as { // as they are called over TLS
		as[letter] = "__Host-" + cookie
	}
	const origin = "https://shop.example"
	here := func(letter string) func(*http.Request) { return under("shop.example", with(as[letter])) }
	post := func(letter, path string, pairs ...string) answer {
		t.Helper()
		return s.ask(t, http.MethodPost, path, plainForm(pairs...)(t, s), here(letter))
	}
	stranger := under("shop.example")
	s.ask(t, http.MethodGet, "/sign-in", nil, stranger).want(t, 200).without(t, "passkey") // nobody has one
	s.ask(t, http.MethodGet, "/account", nil, here("t")).want(t, 200, "Add a passkey", "turned off here", "passkey.js").without(t, "last used")
	post("t", "/account/passkeys/ask", "key-password", "wrong").want(t, 422, "not the password that you sign in with")
	asked := func() answer {
		t.Helper()
		return post("t", "/account/passkeys/ask", "key-password", "a lamp on the bench t").want(t, 200, `"rp":{"name":"Test shop","id":"shop.example"}`, `"userVerification":"required"`, `"residentKey":"required"`)
	}
	d := &softkey.Device{}
	made := string(d.Make(t, []byte(asked().body), origin))
	post("t", "/account/passkeys", "key-name", " ", "answer", made).want(t, 422, "Write what you call the passkey")
	post("a", "/account/passkeys", "key-name", "Phone", "answer", made).want(t, 422, "This was asked for more than 5 minutes ago")
	post("t", "/account/passkeys", "key-name", "Phone", "answer", made).want(t, 303)
	post("t", "/account/passkeys", "key-name", "Phone", "answer", "").want(t, 422, "made no passkey that this workshop can use")
	a := s.ask(t, http.MethodGet, "/account?done=passkey", nil, here("t")).want(t, 200, "The passkey is added", "Phone", "for shop.example, added ", "not used yet")
	clean(t, a.body)
	id := oneKey.FindStringSubmatch(a.body)[1]

	s.ask(t, http.MethodGet, "/sign-in", nil, stranger).want(t, 200, "Sign in with a passkey", "passkey.js")
	in := func(to string) answer {
		t.Helper()
		options := s.ask(t, http.MethodPost, "/sign-in/passkey/ask", url.Values{}, stranger).want(t, 200)
		return s.ask(t, http.MethodPost, "/sign-in/passkey", url.Values{"answer": {string(d.Sign(t, []byte(options.body), origin))}, "to": {to}}, stranger)
	}
	a = in("/keys").want(t, 303)
	if a.Get("Location") != "/keys" || !strings.Contains(cookies(a), "__Host-chargewright-device=") {
		t.Errorf("%v", a.Header)
	}
	s.ask(t, http.MethodGet, "/account", nil, under("shop.example", with(session(a)))).want(t, 200, "The technician", "last used ")
	in("//evil.example").want(t, 303)

	post("a", "/account/passkeys/"+id+"/name", "key-name", "Mine").want(t, 404, "no such passkey")
	post("a", "/account/passkeys/"+id+"/remove").want(t, 404, "no such passkey")
	post("t", "/account/passkeys/"+id+"/name", "key-name", "Blue phone").want(t, 303)
	s.ask(t, http.MethodGet, "/account?done=named", nil, here("t")).want(t, 200, "Blue phone", "new name")
	person := personOf(t, s, "The technician")
	s.ask(t, http.MethodGet, person, nil, here("o")).want(t, 200, "has 1 passkey.", "Remove 1 passkey").without(t, "Blue phone", "shop.example", id)
	post("t", person+"/no-passkeys").want(t, 403)
	post("o", person+"/no-passkeys").want(t, 303)
	in("/").want(t, 401, "opens no account here")
	s.ask(t, http.MethodGet, "/account", nil, here("t")).want(t, 303) // signed out
	s.ask(t, http.MethodGet, person, nil, here("o")).want(t, 200).without(t, "1 passkey", "no-passkeys")
	b := s.ask(t, http.MethodGet, "/people", nil, here("o")).want(t, 200, "added a passkey", "removed the passkeys of The technician")
	clean(t, b.body)
	post("o", personOf(t, s, "Owner")+"/no-passkeys").want(t, 422, "stays the owner")
	events, err := s.book.Read(t.Context(), journal.People, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if strings.Contains(string(e.Body), "phone") || strings.Contains(string(e.Body), id) {
			t.Errorf("the journal holds what a passkey is called: %s", e.Body)
		}
	}
}

// without fails where a text is there.
func (a answer) without(t *testing.T, texts ...string) answer {
	t.Helper()
	for _, x := range texts {
		if strings.Contains(a.body, x) {
			t.Errorf("the answer has %q:\n%s", x, firstWords(a.body))
		}
	}
	return a
}

func personOf(t *testing.T, s *shop, name string) string {
	t.Helper()
	people, err := s.accounts.People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range people {
		if p.Name == name {
			return "/people/" + p.ID
		}
	}
	t.Fatalf("nobody is called %s", name)
	return ""
}

// TestWherePasskeysWork: a name over TLS, or this machine itself; elsewhere the pages
// say why not.
func TestWherePasskeysWork(t *testing.T) {
	for _, c := range []struct {
		host, origins string
		tls           bool
		is, origin    string
		no            string
	}{
		{"shop.example", "", true, "shop.example", "https://shop.example", ""},
		{"Shop.Local:8412", "", true, "shop.local", "https://Shop.Local:8412", ""},
		{"localhost:8412", "", false, "localhost", "http://localhost:8412", ""},
		{"127.0.0.1:8412", "", false, "", "", "figures"},
		{"192.0.2.7:8412", "", true, "", "", "figures"},
		{"[2001:db8::7]:8412", "", true, "", "", "figures"},
		{"shop.local:8412", "", false, "", "", "TLS alone"},
		{"127.0.0.1:8507", "https://shop.example", true, "shop.example", "https://shop.example", ""}, // a proxy that passes its own name on
		{"two.example", "https://shop.example https://two.example/", true, "two.example", "https://two.example", ""},
	} {
		s := &Server{Config: Config{Secure: c.tls, Origins: strings.Fields(c.origins)}}
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/account", nil)
		r.Host = c.host
		site, no := s.site(r)
		if (no == "") != (c.no == "") || !strings.Contains(no, c.no) || c.no == "" && (site.Host != c.is || site.Origin != c.origin) {
			t.Errorf("%s (%v, %s): %+v, %q", c.host, c.tls, c.origins, site, no)
		}
	}
	s, cookies := staffed(t) // no TLS, so that all is said
	owner := with(cookies["o"])
	s.ask(t, http.MethodGet, "/account", nil, under("127.0.0.1:8412", owner)).want(t, 200, "127.0.0.1 is figures").without(t, "Add a passkey", "passkey.js")
	s.ask(t, http.MethodPost, "/account/passkeys/ask", url.Values{"key-password": {wingLamp}}, under("127.0.0.1:8412", owner)).want(t, 422, "is figures")
	s.ask(t, http.MethodPost, "/account/passkeys", url.Values{"key-name": {"x"}}, under("shop.local", owner)).want(t, 422, "over TLS alone")
	s.ask(t, http.MethodPost, "/sign-in/passkey/ask", url.Values{}, under("shop.local")).want(t, 422, "over TLS alone")
	s.ask(t, http.MethodPost, "/sign-in/passkey", url.Values{}, under("shop.local")).want(t, 422, "over TLS alone")
	options := s.ask(t, http.MethodPost, "/account/passkeys/ask", url.Values{"key-password": {wingLamp}}, under("localhost:8412", owner)).want(t, 200)
	made := (&softkey.Device{}).Make(t, []byte(options.body), "http://localhost:8412")
	s.ask(t, http.MethodPost, "/account/passkeys", url.Values{"key-name": {"x"}, "answer": {string(made)}}, under("localhost:8412", owner)).want(t, 303)
	s.ask(t, http.MethodGet, "/sign-in", nil, under("shop.local")).want(t, 200, "open as localhost, not under this address").without(t, "Sign in with a passkey")
	s.ask(t, http.MethodGet, "/sign-in", nil, under("localhost:8412")).want(t, 200, "Sign in with a passkey")
}

// TestPasskeyInABrowser: Chromium makes one with its own authenticator, signs in
// with it, is told in words when its holder is not known, and removes it.
func TestPasskeyInABrowser(t *testing.T) {
	all := browser(t)
	s, _ := signedShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(all, t, strings.Replace(server.URL, "127.0.0.1", "localhost", 1), phone[0], phone[1])
	device := b.authenticator()
	b.go_("/sign-in?to=/account")
	b.signIn()
	b.look("account-without-passkeys")
	add := func(name, password string) {
		b.t.Helper()
		b.empty("#key-name")
		b.keys(name)
		b.empty("#key-password")
		b.keys(password)
	}
	add("Tablet", "not the password")
	b.tick("form[data-passkey] button")
	b.until("the server's words", "document.querySelector('form[data-passkey] .needs').innerText.includes('not the password')")
	add("Tablet", wingLamp)
	b.press("form[data-passkey] button")
	b.sees("The passkey is added", "Tablet", "for localhost", "not used yet")
	b.look("account-with-passkey")
	add("Tablet again", wingLamp)
	b.tick("form[data-passkey] button")
	b.until("that it is there", "document.querySelector('form[data-passkey] .needs').innerText.includes('keeps a passkey for your account already')")

	b.press("form[action='/sign-out'] button")
	b.look("sign-in-with-passkey")
	b.known(device, false)
	b.tick("form[data-passkey] button")
	b.until("words for a holder that is not known", "document.querySelector('form[data-passkey] .needs').innerText.includes('Nobody was signed in')")
	b.known(device, true)
	b.go_("/sign-in?to=/account")
	b.press("form[data-passkey] button")
	b.sees("Owner", "Tablet", "last used ")
	b.do("unfolding", chromedp.Click(chromedp.CSS("#passkeys summary")))
	b.look("passkey-name")
	b.empty("#passkeys details input")
	b.keys("Blue tablet")
	b.press("#passkeys details button")
	b.sees("Blue tablet", "The passkey has its new name")
	b.press("form[action$='/remove'] button")
	b.sees("The passkey is removed")
	b.press("form[action='/sign-out'] button")
	b.sees("Sign in")
	if eval[bool](b, "!!document.querySelector('form[data-passkey]')") {
		t.Error("a passkey is asked for where nobody has one")
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, x := range b.said {
		t.Errorf("the browser complained: %s", x)
	}
}

// authenticator puts a device into the browser that knows its holder.
func (b *tab) authenticator() (id webauthn.AuthenticatorID) {
	b.t.Helper()
	b.do("an authenticator", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
			return err
		}
		is, err := chromedp.Call(ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
			Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal,
			HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true,
		}})
		id = is.AuthenticatorID
		return err
	}))
	return id
}

// known says whether the device knows its holder.
func (b *tab) known(id webauthn.AuthenticatorID, is bool) {
	b.t.Helper()
	b.do("who holds the device", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: id, IsUserVerified: is})
		return err
	}))
}
