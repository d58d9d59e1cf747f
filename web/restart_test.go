package web

import (
	"context"
	"fmt"
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
// all thirty; when the network is back they are recorded in their order, each
// once, though an answer is lost on the way, and the page is loaded anew a few times
// and not thirty (thirty-one before it waited for the last).
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
	line.lose.Store(1)
	line.pages.Store(0)
	line.cut.Store(false)
	eval[bool](b, "dispatchEvent(new Event('online'))") // as a device says that its network is back
	b.until("all are sent", fmt.Sprintf("document.readyState === 'complete' && document.querySelector('#waiting').hidden && document.documentElement.dataset.seq === '%d'", before+len(want)))
	events := s.events(t, at)[before:]
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
