package web

import (
	"bytes"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"chargewright/account"
)

// pathOf is an address of a route, of things that are not there.
func pathOf(pattern string) (method, path string) {
	method, path, _ = strings.Cut(pattern, " ")
	return method, strings.NewReplacer("{$}", "", "{job}", "x", "{reading}", "r1", "{system}", "x", "{token}", "x", "{person}", "x", "{instrument}", "x", "{passkey}", "x").Replace(path)
}

// TestEveryFormIsGuarded: every route that changes something is a POST, and none
// takes one from another site, however the browser says so.
func TestEveryFormIsGuarded(t *testing.T) {
	s := theShop(t)
	for _, r := range s.routes {
		method, path := pathOf(r.pattern)
		if method != http.MethodGet && method != http.MethodPost {
			t.Errorf("%s: a form sends GET or POST", r.pattern)
		}
		if method != http.MethodPost {
			continue
		}
		for header, value := range map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://other.example"} {
			s.ask(t, method, path, url.Values{}, func(r *http.Request) { r.Header.Set(header, value) }).want(t, 403, "came from elsewhere")
		}
		s.ask(t, method, path, url.Values{}, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }).want(t, 403)
	}
}

// endless is a body that does not end, and counts what was taken of it.
type endless struct{ taken int }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	e.taken += len(p)
	return len(p), nil
}

// TestEveryBodyIsBounded: no route reads on and on, as a form or in parts.
func TestEveryBodyIsBounded(t *testing.T) {
	s, _ := signedShop(t)
	asked := theShop(t) // nobody signs in: what is behind the sign-in is reached
	for _, r := range s.routes {
		method, path := pathOf(r.pattern)
		if method != http.MethodPost {
			continue
		}
		s := s
		if r.needs != account.Anyone {
			s = asked
		}
		for _, kind := range []string{"application/x-www-form-urlencoded", "multipart/form-data; boundary=x"} {
			body := &endless{}
			q := httptest.NewRequestWithContext(t.Context(), method, path, body)
			q.Header.Set("Content-Type", kind)
			s.ServeHTTP(httptest.NewRecorder(), q)
			if most := 2 * mostSystem; body.taken > most {
				t.Errorf("%s reads %d bytes of a %s", r.pattern, body.taken, kind)
			}
			if !strings.HasPrefix(path, "/systems") && body.taken > 2*mostBody {
				t.Errorf("%s reads %d bytes of a %s", r.pattern, body.taken, kind)
			}
		}
	}
}

// signedShop is a workshop with an owner, and what its log says.
func signedShop(t *testing.T) (*shop, *bytes.Buffer) {
	t.Helper()
	s := newShop(t, true)
	said := &bytes.Buffer{}
	s.Log = slog.New(slog.NewTextHandler(said, nil))
	token, _, err := s.accounts.OwnerLink(t.Context())
	if err == nil {
		_, err = s.accounts.Claim(t.Context(), token, "Owner", "a lamp on the wing")
	}
	if err != nil {
		t.Fatal(err)
	}
	return s, said
}

func enter(password string) url.Values { return url.Values{"name": {"Owner"}, "password": {password}} }

// session is the cookie of an answer, as a browser sends it.
func session(a answer) string {
	value, _, _ := strings.Cut(a.Get("Set-Cookie"), ";")
	return value
}

func with(value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set("Cookie", value) }
}

// TestSessionIsNew: whatever cookie a device brings to the sign-in, it gets
// another; the one before is good no more.
func TestSessionIsNew(t *testing.T) {
	s, _ := signedShop(t)
	name := s.sessionCookie()
	planted := name + "=planted-by-somebody-else"
	first := session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), with(planted)).want(t, 303))
	if first == planted || !strings.HasPrefix(first, name+"=") || len(first) < 40 {
		t.Fatalf("the cookie is %q", first)
	}
	s.ask(t, http.MethodGet, "/", nil, with(planted)).want(t, 303)
	s.ask(t, http.MethodGet, "/", nil, with(first)).want(t, 200)
	second := session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), with(first)).want(t, 303))
	s.ask(t, http.MethodGet, "/", nil, with(second)).want(t, 200)
	s.ask(t, http.MethodGet, "/", nil, with(first)).want(t, 303)
}

