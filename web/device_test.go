package web

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"chargewright/web/page"
)

// hereOf is the cookie by which a device says what it is called, as a browser sends it.
func hereOf(a answer) string {
	for _, c := range a.Values("Set-Cookie") {
		if value, _, _ := strings.Cut(c, ";"); strings.HasPrefix(value, hereCookie+"=") {
			return value
		}
	}
	return ""
}

// TestEventsSayTheDevice: a device has a word from its first page on, keeps it, and is
// named in everything that comes from it, the opening and a script's reading included;
// the record shows it. What has no cookie is recorded without.
func TestEventsSayTheDevice(t *testing.T) {
	s := theShop(t)
	drawn := hereOf(s.get(t, "/keys").want(t, 200))
	if !regexp.MustCompile(`^chargewright-here=device-[a-z2-7]{6}$`).MatchString(drawn) {
		t.Fatalf("a new device is given %q", drawn)
	}
	if other := hereOf(s.get(t, "/keys")); other == drawn {
		t.Errorf("two devices are called %s", other)
	}
	tablet := with(drawn)
	if again := hereOf(s.ask(t, http.MethodGet, "/keys", nil, tablet).want(t, 200, strings.TrimPrefix(drawn, hereCookie+"="))); again != "" {
		t.Errorf("a device that has a name is called %s", again)
	}
	named := s.ask(t, http.MethodPost, "/views", url.Values{"to": {"/keys"}, "device": {" Tablet, bay 2 (Größe) "}}, tablet).want(t, 303)
	phone := with(hereOf(named))
	s.ask(t, http.MethodGet, "/keys", nil, phone).want(t, 200, "Tablet, bay 2 (Größe)")

	f := s.ask(t, http.MethodGet, "/jobs/new", nil, tablet).form(t, "/jobs", "kind", "low-charge", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, tablet).want(t, 303).Get("Location")
	f = s.ask(t, http.MethodGet, at+"?key=do:look-belt", nil, phone).form(t, at+"/readings", "v0", "sound and tight")
	for range 2 { // sent again it is the same
		s.ask(t, http.MethodPost, at+"/readings", f, phone).want(t, 303)
	}
	script := func(r *http.Request) { r.Header.Set("Accept", "application/json") }
	s.ask(t, http.MethodPost, at+"/waiting", s.waits(2, "battery-rest-volts", "12.41"), tablet, script).want(t, 200)
	s.ask(t, http.MethodPost, at+"/waiting", s.waits(3, "battery-rest-volts", "12.42"), script).want(t, 200)
	word := strings.TrimPrefix(drawn, hereCookie+"=")
	var got []string
	for _, e := range s.events(t, at) {
		got = append(got, e.Device)
	}
	if want := []string{word, "Tablet, bay 2 (Größe)", word, ""}; !slices.Equal(got, want) {
		t.Errorf("recorded from %q, want %q", got, want)
	}
	s.get(t, at+"/record").want(t, 200, word, "Tablet, bay 2 (Größe)")
}

// TestDeviceNames: what cannot be a name is told at its box and changes nothing; no name
// lets the device have a drawn word again; a cookie that somebody made up counts for none.
func TestDeviceNames(t *testing.T) {
	s := theShop(t)
	for _, name := range []string{strings.Repeat("ä", 41), "a\x00b", "a\nb", "\xff"} {
		a := s.ask(t, http.MethodPost, "/views", url.Values{"to": {"/keys"}, "device": {name}}).want(t, 422, `id="device-wrong"`)
		if hereOf(a) != "" {
			t.Errorf("%q is taken as %s", name, hereOf(a))
		}
		if r := httptestCookie(hereCookie, url.QueryEscape(name)); deviceOf(r) != "" {
			t.Errorf("a cookie of %q counts as %q", name, deviceOf(r))
		}
	}
	none := hereOf(s.ask(t, http.MethodPost, "/views", url.Values{"to": {"/keys"}, "device": {"  "}}).want(t, 303))
	if word := hereOf(s.ask(t, http.MethodGet, "/keys", nil, with(none))); !strings.HasPrefix(word, hereCookie+"=device-") {
		t.Errorf("a device without a name is given %q", word)
	}
	if hereOf(s.ask(t, http.MethodPost, "/views", url.Values{"to": {"/keys"}, "theme": {"sun"}}).want(t, 303)) != "" {
		t.Error("a view changes the device's name")
	}
}

func httptestCookie(name, value string) *http.Request {
	r := &http.Request{Header: http.Header{}}
	r.AddCookie(&http.Cookie{Name: name, Value: value})
	return r
}

// TestDoneOverSaysTheDevice: a form whose server died is recorded as from the device that
// sent it, and shows that to nobody as something typed.
func TestDoneOverSaysTheDevice(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:look-belt").form(t, at+"/readings", "v0", "sound and tight")
	r := httptestCookie(hereCookie, "Pit+phone")
	r.URL = &url.URL{Path: at + "/readings"}
	r.PostForm = f
	if !s.keepAsked(r, "T-device-"+f.Get("event")) {
		t.Fatal("the form is not kept")
	}
	if f.Has(heldDevice) {
		t.Error("what was sent is changed")
	}
	afterwards(t, s).overdue(t)
	events := s.events(t, at)
	if len(events) != 2 || events[1].Device != "Pit phone" {
		t.Errorf("recorded %+v", events[1:])
	}
	f.Set(heldDevice, "Pit phone")
	if shown := typed(f); slices.Contains(shown, "Pit phone") || slices.ContainsFunc(fields(f), func(x page.Field) bool { return x.Name == heldDevice }) {
		t.Errorf("shown as typed: %q", shown)
	}
}
