package web

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// ownBrowser starts a browser on a profile that outlives it, with one tab. kill ends
// it as a power cut would.
func ownBrowser(t *testing.T, profile, base string) (b *tab, kill func()) {
	t.Helper()
	all, end := chromedp.NewExecAllocator(context.Background(), chromiumOptions(chromiumProgram(t), profile)...)
	ctx, cancel := chromedp.NewContext(all)
	within, out := context.WithTimeout(ctx, 4*time.Minute)
	b = &tab{t: t, ctx: within, base: base, width: tablet[0], height: tablet[1]}
	gone := false
	kill = func() {
		if gone {
			return
		}
		gone = true
		if c := chromedp.FromContext(ctx); c != nil && c.Browser != nil && c.Browser.Process() != nil {
			_ = c.Browser.Process().Kill() // a browser that has ended by itself is as dead
		}
		out()
		cancel()
		end()
	}
	t.Cleanup(kill)
	if err := chromedp.Do(within, chromedp.EmulateViewport(b.width, b.height)); err != nil {
		t.Fatal(err)
	}
	return b, kill
}

// TestRestartWithReadingsWaiting: thirty readings wait on a device without a network
// when its browser is killed. Started anew, still without one, it shows the page and
// all thirty. Meanwhile somebody else has repaired something: when the network is back
// that is told, and whether they were taken before it is asked once. Then they are
// recorded in their order, each once, though an answer is lost on the way, count before
// the repair, and come onto the page of the other one; this one's page is loaded anew
// a few times and not thirty (thirty-one before it waited for the last).
func TestRestartWithReadingsWaiting(t *testing.T) {
	s := theShop(t)
	line := &wire{to: s.Server}
	server := httptest.NewServer(line)
	t.Cleanup(server.Close)
	server.Config.ErrorLog = nothing
	at := s.newJob(t)
	page := at + "?key=do:battery-rest-volts"
	before := len(s.events(t, at))
	profile, err := os.MkdirTemp("", "chargewright-web-profile-") //nolint:usetesting // what a killed browser had started may write for a moment yet
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(profile) })

	const waiting = "document.querySelector('#waiting').innerText"
	b, kill := ownBrowser(t, profile, server.URL)
	b.go_(page)
	b.until("the worker", "navigator.serviceWorker.controller !== null")
	b.go_(page) // seen through it
	line.cut.Store(true)
	server.CloseClientConnections()
	b.until("that the network is gone", "!document.querySelector('#lost').hidden")
	b.tick("#v0")
	var want []string
	for i := range 30 {
		value := fmt.Sprintf("12.%02d", 60-i)
		want = append(want, value)
		b.keys(value)
		b.keys(kb.Enter)
		b.until(value+" is kept", fmt.Sprintf("%s.includes('Not yet sent: %d reading')", waiting, i+1))
	}
	kill()

	b, _ = ownBrowser(t, profile, server.URL)
	b.go_(page)
	b.until("all of them, on the page as it was seen", "document.documentElement.dataset.kept && "+waiting+".includes('Not yet sent: 30 readings')")
	if got := eval[[]string](b, "[...document.querySelectorAll('#waiting li')].map(e => (e.textContent.match(/12[.][0-9]{2}/) || [''])[0])"); !slices.Equal(got, want) {
		t.Errorf("the device shows %v, want %v", got, want)
	}
	b.picture("thirty-waiting")
	if n := len(s.events(t, at)); n != before {
		t.Fatalf("%d events while there is no network, want %d", n, before)
	}
	fix := s.get(t, at+"/repair?mend=clean-clamps").form(t, "", "repair", "clean-clamps", "what", "clamps cleaned", "cured", "unknown")
	s.ask(t, http.MethodPost, at+"/repair", fix).want(t, 303)
	direct := httptest.NewServer(s)
	t.Cleanup(direct.Close)
	mender := open(browser(t), t, direct.URL, tablet[0], tablet[1])
	mender.go_(at + "/log")

	line.pages.Store(0)
	line.cut.Store(false)
	eval[bool](b, "dispatchEvent(new Event('online'))") // as a device says that its network is back
	b.until("what came meanwhile", waiting+".includes('Somebody else was here') && "+waiting+".includes('clamps cleaned')")
	if n := len(s.events(t, at)); n != before+1 {
		t.Fatalf("%d events before anybody decided, want %d", n, before+1)
	}
	before++ // the repair
	line.lose.Store(1)
	const earlier = "[...document.querySelectorAll('#waiting .decide button')].find(e => e.textContent === 'It was taken before the repair')"
	eval[bool](b, earlier+".click(), true")
	b.until("all are sent", fmt.Sprintf("document.readyState === 'complete' && document.querySelector('#waiting').hidden && document.documentElement.dataset.seq === '%d'", before+len(want)))
	mender.until("all of them at the other's", "document.querySelector('#log').innerText.includes('12.31')")
	events := s.events(t, at)[before:]
	x, err := s.open(t.Context(), at[len("/jobs/"):])
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range x.job.Readings {
		if r.Epoch != 0 {
			t.Errorf("reading %d counts after the repair", i+1)
		}
	}
	for i, e := range events {
		if e.Seen >= before || i > 0 && e.ID <= events[i-1].ID {
			t.Errorf("event %d: id %s, knowing %d", e.Seq, e.ID, e.Seen)
		}
	}
	if got := values(t, events, "battery-rest-volts"); !slices.Equal(got, want) || len(events) != len(want) {
		t.Errorf("recorded %v in %d events, want %v", got, len(events), want)
	}
	if n := line.pages.Load(); n > 4 {
		t.Errorf("the page was loaded %d times, want 4 at most: not after each reading", n)
	}
	if line.lost.Load() != 1 {
		t.Error("no answer was lost: the test has not seen what it is for")
	}
}
