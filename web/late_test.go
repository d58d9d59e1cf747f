package web

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"chargewright/journal"
)

// hasty is a second server on a workshop that waits for no page.
func hasty(t *testing.T, s *shop, patience time.Duration) *shop {
	t.Helper()
	c := s.Config
	c.Patience, c.AtOnce = patience, 0
	again, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(again.Close)
	return &shop{Server: again, book: s.book, accounts: s.accounts, db: s.db}
}

var refresh = regexp.MustCompile(`<meta http-equiv="refresh" content="0; url=([^"]+)">`)

// follow loads what a page asks for until it is no longer being worked on, as a
// browser without script does. It says how often it was told to come again.
func (s *shop) follow(t *testing.T, a answer, change ...func(*http.Request)) (answer, int) {
	t.Helper()
	for n := 0; ; n++ {
		if a.code != 202 {
			return a, n
		}
		a.want(t, 202, "Working it out", "comes by itself")
		clean(t, a.body)
		m := refresh.FindStringSubmatch(a.body)
		if m == nil || n > 60 {
			t.Fatalf("after %d pages nothing is asked for again:\n%s", n, firstWords(a.body))
		}
		a = s.ask(t, http.MethodGet, strings.ReplaceAll(m[1], "&amp;", "&"), nil, change...)
	}
}

// TestFirstJobShowsProgress: the first job of a kind is worked on for longer than
// anyone waits without a sign. A page says so, without script, and the job comes
// after it; nothing that it says is worked out twice or shown twice.
func TestFirstJobShowsProgress(t *testing.T) {
	cold := coldShop(t)
	s := hasty(t, cold, 20*time.Millisecond)
	at := s.newJob(t)
	began := time.Now()
	first := s.get(t, at+"?key=do:drop-feed").want(t, 202, "The first time this takes some seconds")
	if took := time.Since(began); took > time.Second {
		t.Errorf("the first sign came after %v", took)
	}
	a, told := s.follow(t, first)
	a.want(t, 200, "Hook-up now", "Likely causes")
	t.Logf("the job after %v, told to come again %d times", time.Since(began).Round(10*time.Millisecond), told)
	b, _ := s.follow(t, s.get(t, at+"?key=do:drop-feed"))
	if one, two := a.form(t, at+"/readings").Get("event"), b.form(t, at+"/readings").Get("event"); one == two {
		t.Errorf("two pages have forms of the same id %s", one)
	}
	if n := len(s.lates.by); n != 0 {
		t.Errorf("%d answers are kept that were fetched", n)
	}
}

// TestSlowForm: a form that takes long records once, and its answer comes after
// the page that says so: on to the result, or what was wrong with it, with the
// form as it was filled in.
func TestSlowForm(t *testing.T) {
	whole := theShop(t)
	s := hasty(t, whole, time.Nanosecond)
	at := whole.newJob(t)
	f := whole.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.41", "u0", "V")
	a, told := s.follow(t, s.ask(t, http.MethodPost, at+"/readings", f))
	if a.want(t, 303).Get("Location") != at+"/readings/r1" || told == 0 {
		t.Errorf("led to %s after %d pages", a.Get("Location"), told)
	}
	again, _ := s.follow(t, s.ask(t, http.MethodPost, at+"/readings", f)) // a second tap
	if again.want(t, 303).Get("Location") != at+"/readings/r1" || len(s.events(t, at)) != 2 {
		t.Errorf("%d events after it was sent twice", len(s.events(t, at)))
	}
	wrong := whole.get(t, at+"/repair").form(t, at+"/repair", "what", "pin A was green")
	first := s.ask(t, http.MethodPost, at+"/repair", wrong).want(t, 202, "do not send it again")
	a, _ = s.follow(t, first)
	a.want(t, 422, "Say whether the complaint is gone", "pin A was green", `action="`+at+`/repair"`)
	if to := refresh.FindStringSubmatch(first.body)[1]; !strings.HasPrefix(to, "/later/") || len(to) < 30 {
		t.Errorf("it is fetched at %s, which could be guessed", to)
	}
	// What a script asks for, and what is no form of a page, is answered in one.
	s.ask(t, http.MethodPost, at+"/preview", f, func(r *http.Request) { r.Header.Set("HX-Request", "true") }).want(t, 200)
	big := s.ask(t, http.MethodPost, at+"/repair", url.Values{"what": {strings.Repeat("x", mostBody)}})
	big.want(t, 413, "too large")
}

// TestOnesOwnAnswer: the answer to somebody's form is shown to nobody else.
func TestOnesOwnAnswer(t *testing.T) {
	whole, _ := signedShop(t)
	s := hasty(t, whole, time.Nanosecond)
	as := with(session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp on the wing")).want(t, 303)))
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, as).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, as).want(t, 303).Get("Location")
	page, _ := s.follow(t, s.ask(t, http.MethodGet, at+"/repair", nil, as), as)
	first := s.ask(t, http.MethodPost, at+"/repair", page.want(t, 200).form(t, at+"/repair", "what", "private"), as).want(t, 202)
	to := refresh.FindStringSubmatch(first.body)[1]
	s.get(t, to).want(t, 303) // to the sign-in
	a, _ := s.follow(t, first, as)
	a.want(t, 422, "private")
	// The same address, asked for by somebody else who is signed in.
	other := httptest.NewRequestWithContext(t.Context(), http.MethodGet, to, nil)
	w := httptest.NewRecorder()
	s.later(w, other)
	if w.Code != 404 || strings.Contains(w.Body.String(), "private") {
		t.Errorf("a stranger is shown %d %s", w.Code, firstWords(w.Body.String()))
	}
}

