package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"chargewright/account"
	"chargewright/job"
)

// wire is what lies between a device and its server. It can be cut, it can lose
// an answer after the server has done its work, and the server behind it can be
// killed and another one started in its place.
type wire struct {
	mu   sync.Mutex
	to   *Server
	cut  atomic.Bool
	lose atomic.Int64 // so many answers to readings are lost
	lost atomic.Int64

	pages atomic.Int64 // that were asked for while it was not cut
}

func (w *wire) ServeHTTP(out http.ResponseWriter, r *http.Request) {
	w.mu.Lock()
	to := w.to
	w.mu.Unlock()
	if w.cut.Load() {
		panic(http.ErrAbortHandler)
	}
	if r.Header.Get("Sec-Fetch-Dest") == "document" {
		w.pages.Add(1)
	}
	if strings.HasSuffix(r.URL.Path, "/waiting") && w.lose.Add(-1) >= 0 {
		to.ServeHTTP(httptest.NewRecorder(), r)
		w.lost.Add(1)
		panic(http.ErrAbortHandler)
	}
	to.ServeHTTP(out, r)
}

// serverFor is a server of its own on a workshop: it knows nothing of what others
// have worked out but the system's first predictions.
func serverFor(t *testing.T, s *shop, signIn bool) *Server {
	t.Helper()
	c := s.Config
	c.AtOnce = 0
	sys, err := s.Shelf.System(theSystem)
	if err != nil {
		t.Fatal(err)
	}
	if c.Ready, err = s.systems.remember(sys, true).prepare(); err != nil {
		t.Fatal(err)
	}
	if signIn {
		c.Accounts = s.accounts
	}
	again, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(again.Close)
	return again
}

// killed puts another server in the place of the one that was there, whose open
// pages break off.
func (w *wire) killed(t *testing.T, s *shop) {
	t.Helper()
	again := serverFor(t, s, w.to.Accounts != nil)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.to.EndLive()
	w.to = again
}

// byRule are the parameters of Network.emulateNetworkConditionsByRule as Chromium
// 148 wants them; cdproto 0.159 lacks the first.
type byRule struct {
	Offline bool                  `json:"offline"`
	Rules   []*network.Conditions `json:"matchedNetworkConditions"`
}

var emulateByRule = cdp.Command[byRule, cdp.Empty]{Method: network.CommandEmulateNetworkConditionsByRule}

// offline cuts the network of the tab, or gives it back; of its worker the wire is cut.
func (b *tab) offline(is bool) {
	b.t.Helper()
	rules := []*network.Conditions{}
	if is {
		rules = append(rules, &network.Conditions{Offline: true, DownloadThroughput: -1, UploadThroughput: -1})
	}
	b.do("the network", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
		if err == nil {
			_, err = chromedp.Call(ctx, emulateByRule, byRule{Offline: is, Rules: rules})
		}
		if err == nil {
			_, err = chromedp.Call(ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: is, DownloadThroughput: -1, UploadThroughput: -1})
		}
		return err
	}))
}

// values are the first values of a job's readings of a procedure, in the journal's
// order.
func values(t *testing.T, events []job.Event, procedure string) (out []string) {
	t.Helper()
	for _, e := range events {
		var b job.ReadingBody
		if e.Kind != job.Took {
			continue
		}
		if err := json.Unmarshal(e.Body, &b); err != nil {
			t.Fatal(err)
		}
		if b.Procedure == procedure {
			out = append(out, fmt.Sprintf("%.2f", b.Values[0].X))
		}
	}
	return out
}

