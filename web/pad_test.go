package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// keyed presses keys of the keypad.
func (b *tab) keyed(keys ...string) {
	b.t.Helper()
	for _, k := range keys {
		b.do("pressing "+k, chromedp.Click(chromedp.CSS(`.pad [data-key="`+k+`"]`)))
	}
}

// TestKeypad: with wet hands on a phone, every way in which a value may be given
// can be typed on the page's own keypad, on keys that a thumb hits; a bound that
// nobody expects is asked about.
func TestKeypad(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	at := s.newJob(t)
	b := open(browser(t), t, server.URL, 390, 844)
	b.emulates = []chromedp.EmulateViewportOption{chromedp.EmulateMobile, chromedp.EmulateTouch}
	b.size(phone)
	b.go_(at + "?key=do:battery-rest-volts")
	if !eval[bool](b, "matchMedia('(pointer: coarse)').matches") {
		t.Fatal("the browser does not take itself for a touch screen")
	}
	b.tick("#v0")
	b.until("the keypad", "getComputedStyle(document.querySelector('.pad')).display === 'grid'")
	if mode := eval[string](b, "document.querySelector('#v0').inputMode"); mode != "none" {
		t.Errorf("the device's own keyboard covers the page: %s", mode)
	}
	b.look("keypad")
	small := eval[[]string](b, `[...document.querySelectorAll('.pad button')].filter(k => { const r = k.getBoundingClientRect(); return r.width < 48 || r.height < 48 || k.scrollWidth > k.clientWidth }).map(k => k.innerText)`)
	if len(small) > 0 {
		t.Errorf("too small for a thumb, or its word does not fit: %v", small)
	}
	typed := func(want string, keys ...string) {
		t.Helper()
		b.keyed("clear")
		b.keyed(keys...)
		if got := eval[string](b, "document.querySelector('#v0').value"); strings.TrimSpace(got) != want {
			t.Errorf("%v gives %q, want %q", keys, got, want)
		}
	}
	typed("12.4", "1", "2", ".", "4")
	typed("-0.5", "-", "0", ".", "5")
	typed("over 20", "over", "2", "0")
	typed("over 20", "2", "0", "over")
	typed("under 20", "2", "0", "over", "under")
	typed("12.1 to 12.4", "1", "2", ".", "1", "to", "1", "2", ".", "4")
	typed("12.1 to 1", "1", "2", ".", "1", "to", "to", "1", "2", "back")
	typed("12.1", "1", "2", ".", "1", "to", "back")
	typed("", "over", "back")
	typed("over", "over")
	typed("", "to")
	typed("again", "7", "again")
	typed("5", "again", "5")

	// What nobody expects is asked about, kept as it was typed.
	typed("over", "over")
	b.press("#entry button.act")
	b.sees("Over 600", "Nobody expects more than", "Keep it as it is")
	if got := eval[string](b, "document.querySelector('#v0').value.trim()"); got != "over" {
		t.Errorf("the box holds %q", got)
	}
	b.look("over is asked about")
	b.tick("#v0")
	typed("12.1 to 12.4", "1", "2", ".", "1", "to", "1", "2", ".", "4")
	b.press("#entry button.act")
	b.sees("12.1", "12.4")
	b.go_(at + "/readings/r1/correct")
	b.tick("#v0")
	typed("under 12", "under", "1", "2")
	b.tick("#why")
	if mode := eval[string](b, "document.querySelector('#why').inputMode"); mode == "none" {
		t.Error("words cannot be typed")
	}
	b.type_("#why", "bounced")
	b.press("main form button.act")
	b.sees("under 12")
	if n := len(s.events(t, at)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}

// TestOverWithoutScript: without script and without letters on the keyboard, a
// bound is said with a tap beside the box.
func TestOverWithoutScript(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	for _, c := range []struct{ how, typed, shown string }{{"under", "12.5", "under 12.5"}, {"over", "11,9 V", "over 11.9"}, {"", "12.4", "12.40"}, {"over", "over 11", "over 11"}} {
		page := s.get(t, at+"?key=do:battery-rest-volts").want(t, 200, `name="how0" value="under"`)
		f := page.form(t, at+"/readings", "v0", c.typed, "u0", "V", "how0", c.how)
		to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
		s.get(t, to).want(t, 200, c.shown)
	}
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "", "u0", "V", "how0", "over")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 422, "Over 600", "Keep it as it is")
	for typed, says := range map[string]string{"under": "does not say under what", "12.1 to": "has one end only", "12.4 to 12.1": "from the higher to the lower"} {
		f = s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", typed, "u0", "V")
		s.ask(t, http.MethodPost, at+"/readings", f).want(t, 422, says, "“"+typed)
	}
}