// TestAnotherServerAnswers: what one server was sent and works on, another one
// answers as well, also when the first has died meanwhile; it is recorded once.
func TestAnotherServerAnswers(t *testing.T) {
	whole := theShop(t)
	one, two := hasty(t, whole, time.Nanosecond), hasty(t, whole, time.Second)
	at := whole.newJob(t)
	f := whole.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.41", "u0", "V")
	first := one.ask(t, http.MethodPost, at+"/readings", f).want(t, 202)
	for range 2 {
		a, _ := two.follow(t, first)
		if a.want(t, 303).Get("Location") != at+"/readings/r1" {
			t.Errorf("led to %s", a.Get("Location"))
		}
	}
	if n := len(one.events(t, at)); n != 2 {
		t.Errorf("%d events, want 2", n)
	}
	// One that could not be taken is shown as it was filled in.
	wrong := whole.get(t, at+"/repair").form(t, at+"/repair", "what", "pin A was green")
	a, _ := two.follow(t, one.ask(t, http.MethodPost, at+"/repair", wrong).want(t, 202))
	a.want(t, 422, "Say whether the complaint is gone", "pin A was green")
	// Kept, and then the server died before it had done anything.
	g := whole.get(t, at+"?key=do:look-belt").form(t, at+"/readings", "v0", "sound and tight")
	if err := whole.book.KeepAsked(t.Context(), journal.Asked{Ticket: "DIED" + g.Get("event"), Target: at + "/readings", Form: g.Encode()}, nil); err != nil {
		t.Fatal(err)
	}
	a, _ = two.follow(t, two.get(t, "/later/DIED"+g.Get("event")))
	a.want(t, 303)
	if n := len(two.events(t, at)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
	// What is no such form is not done, whatever was kept.
	if err := whole.book.KeepAsked(t.Context(), journal.Asked{Ticket: "OUT" + g.Get("event"), Target: "/sign-out", Form: ""}, nil); err != nil {
		t.Fatal(err)
	}
	two.get(t, "/later/OUT"+g.Get("event")).want(t, 404)
}

// TestNotTooManyAtOnce: what finds no room is answered when it is ready.
func TestNotTooManyAtOnce(t *testing.T) {
	whole := theShop(t)
	s := hasty(t, whole, time.Nanosecond)
	at := whole.newJob(t)
	for i := range mostLate {
		s.lates.by[strings.Repeat("x", i)] = &late{done: make(chan struct{})}
	}
	s.get(t, at).want(t, 200, "Hook-up now")
	if len(s.lates.by) != mostLate {
		t.Errorf("%d are kept", len(s.lates.by))
	}
}

// TestBrokenOffBehind: a page that breaks off while nobody waits is answered, and
// the program goes on.
func TestBrokenOffBehind(t *testing.T) {
	s := hasty(t, theShop(t), time.Nanosecond)
	for name, why := range map[string]any{"a panic": "why", "what net/http breaks off with": http.ErrAbortHandler} {
		h := s.patient(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic(why) }))
		code := 202
		for n := 0; code == 202 && n < 50; n++ {
			w := httptest.NewRecorder()
			h.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/jobs/x", nil))
			code = w.Code
		}
		if code != 500 {
			t.Errorf("%s: answered %d", name, code)
		}
	}
}

// TestProgressInABrowser: without script the page that says so is seen, looked at
// by axe, and gives way to the job by itself.
func TestProgressInABrowser(t *testing.T) {
	cold := coldShop(t)
	s := hasty(t, cold, 100*time.Millisecond)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	at := s.newJob(t)
	b := open(browser(t), t, server.URL, 390, 844)
	b.do("turning script off", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	over := s.occupied() // else it may be there before the sign was looked for
	defer over()
	b.go_(at)
	b.until("the sign that it is worked on", "document.body.innerText.includes('Working it out') && document.body.innerText.includes('The page comes by itself')")
	over()
	b.until("the job", "document.readyState === 'complete' && document.body.innerText.includes('Likely causes')")
	if path := eval[string](b, "location.pathname"); path != at {
		t.Errorf("the job stands at %s, want %s", path, at)
	}
	if n := eval[int64](b, "history.length"); n > 2 {
		t.Errorf("the way back leads through %d pages", n)
	}
	// The page itself, held still to be looked at. (Of asking again axe says that it
	// must be at once or after a day, which follow has seen.)
	w := httptest.NewRecorder()
	s.notYet(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, at, nil), at)
	still := httptest.NewServer(http.HandlerFunc(func(to http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/static/") {
			s.ServeHTTP(to, r)
			return
		}
		to.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = to.Write(refresh.ReplaceAll(w.Body.Bytes(), nil))
	}))
	t.Cleanup(still.Close)
	b.do("turning script on", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: false})
		return err
	}))
	b.base = still.URL
	b.go_("/")
	b.look("working-held")
}
