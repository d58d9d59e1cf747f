package web

import (
	"context"
	"fmt"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"chargewright/internal/sample"
)

// keys presses keys where the focus is: each as one event with its letter, so that
// a key that the page takes for itself types nothing, as with a real keyboard.
func (b *tab) keys(text string) {
	b.t.Helper()
	b.do(fmt.Sprintf("pressing %q", text), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		for _, r := range text {
			events := kb.Encode(r)
			down, up := *events[0], *events[len(events)-1]
			if len(events) == 3 {
				down.Text, down.UnmodifiedText = events[1].Text, events[1].UnmodifiedText
			}
			for _, e := range []input.DispatchKeyEventParams{down, up} {
				if _, err := chromedp.Call(ctx, input.DispatchKeyEvent, e); err != nil {
					return err
				}
			}
		}
		return nil
	}))
}

// empty takes everything out of a box, as a hand does.
func (b *tab) empty(selector string) {
	b.t.Helper()
	b.tick(selector)
	b.do("marking all", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: "keyDown", Key: "a", Code: "KeyA", Commands: []string{"selectAll"}, Modifiers: 2})
		return err
	}))
	b.keys(kb.Backspace)
}

// covered is what hides the thing that has the focus; "" when it can be seen.
const covered = `(() => {
	const e = document.activeElement, r = e.getBoundingClientRect();
	if (e === document.body) return '';
	const x = Math.min(Math.max(r.left + r.width / 2, 1), innerWidth - 2), y = r.top + Math.min(r.height / 2, 24);
	if (y < 0 || y > innerHeight || r.right < 0 || r.left > innerWidth) return 'it is off the screen at ' + Math.round(r.left) + ', ' + Math.round(r.top);
	const top = document.elementFromPoint(x, y);
	const near = e.closest('label') || e;
	if (!top || near === top || near.contains(top) || top.contains(e) && !top.closest('.entry, .live')) return '';
	return top.tagName + '.' + top.className + ' lies on it';
})()`

// tabTo presses Tab until a thing has the focus. What has it on the way must be
// seen.
func (b *tab) tabTo(selector string) {
	b.t.Helper()
	b.tabOn(selector, 160, kb.Tab)
}

func (b *tab) tabOn(selector string, most int, key string) {
	b.t.Helper()
	for range most {
		b.keys(key)
		if hides := eval[string](b, covered); hides != "" {
			b.t.Errorf("%s: %s has the focus, and %s", eval[string](b, "location.pathname"), eval[string](b, "document.activeElement.outerHTML.slice(0, 120)"), hides)
		}
		if eval[bool](b, "document.activeElement.matches("+fmt.Sprintf("%q", selector)+")") {
			return
		}
	}
	b.t.Fatalf("Tab does not lead to %s\n%s", selector, b.text())
}

// enters presses Enter and waits for the page that follows.
func (b *tab) enters() {
	b.t.Helper()
	eval[bool](b, "document.querySelector('main').pageBefore = true")
	b.keys(kb.Enter)
	b.until("the page after Enter", "document.readyState === 'complete' && !document.querySelector('main').pageBefore")
}

// focused says what has the focus.
func (b *tab) focused(want string) {
	b.t.Helper()
	if !eval[bool](b, "document.activeElement.matches("+fmt.Sprintf("%q", want)+")") {
		b.t.Errorf("%s has the focus, want %s", eval[string](b, "document.activeElement.outerHTML.slice(0, 160)"), want)
	}
}

// TestByKeyboard does a whole job without a pointer, from the list to the signed
// sheet, with Tab, blank, arrows, Enter and the single keys: on a small screen,
// where what has the focus is covered soonest, with CHARGEWRIGHT_ALL on a tablet's
// too.
func TestByKeyboard(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	for _, size := range sample.Part([][2]int64{phone, tablet}, 0, 2) {
		t.Run(fmt.Sprint(size[0]), func(t *testing.T) {
			b := open(browser(t), t, server.URL, size[0], size[1])
			b.jobByKeyboard()
		})
	}
}

