package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"chargewright/account"
)

// TestSignIn: nothing but the sign-in is shown to whoever is not signed in; the
// owner's link is good once.
func TestSignIn(t *testing.T) {
	s := newShop(t, true)
	for _, r := range s.routes {
		method, path, _ := strings.Cut(r.pattern, " ")
		path = strings.NewReplacer("{$}", "", "{job}", "x", "{reading}", "r1", "{system}", "isolated-earth-side", "{token}", "x", "{person}", "x", "{instrument}", "x").Replace(path)
		var form url.Values
		if method == http.MethodPost {
			form = url.Values{"event": {"e-12345678"}, "seen": {"0"}, "kind": {"other"}, "system": {theSystem}, "meter": {"dmm"}}
		}
		a := s.ask(t, method, path, form)
		if sent := a.code == 303 && strings.HasPrefix(a.Get("Location"), "/sign-in"); sent == (r.needs == account.Anyone) && r.pattern != "POST /sign-in" {
			t.Errorf("%s answers %d, sent to the sign-in: %v", r.pattern, a.code, sent)
		}
	}
	if h, err := s.book.Head(t.Context()); err != nil || h.Events != 0 {
		t.Fatalf("%d events were recorded by nobody (%v)", h.Events, err)
	}
	s.get(t, "/sign-in").want(t, 200, "Nobody has an account here yet")

	token, _, err := s.accounts.OwnerLink(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	link := "/owner/" + token
	s.get(t, link).want(t, 200, "at least 12 characters")
	s.ask(t, http.MethodPost, link, url.Values{"name": {"Owner"}, "password": {"short"}, "again": {"short"}}).want(t, 422, "at least 12")
	s.ask(t, http.MethodPost, link, url.Values{"name": {"Owner"}, "password": {"four plain words"}, "again": {"four other words"}}).want(t, 422, "not the same")
	good := url.Values{"name": {"Owner"}, "password": {"a lamp on the wing"}, "again": {"a lamp on the wing"}}
	s.ask(t, http.MethodPost, link, good).want(t, 303)
	s.ask(t, http.MethodPost, link, good).want(t, 404, "not good any more")

	s.ask(t, http.MethodPost, "/sign-in", url.Values{"name": {"Owner"}, "password": {"a lamp on the floor"}}).want(t, 401, "do not belong together")
	in := s.ask(t, http.MethodPost, "/sign-in", url.Values{"name": {"owner"}, "password": {"a lamp on the wing"}, "to": {"//evil.example"}}).want(t, 303)
	if to := in.Get("Location"); to != "/" {
		t.Errorf("sent to %s after the sign-in", to)
	}
	raw := in.Get("Set-Cookie")
	for _, flag := range []string{"HttpOnly", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(raw, flag) {
			t.Errorf("the cookie lacks %s: %s", flag, raw)
		}
	}
	value, _, _ := strings.Cut(raw, ";")
	as := func(r *http.Request) { r.Header.Set("Cookie", value) }
	s.ask(t, http.MethodGet, "/", nil, as).want(t, 200, "No jobs yet", "Owner")
	s.ask(t, http.MethodPost, "/sign-out", url.Values{}, as).want(t, 303)
	s.ask(t, http.MethodGet, "/", nil, as).want(t, 303)

	s.Secure = true
	in = s.ask(t, http.MethodPost, "/sign-in", url.Values{"name": {"Owner"}, "password": {"a lamp on the wing"}}).want(t, 303)
	if !strings.Contains(in.Get("Set-Cookie"), "Secure") {
		t.Error("behind TLS the cookie is not kept to it")
	}
}

func TestLocal(t *testing.T) {
	for to, want := range map[string]string{"": "/", "/": "/", "/jobs/x?key=a": "/jobs/x?key=a", "//evil": "/", `/\evil`: "/", "https://evil": "/", "jobs": "/", "/\t/evil": "/", "/\n/evil": "/", "/\r/evil": "/", `/a\b`: "/", "/%09/evil": "/%09/evil", "///evil": "/"} {
		if got := local(to); got != want {
			t.Errorf("%q leads to %q, want %q", to, got, want)
		}
	}
}
