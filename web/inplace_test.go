package web

import (
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// shows is sent for a reading whose page wants to show what is answered.
func (s *shop) shows(t *testing.T, at string, f url.Values, code int) (ok taken, no refused) {
	t.Helper()
	f.Set("show", "page")
	ok, _, no = s.sent(t, at, f, code)
	return ok, no
}

// look looks at what a reading would do, so that what it says of the causes is there
// when it is entered.
func (s *shop) look(t *testing.T, at string, f url.Values) {
	t.Helper()
	form := maps.Clone(f)
	form.Set("reading", "r1") // the job's first
	s.ask(t, http.MethodPost, at+"/preview", form).want(t, 200, "If this is entered")
}

// TestAnswerWithItsPage: a reading is answered with the page that it leads to,
// where the script asks for it; one that is not taken with its form as it was
// filled in. Sent again, the answer is the same.
func TestAnswerWithItsPage(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.waits(1, "battery-rest-volts", "12,41")
	s.look(t, at, f)
	plain, _, _ := s.sent(t, at, f, 200)
	if plain.Page != "" {
		t.Errorf("a page came that nobody asked for: %s", firstWords(plain.Page))
	}
	ok, _ := s.shows(t, at, f, 200)
	page := answer{200, ok.Page, nil}.want(t, 200, "<!doctype html>", `data-live="`+at+`/live"`, `data-seq="2"`, "What it did to the causes", "12.41")
	clean(t, page.body)
	if page.form(t, at+"/undo").Get("seen") != "2" || ok.To != at+"/readings/r1" || ok.Seq != 2 {
		t.Errorf("answered %+v", ok)
	}
	_, no := s.shows(t, at, s.waits(2, "charge-volts", "lots", "8"), 422)
	refusal := answer{422, no.Page, nil}.want(t, 422, "“lots”", "Write instead", `value="lots"`, `value="8"`, `aria-invalid="true"`)
	if got := refusal.form(t, at+"/readings"); got.Get("seen") != "2" || got.Get("key") != "do:charge-volts" {
		t.Errorf("its form holds %v", got)
	}
	_, no = s.shows(t, at, s.waits(2, "battery-rest-volts", "12400"), 422)
	answer{422, no.Page, nil}.want(t, 422, "Nobody expects", "Keep it as it is", `value="12400"`)
	// What cannot be is answered in words alone, which the plain form shows.
	if _, no = s.shows(t, at, s.waits(2, "none", "1"), 422); no.Page != "" || len(no.Say) != 1 {
		t.Errorf("told %q with a page of %d bytes", no.Say, len(no.Page))
	}
}

// TestAnswerBeforeTheNextStep: what a reading says is not held up by what comes next,
// which the page says of itself; both are the same in the end. On a job with
// somebody else's entry behind it the page is of all of it.
func TestAnswerBeforeTheNextStep(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.waits(1, "drop-feed", "1.98 V", "24.6 A")
	f.Set("sure", "yes")
	s.look(t, at, f)
	ok, _ := s.shows(t, at, f, 200)
	whole := s.get(t, ok.To).want(t, 200, "Next: ")
	if early := strings.Contains(ok.Page, "data-soon"); !early {
		t.Log("the next step was there within a moment: this run has not seen it come later")
	} else {
		answer{200, ok.Page, nil}.want(t, 200, `data-soon="`+ok.To+`"`, "Go on", "The next step is being worked out")
		if strings.Contains(whole.body, "data-soon") {
			t.Error("the page itself waits for a next step")
		}
	}
	if a, b := bare(ok.Page), bare(whole.body); a != b {
		t.Errorf("the early page is another:\n%s\nand\n%s", firstWords(a), firstWords(b))
	}
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	again, _ := s.shows(t, at, f, 200)
	answer{200, again.Page, nil}.want(t, 200, `data-seq="3"`, "Next: ")
	// A server that has no time for it answers without.
	hurried := hasty(t, s, time.Nanosecond)
	if late, _ := hurried.shows(t, at, f, 200); late.Page != "" || late.To != ok.To {
		t.Errorf("answered %+v", late)
	}
}

// bare is a page but for what differs between any two.
func bare(page string) string {
	_, page, _ = strings.Cut(page, "<main")
	for _, cut := range [][2]string{{`<a class="btn act wide left" id="next"`, "</a>"}, {`name="event" value="`, `"`}} {
		before, after, _ := strings.Cut(page, cut[0])
		_, after, _ = strings.Cut(after, cut[1])
		page = before + after
	}
	return page
}

// stays marks the page, and says whether it still stands: nothing was loaded anew.
func (b *tab) stays() func() {
	b.t.Helper()
	eval[bool](b, "window.stays = true")
	return func() {
		b.t.Helper()
		if !eval[bool](b, "window.stays === true") {
			b.t.Errorf("another page was loaded: %s", eval[string](b, "location.href"))
		}
	}
}

// onTest opens a job of its own in a tab at a test.
func (b *tab) onTest(s *shop, procedure string) string {
	b.t.Helper()
	at := s.newJob(b.t)
	b.go_(at + "?key=do:" + procedure)
	b.until("the page", "document.readyState === 'complete'")
	return at
}

// jobSeq waits until the page knows an event.
func (b *tab) jobSeq(n int) {
	b.t.Helper()
	b.until(fmt.Sprintf("event %d", n), "document.readyState === 'complete' && document.documentElement.dataset.seq === '"+strconv.Itoa(n)+"'")
}

// TestInPlace: in a browser an answer comes into the page that stands there, and
// everything about the page is then as if it had been loaded.
func TestInPlace(t *testing.T) {
	s := theShop(t)
	line := &wire{to: serverFor(t, s, false)}
	server := httptest.NewServer(line)
	t.Cleanup(server.Close)
	server.Config.ErrorLog = nothing
	for name, test := range map[string]func(*tab, *shop, *wire){
		"answer": (*tab).answerInPlace, "refused": (*tab).refusedInPlace, "somebody else": (*tab).beatenInPlace, "cut": (*tab).cutInPlace, "nothing kept": (*tab).keptNowhere,
	} {
		t.Run(name, func(t *testing.T) {
			b := open(browser(t), t, server.URL, tablet[0], tablet[1])
			test(b, s, line)
			b.mu.Lock()
			defer b.mu.Unlock()
			for _, x := range b.said {
				if !strings.Contains(x, "net::ERR_") && !strings.Contains(x, "status of 409") { // the network was cut
					t.Errorf("the browser complained: %s", x)
				}
			}
		})
	}
}

// answerInPlace: title, address, focus, causes, the next step, news, way back and
// forth, loading again, taking back.
func (b *tab) answerInPlace(s *shop, _ *wire) {
	at := b.onTest(s, "battery-rest-volts")
	stands := b.stays()
	b.tick("#v0")
	b.keys("12.41" + kb.Enter)
	b.jobSeq(2)
	stands()
	b.focused("h1.verdict")
	b.until("the causes", "document.querySelector('main').innerText.includes('What it did to the causes')")
	b.sees("12.41")
	b.until("the next step", "document.querySelector('#next').innerText.startsWith('Next: ')")
	if got := eval[string](b, "location.pathname + ' ' + document.title.split(' · ')[0] + ' ' + scrollY"); got != at+"/readings/r1 What it says 0" {
		b.t.Errorf("it stands at %s", got)
	}
	if n := eval[int64](b, "document.querySelectorAll('main, h1, footer').length"); n != 3 {
		b.t.Errorf("%d parts of a page stand there, want 3", n)
	}
	b.until("nothing waits", "document.querySelector('#waiting').hidden")
	b.look("in-place")
	stands() // nothing of its own was taken for news

	b.do("back", chromedp.Evaluate[chromedp.Void]("history.back()"))
	b.until("the job as it is now", "!window.stays && location.search.includes('battery-rest-volts')")
	b.jobSeq(2)
	b.sees("after 1 reading")
	b.do("and forth", chromedp.Evaluate[chromedp.Void]("history.forward()"))
	b.until("the answer", "location.pathname.endsWith('/readings/r1') && !!document.querySelector('h1.verdict')")
	b.jobSeq(2)
	b.do("loading again", chromedp.Evaluate[chromedp.Void]("location.reload()"))
	b.until("the answer again", "document.readyState === 'complete' && !!document.querySelector('h1.verdict')")

	// Straight on from one: the next, the news of another device, taken back.
	b.go_(at + "?key=do:battery-rest-volts")
	stands = b.stays()
	b.tick("#v0")
	b.keys("12.45" + kb.Enter)
	b.jobSeq(3)
	stands()
	s.read(b.t, at, "look-belt", "sound and tight").want(b.t, 303)
	b.until("the other's entry", "!window.stays && location.pathname.endsWith('/readings/r2')")
	b.jobSeq(4)
	b.go_(at + "?key=do:battery-rest-volts")
	b.tick("#v0")
	b.keys("12.47" + kb.Enter)
	b.jobSeq(5)
	b.until("the next step", "document.querySelector('#next').innerText.startsWith('Next: ')")
	b.press("form[action$='/undo'] button")
	b.jobSeq(6)
	b.sees("after 3 readings")
	if got := values(b.t, s.events(b.t, at), "battery-rest-volts"); !slices.Equal(got, []string{"12.41", "12.45", "12.47"}) {
		b.t.Errorf("recorded %v", got)
	}
}

// refusedInPlace: what is not understood stays in its box, with why; what nobody
// expects is asked about; mended, it is recorded once.
func (b *tab) refusedInPlace(s *shop, _ *wire) {
	at := b.onTest(s, "battery-rest-volts")
	stands := b.stays()
	b.tick("#v0")
	b.keys("12 apples" + kb.Enter)
	b.until("why not", "document.querySelector('#v0').matches('[aria-invalid=true]')")
	b.sees("Write instead")
	b.focused("#v0")
	if got := eval[string](b, "document.querySelector('#v0').value + ' ' + location.search"); got != "12 apples ?key=do:battery-rest-volts" {
		b.t.Errorf("it stands as %s", got)
	}
	b.look("refused-in-place")
	b.empty("#v0")
	b.keys("124")
	b.until("the look", "document.querySelector('#preview').innerText.includes('Nobody expects')")
	b.empty("#v0")
	b.keys("125" + kb.Enter) // before the look at it
	b.until("the question", "document.activeElement.matches('#preview [role=alert]') && document.activeElement.innerText.includes('Nobody expects')")
	stands()
	if n := len(s.events(b.t, at)); n != 1 {
		b.t.Errorf("%d events before it was answered", n)
	}
	b.until("nothing waits", "document.querySelector('#waiting').hidden")
	b.press("#preview button[name=sure]")
	b.jobSeq(2)
	stands()
	b.focused("h1.verdict")
	if got := values(b.t, s.events(b.t, at), "battery-rest-volts"); !slices.Equal(got, []string{"125.00"}) {
		b.t.Errorf("recorded %v", got)
	}
}

// beatenInPlace: another device enters something while somebody types. Both stand
// there, and what was typed is entered on top when it is said.
func (b *tab) beatenInPlace(s *shop, _ *wire) {
	at := b.onTest(s, "battery-rest-volts")
	stands := b.stays()
	b.tick("#v0")
	b.keys("12.41")
	s.read(b.t, at, "look-belt", "sound and tight").want(b.t, 303)
	b.until("that somebody was there", "!document.querySelector('#somebody').hidden")
	b.keys(kb.Enter)
	b.until("both", "document.querySelector('#waiting').innerText.includes('Somebody else was here')")
	stands()
	b.focused("#waiting h3")
	b.sees("Belt", "12.41 V", "Enter mine on top")
	if n := len(s.events(b.t, at)); n != 2 {
		b.t.Errorf("%d events before anybody decided", n)
	}
	b.look("beaten-in-place")
	b.tick("#waiting .decide button.act")
	b.jobSeq(3)
	if got := values(b.t, s.events(b.t, at), "battery-rest-volts"); !slices.Equal(got, []string{"12.41"}) {
		b.t.Errorf("recorded %v", got)
	}
}

// cutInPlace: the network goes between Enter and the answer, before or after the
// server has heard of it. It waits on the device, and is recorded once. (A browser
// sends again by itself what broke off on a connection that it had used before.)
func (b *tab) cutInPlace(s *shop, w *wire) {
	for i, cut := range []func(){func() { w.lose.Store(50) }, func() { w.cut.Store(true) }} {
		at := b.onTest(s, "battery-rest-volts")
		stands := b.stays()
		b.tick("#v0")
		cut()
		b.keys("12.41" + kb.Enter)
		b.until("that it is kept", "document.querySelector('#told').textContent.includes('Kept on this device: 12.41 V') && document.querySelector('#waiting').innerText.includes('Not yet sent: 1 reading')")
		stands()
		b.focused("#v0")
		if got := eval[string](b, "document.querySelector('#v0').value"); got != "" {
			b.t.Errorf("%s stands in the box still", got)
		}
		b.sees("No connection since", "12.41 V")
		if n := len(s.events(b.t, at)); n != 2-i {
			b.t.Errorf("%d events, want %d: the test has not seen what it is for", n, 2-i)
		}
		w.cut.Store(false)
		w.lose.Store(0)
		eval[bool](b, "dispatchEvent(new Event('online')), true")
		b.until("it is sent", "document.querySelector('#waiting').hidden")
		b.jobSeq(2)
		if got := values(b.t, s.events(b.t, at), "battery-rest-volts"); !slices.Equal(got, []string{"12.41"}) || len(s.events(b.t, at)) != 2 {
			b.t.Errorf("recorded %v", got)
		}
	}
}

// keptNowhere: a device that keeps nothing sends the plain form, and one whose disk
// fails while the reading is on its way shows the answer all the same. Neither
// records anything twice.
func (b *tab) keptNowhere(s *shop, w *wire) {
	for name, breaks := range map[string]string{
		"no place":                  "IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); }",
		"fails later":               "const add = IDBObjectStore.prototype.add; IDBObjectStore.prototype.add = function (x) { const q = add.call(this, x); q.addEventListener('success', () => this.transaction.abort()); return q; }",
		"fails, and the answer too": "const add = IDBObjectStore.prototype.add; IDBObjectStore.prototype.add = function (x) { const q = add.call(this, x); q.addEventListener('success', () => this.transaction.abort()); return q; }",
	} {
		at := b.onTest(s, "battery-rest-volts")
		eval[bool](b, breaks+"; true")
		if strings.HasPrefix(name, "fails, and") {
			w.lose.Store(50)
		}
		b.tick("#v0")
		b.keys("12.41" + kb.Enter)
		if w.lose.Load() > 0 {
			b.until(name+": the plain form", "document.querySelector('#told') && !document.querySelector('#reading')")
			w.lose.Store(0)
		}
		b.until(name+": an answer", "document.readyState === 'complete' && /12.41|sent before/.test(document.querySelector('main').innerText) && !document.querySelector('#reading')")
		if got := values(b.t, s.events(b.t, at), "battery-rest-volts"); !slices.Equal(got, []string{"12.41"}) {
			b.t.Errorf("%s: recorded %v", name, got)
		}
	}
}