func (b *tab) jobByKeyboard() {
	b.go_("/")
	b.keys(kb.Tab)
	b.focused("a.skip")
	b.tabTo("a.btn.act")
	b.enters()
	b.tabTo("input[name=kind]")
	b.keys(" ")
	b.keys(kb.ArrowDown)
	b.tabTo("#words")
	b.keys("dim lamps")
	b.tabTo("input[name=system]")
	b.keys(" ")
	for range 20 {
		if eval[string](b, "document.activeElement.value") == theSystem {
			break
		}
		b.keys(kb.ArrowDown)
	}
	b.tabTo("#note")
	b.keys("By keyboard")
	b.enters() // Enter in a box sends the form
	b.sees("By keyboard", "Likely causes")
	at := eval[string](b, "location.pathname")

	// Another test than the proposed one, and its hook-up by the blank.
	b.keys("o")
	b.until("the list", "location.pathname.endsWith('/else')")
	b.tabTo("a[href*='battery-rest-volts']")
	b.enters()
	for range 12 {
		if !eval[bool](b, "!!document.querySelector('.steps input')") {
			break
		}
		now := eval[string](b, "document.querySelector('#job').dataset.seq")
		eval[bool](b, "document.activeElement.blur(), true")
		b.keys(" ")
		b.until("the line is done", "document.querySelector('#job').dataset.seq !== '"+now+"'")
	}
	b.sees("Hooked up.")
	b.keys("r")
	b.focused("#v0")
	b.keys("12.31")
	b.until("the preview", "document.querySelector('#preview').innerText.includes('If this is entered')")
	b.enters()
	b.focused("h1")
	b.sees("12.31")
	b.tabTo("a.btn.act")
	b.enters()
	for key, want := range map[string]string{"n": "#step", "s": "#causes"} {
		b.keys(key)
		b.focused(want)
	}
	b.keys("l")
	b.until("the log", "location.pathname.endsWith('/log')")
	b.go_(at)
	b.keys("?")
	b.until("the keys", "location.pathname === '/keys'")

	b.go_(at)
	unfolded := eval[int64](b, "(() => { document.querySelector('main details').open = true; return document.querySelectorAll('main details[open]').length; })()")
	b.keys(kb.Escape)
	b.until("it is folded", fmt.Sprintf("document.querySelectorAll('main details[open]').length === %d", unfolded-1))
	b.focused("summary")
	b.tabTo("a[href$='/repair']")
	b.enters()
	b.tabTo("#repair")
	b.keys("Clean and")
	b.tabTo("#what")
	b.keys("green clamp")
	b.tabTo("input[name=cured]")
	b.keys(" ")
	b.tabTo("main form button.act")
	b.enters()
	b.sees("Proof")
	b.tabTo("input[name=covers]")
	b.keys(" ")
	b.tabTo("input[name=leads]")
	b.keys(" ")
	b.tabTo("main form button.act")
	b.enters()
	b.tabTo("form[action$='/sign'] button.act")
	b.enters()
	b.sees("Signed", "green clamp")
	b.tabTo(".signed a.btn")
	b.enters()
	b.sees("as it was signed")
	if said := strings.Join(b.said, "; "); said != "" {
		b.t.Errorf("the browser complained: %s", said)
	}
}

// TestWithoutScript does a whole job on a phone whose browser runs no script, with
// what a thumb presses alone, and something wrong in every form on the way.
func TestWithoutScript(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, 390, 844)
	b.do("turning script off", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}))
	b.go_("/jobs/new")
	b.press("form[action='/jobs'] button.act")
	b.sees("Nothing was recorded", "Choose what the driver says", "Choose the charging system")
	b.tick("input[name=kind][value=low-charge]")
	b.tick("input[name=system][value=" + theSystem + "]")
	b.type_("#note", "Without script")
	b.type_("#volts", "6")
	b.press("form[action='/jobs'] button.act")
	b.sees("Choose another system or correct the volts")
	b.empty("#volts")
	b.press("form[action='/jobs'] button.act")
	b.sees("Without script", "Likely causes")
	at := eval[string](b, "location.pathname")

	b.go_(at + "?key=do:battery-rest-volts")
	b.fits("no script")
	b.picture("no-script")
	b.press(".upto button")
	b.sees("No line was ticked")
	b.tick(".steps > li:last-of-type input")
	b.press(".upto button")
	b.sees("Hooked up.")
	b.press("#entry button.act")
	b.sees("Battery volts is missing")
	b.type_("#v0", "12 apples")
	b.press("#entry button.act")
	b.sees("Write instead")
	b.empty("#v0")
	b.type_("#v0", "12.5")
	b.tick(".seg.nojs label:last-of-type")
	b.press("#entry button[formaction]") // a look first
	b.sees("If this is entered", "under 12.5")
	b.press("#entry button.act")
	b.sees("under 12.5", "Take it back")

	b.go_(at + "/could-not?key=do:drop-feed")
	b.press("main form button:not([name])")
	b.sees("Say why it could not be taken")
	b.press("button[name=why]")
	b.go_(at + "/log")
	b.press("form[action$='/wait'] button")
	b.sees("Choose for what it waits")
	b.go_(at + "/repair")
	b.press("main form button.act")
	b.sees("Choose what was done", "Say whether the complaint is gone")
	b.type_("#what", "clamps cleaned")
	b.tick("input[name=cured][value=yes]")
	b.press("main form button.act")
	b.press("main form button.act")
	b.sees("Test leads, jumpers and tools come off")
	b.tick("input[name=covers]")
	b.tick("input[name=leads]")
	b.press("main form button.act")
	b.press("form[action$='/sign'] button.act")
	b.sees("Signed", "Clamps cleaned")
	b.press(".signed a.btn")
	b.sees("as it was signed")
}