// withoutConnection is the middle of a job: the network goes, readings are
// entered, the page is loaded again, somebody else goes on meanwhile, the network
// comes back, an answer is lost, the server is killed. Nothing is lost, nothing
// stands twice, everything in its order, and each is told in words.
func (b *tab) withoutConnection(s *shop, w *wire, at string) {
	const waiting = "document.querySelector('#waiting').innerText"
	enter := func(text string, n int) {
		b.t.Helper()
		b.keys(text)
		b.keys(kb.Enter)
		b.until(text+" is kept", fmt.Sprintf("%s.includes('Not yet sent: %d reading')", waiting, n))
		b.focused("#v0") // the next one can be typed
	}
	b.go_(at + "?key=do:battery-rest-volts")
	b.until("the worker", "navigator.serviceWorker.controller !== null")
	before := s.events(b.t, at)
	b.offline(true)
	b.until("that it is known", "!document.querySelector('#lost').hidden")
	b.sees("No connection since", "waits on this device and is sent when the connection is back")
	b.tick("#v0")
	enter("12.41", 1)
	enter("12.4.3", 2) // nobody understands this; the server will say so
	eval[bool](b, "document.querySelector('.steps > li:last-of-type input').click(), true")
	b.until("ticks are said to be the page's own", "document.querySelector('#told').textContent.includes('Ticked on this page only')")
	b.tick("form[action$='/undo'] button")
	b.until("other forms wait", "document.body.innerText.includes('this cannot be sent now')")
	b.look("offline")

	// The page is loaded again: the last one seen, its form, and what waits.
	w.cut.Store(true)
	eval[bool](b, "window.before = true")
	b.do("loading again", chromedp.Evaluate[chromedp.Void]("location.reload()"))
	b.until("the page as it was seen", "!window.before && document.readyState === 'complete' && "+waiting+".includes('Not yet sent: 2 readings')")
	b.sees("No connection since", "Hook-up now", "Likely causes")
	b.tick("#v0")
	enter("12.44", 3)
	b.do("unfolding", chromedp.Click(chromedp.CSS("#waiting summary")))
	b.sees("not yet sent", "12.41 V", "12.4.3 V", "12.44 V", "Change it", "Do not send it")
	b.look("waiting")
	b.go_(at + "/repair")
	b.sees("No connection", "not seen on this device before")
	b.go_(at + "?key=do:battery-rest-volts")
	b.tick("#v0")
	enter("12.47", 4)

	// Somebody else enters something; then the network is back.
	s.read(b.t, at, "look-belt", "sound and tight").want(b.t, 303)
	w.lose.Store(1)
	w.cut.Store(false)
	b.offline(false)
	b.until("both versions, on a page from now", "!document.documentElement.dataset.kept && document.readyState === 'complete' && "+waiting+".includes('Somebody else was here')")
	b.sees("Belt", "12.41 V", "Enter mine on top", "Do not send it")
	if n := len(s.events(b.t, at)); n != len(before)+1 {
		b.t.Errorf("%d events before anybody decided, want %d", n, len(before)+1)
	}
	b.look("between")
	b.do("to what is asked", chromedp.Evaluate[chromedp.Void]("document.querySelector('#waiting .decide h3').focus()"))
	b.tabOn("#waiting .decide button.act", 4, kb.Tab)
	b.keys(kb.Enter)
	b.until("the server's words", waiting+".includes('does not understand this reading') && "+waiting+".includes('Write instead')")
	if w.lost.Load() != 1 {
		b.t.Error("no answer was lost: the test has not seen what it is for")
	}
	b.look("mending")
	w.killed(b.t, s)
	if w.to.Accounts != nil { // and the session has ended
		b.endSession(s, waiting)
	}
	b.empty("#waiting input[name=v0]")
	b.keys("12.43")
	b.keys(kb.Enter)
	b.until("all are sent", "document.querySelector('#waiting').hidden && document.readyState === 'complete'")
	b.until("the page is up to date", fmt.Sprintf("document.documentElement.dataset.seq === '%d'", len(before)+5))

	events := s.events(b.t, at)
	if got := values(b.t, events[len(before):], "battery-rest-volts"); !slices.Equal(got, []string{"12.41", "12.43", "12.44", "12.47"}) || len(events) != len(before)+5 {
		b.t.Errorf("recorded %v, %d events, want the four in their order and the other's, %d", got, len(events), len(before)+5)
	}
	seen := map[string]bool{}
	for i, e := range events[len(before)+1:] {
		if seen[e.ID] || e.At.IsZero() || len(e.ID) != 36 || e.Seen < len(before) {
			b.t.Errorf("event %d: id %s, taken %v, knowing %d", e.Seq, e.ID, e.At, e.Seen)
		}
		if last := events[len(before)+i]; i > 0 && (e.At.Before(last.At) || e.ID < last.ID) {
			b.t.Errorf("event %d was taken before the one that it follows", e.Seq)
		}
		seen[e.ID] = true
	}
}

// endSession ends every session and signs in again from what waits.
func (b *tab) endSession(s *shop, waiting string) {
	b.t.Helper()
	if err := s.accounts.SignOutEverywhere(b.t.Context(), s.owner(b.t)); err != nil {
		b.t.Fatal(err)
	}
	b.empty("#waiting input[name=v0]")
	b.keys("12.4.3")
	b.keys(kb.Enter)
	b.until("that the session has ended", waiting+".includes('The session has ended')")
	b.look("signed-out")
	b.press("#waiting a.act")
	b.until("whose they are", waiting+".includes('Entered by Owner') && "+waiting+".includes('when Owner signs in here')") // nobody is signed in
	b.signIn()
	b.until("the queue went on", waiting+".includes('does not understand this reading')")
}

func (b *tab) signIn() {
	b.t.Helper()
	b.type_("#name", "Owner")
	b.type_("#password", "a lamp on the wing")
	b.press("main form button.act")
}

// owner is the id of the owner of a workshop, who is made when there is none.
func (s *shop) owner(t *testing.T) string {
	t.Helper()
	has, err := s.accounts.HasOwner(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !has {
		token, _, err := s.accounts.OwnerLink(t.Context())
		if err == nil {
			_, err = s.accounts.Claim(t.Context(), token, "Owner", "a lamp on the wing")
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	token, session, err := s.accounts.SignIn(t.Context(), "Owner", "a lamp on the wing", account.From{Address: "192.0.2.7"})
	if err == nil {
		err = s.accounts.SignOut(t.Context(), token)
	}
	if err != nil {
		t.Fatal(err)
	}
	return session.Account.ID
}