// TestCookiesOverTLS: every cookie is kept to TLS and from scripts, and the
// session's cannot be planted by a neighbouring host.
func TestCookiesOverTLS(t *testing.T) {
	s, _ := signedShop(t)
	s.Secure = true
	in := s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)
	as := with(session(in))
	out := []answer{in, s.ask(t, http.MethodPost, "/views", url.Values{"theme": {"sun"}, "keys": {"off"}}, as).want(t, 303)}
	s.ask(t, http.MethodGet, "/", nil, as).want(t, 200)
	out = append(out, s.ask(t, http.MethodPost, "/sign-out", url.Values{}, as).want(t, 303))
	n := 0
	for _, a := range out {
		for _, c := range a.Values("Set-Cookie") {
			n++
			for _, flag := range []string{"; Path=/", "; HttpOnly", "; Secure", "; SameSite=Lax"} {
				if !strings.Contains(c, flag) {
					t.Errorf("%q lacks %s", c, flag)
				}
			}
			if strings.Contains(c, "Domain") || (strings.Contains(c, "session") || strings.Contains(c, "device")) && !strings.HasPrefix(c, "__Host-") {
				t.Errorf("%q is not kept to this host", c)
			}
		}
	}
	if n != 5 {
		t.Errorf("%d cookies were looked at, want 5", n)
	}
	s.ask(t, http.MethodGet, "/", nil, as).want(t, 303)
}

// TestGuessing: after a few wrong passwords even the right one waits, and the
// page says how long.
func TestGuessing(t *testing.T) {
	s, _ := signedShop(t)
	for range 5 {
		s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the floor")).want(t, 401)
	}
	a := s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 429, "too many sign-ins", "wait")
	if a.Get("Set-Cookie") != "" {
		t.Error("signed in all the same")
	}
}

// cookies are all that an answer sets, as a browser sends them.
func cookies(a answer) string {
	var out []string
	for _, c := range a.Values("Set-Cookie") {
		value, _, _ := strings.Cut(c, ";")
		out = append(out, value)
	}
	return strings.Join(out, "; ")
}

// TestOneDeviceGuesses: behind a proxy one device that guesses shuts out neither
// those that have signed in before, nor, where the proxy says where requests come
// from, any other.
func TestOneDeviceGuesses(t *testing.T) {
	s, _ := signedShop(t)
	s.Secure = true
	from := func(address string, more ...string) func(*http.Request) {
		return func(r *http.Request) {
			r.RemoteAddr = "127.0.0.1:4711" // the proxy
			if address != "" {
				r.Header.Set("X-Forwarded-For", address)
			}
			for _, c := range more {
				r.Header.Set("Cookie", c)
			}
		}
	}
	known := cookies(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), from("")).want(t, 303))
	if !strings.Contains(known, "__Host-chargewright-device=") {
		t.Fatalf("the device is given %q", known)
	}
	for _, address := range []string{"", "192.0.2.66"} {
		code := 0
		for n := 0; code != 429 && n < 50; n++ {
			code = s.ask(t, http.MethodPost, "/sign-in", enter("a guess at it"), from(address)).code
		}
		s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), from(address)).want(t, 429)
		s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), from(address, known)).want(t, 303)
		s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the floor"), from(address)).want(t, 401) // the name begins anew after a right one
	}
	for n, code := 0, 0; code != 429 && n < 50; n++ {
		code = s.ask(t, http.MethodPost, "/sign-in", enter("a guess at it"), from("192.0.2.66")).code
	}
	s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing"), from("192.0.2.7")).want(t, 303)
}

// TestAddress: what a proxy says last counts, and only behind one.
func TestAddress(t *testing.T) {
	for _, c := range []struct {
		proxy        bool
		remote, says string
		want         string
	}{
		{true, "127.0.0.1:99", "192.0.2.7", "192.0.2.7"},
		{true, "127.0.0.1:99", "203.0.113.5, 192.0.2.7", "192.0.2.7"},
		{true, "[::1]:99", "192.0.2.7:1234", "192.0.2.7"},
		{true, "10.0.0.2:99", "2001:db8::9", "2001:db8::9"},
		{true, "10.0.0.2:99", "", "10.0.0.2:99"},
		{true, "10.0.0.2:99", "nobody", "10.0.0.2:99"},
		{true, "198.51.100.9:99", "192.0.2.7", "198.51.100.9:99"},
		{false, "127.0.0.1:99", "192.0.2.7", "127.0.0.1:99"},
	} {
		s := &Server{Config: Config{Secure: c.proxy}}
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/sign-in", nil)
		r.RemoteAddr = c.remote
		r.Header.Set("X-Forwarded-For", c.says)
		if got := s.address(r); got != c.want {
			t.Errorf("%+v comes from %s", c, got)
		}
	}
}

// TestLogHoldsNoSecrets: neither the owner's link nor a password, a name or what
// is searched for stands in the log.
func TestLogHoldsNoSecrets(t *testing.T) {
	s, said := signedShop(t)
	token, _, err := s.accounts.OwnerLink(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	link := "/owner/" + token
	s.get(t, link).want(t, 200)
	s.ask(t, http.MethodPost, link, url.Values{"name": {"Owner"}, "password": {"short"}, "again": {"short"}}).want(t, 422) // it is good still
	s.ask(t, http.MethodPost, "/sign-in", enter("hunted-password")).want(t, 401)
	in := s.ask(t, http.MethodPost, "/sign-in?password=in-the-address", enter("a lamp on the wing")).want(t, 303)
	s.ask(t, http.MethodGet, "/?q=Somebody", nil, with(session(in))).want(t, 200)
	s.broken(httptest.NewRecorder(), httptest.NewRequestWithContext(t.Context(), http.MethodPost, link, nil), errors.New("why"))
	if strings.Count(said.String(), "/owner/…") != 2 || !strings.Contains(said.String(), "/sign-in") {
		t.Errorf("the log lacks the requests:\n%s", said)
	}
	_, value, _ := strings.Cut(session(in), "=")
	for _, secret := range []string{token, "short", "hunted", "lamp", "in-the-address", "Owner ", "Somebody", value} {
		if strings.Contains(said.String(), secret) {
			t.Errorf("the log holds %q:\n%s", secret, said)
		}
	}
}

// TestStrangersSeeNothingInside: what goes wrong inside is told to whoever is
// signed in, and to the log.
func TestStrangersSeeNothingInside(t *testing.T) {
	s, said := signedShop(t)
	w := httptest.NewRecorder()
	s.broken(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/sign-in", nil), errors.New("/srv/data/shop.db is full"))
	if w.Code != 500 || strings.Contains(w.Body.String(), "/srv/data") || !strings.Contains(said.String(), "/srv/data") {
		t.Errorf("%d %s; log %s", w.Code, firstWords(w.Body.String()), said)
	}
}

// TestNamesOfFiles: what a job is called reaches neither a header nor a path.
func TestNamesOfFiles(t *testing.T) {
	for id, want := range map[string]string{
		"A 17": "report-A17.pdf", "": "report-.pdf", "x\"\r\nSet-Cookie: a=b": "report-xSet-Cookieab.pdf", "../../etc/passwd": "report-etcpasswd.pdf", "ÄÖ\u202efdp": "report-fdp.pdf",
	} {
		if got := fileName("report", id, "pdf"); got != want {
			t.Errorf("%q is called %q, want %q", id, got, want)
		}
	}
	s := theShop(t)
	for _, path := range []string{"/static/", "/static/static", "/static/x/..", "/static/%2e%2e/secure.go", "/static/..%2f..%2fgo.mod", "/static/app.js%00", "/static/" + strings.Repeat("a/", 40)} {
		if a := s.get(t, path); a.code != 404 && a.code != 307 && a.code != 301 {
			t.Errorf("%s answers %d", path, a.code)
		}
	}
}

// TestLiveIsBounded: a page that cannot be told of news says so, and gives back
// its place.
func TestLiveIsBounded(t *testing.T) {
	s := newShop(t, false)
	s.streams.Store(mostLive)
	a := s.get(t, "/jobs/none/live").want(t, 503, "Too many pages are open")
	if a.Get("Retry-After") == "" || s.streams.Load() != mostLive {
		t.Errorf("Retry-After %q, %d streams", a.Get("Retry-After"), s.streams.Load())
	}
	s.streams.Store(mostLive - 1)
	s.get(t, "/jobs/none/live").want(t, 404)
	if n := s.streams.Load(); n != mostLive-1 {
		t.Errorf("%d streams, want %d", n, mostLive-1)
	}
}

// TestPoliciesOfPages: every answer has the headers, and the policy lets nothing
// through that it need not.
func TestPoliciesOfPages(t *testing.T) {
	for _, loose := range []string{"unsafe", "*", "http:", "https:", "data:", "blob:"} {
		if strings.Contains(policy, loose) {
			t.Errorf("the policy allows %s", loose)
		}
	}
	s := theShop(t)
	for _, a := range []answer{s.get(t, "/"), s.get(t, "/nowhere"), s.get(t, "/static/none"), s.get(t, s.assets.base+"app.js")} {
		for name, want := range map[string]string{"Content-Security-Policy": policy, "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin"} {
			if a.Get(name) != want {
				t.Errorf("%d: %s is %q", a.code, name, a.Get(name))
			}
		}
	}
	if c := s.get(t, "/").Get("Cache-Control"); c != "no-store" {
		t.Errorf("a page may be kept: %s", c)
	}
}

// TestOrigins: a form from the address that a proxy serves under is taken; what
// is no such address is refused in words.
func TestOrigins(t *testing.T) {
	s := newShop(t, false)
	c := s.Config
	c.Origins, c.AtOnce = []string{"https://shop.example/"}, 0
	behind, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	defer behind.Close()
	for origin, code := range map[string]int{"https://shop.example": 303, "http://shop.example": 403, "https://other.example": 403} {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodPost, "/views", nil)
		r.Header.Set("Origin", origin)
		w := httptest.NewRecorder()
		behind.ServeHTTP(w, r)
		if w.Code != code {
			t.Errorf("from %s: %d, want %d", origin, w.Code, code)
		}
	}
	c.Origins = []string{"shop.example"}
	if _, err := New(c); err == nil || !strings.Contains(err.Error(), "write scheme and host alone") {
		t.Errorf("an origin without a scheme: %v", err)
	}
}
