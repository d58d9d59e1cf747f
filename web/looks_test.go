package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"chargewright/account"
	"chargewright/internal/sample"
)

// What must not be on any page, as a list of what offends. A head's name may end
// in dots, and a wide file or table may be moved sideways.
const (
	shown   = `var seen = e => e.checkVisibility && e.checkVisibility() && !e.closest('.hide, .skip, [hidden]');`
	clipped = shown + `[...document.querySelectorAll('main *, footer *')].filter(e => seen(e) && !e.closest('svg'))
		.filter(e => { const s = getComputedStyle(e); return s.overflowX === 'hidden' && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0 || s.overflowY === 'hidden' && e.scrollHeight > e.clientHeight + 2 && e.clientHeight > 0; })
		.map(e => e.tagName + '.' + e.className + ' ' + e.innerText.slice(0, 40))`
	outside = shown + `[...document.querySelectorAll('body *')].filter(e => seen(e) && !e.closest('.drawing, .scroll, .listing') && !(e.closest('svg') && !e.closest('.st')))
		.filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && (r.right > innerWidth + 1 || r.left < -1); })
		.map(e => e.tagName + ' ' + (e.textContent || '').trim().slice(0, 40))`
	running = shown + `(() => { const out = [], hit = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;
		for (const kind of ['.zones text', '.lim text', '.scale text', '.sq', '.btn, button', '.pick']) {
			const all = [...document.querySelectorAll(kind)].filter(e => seen(e) && (e.textContent || '').trim() && getComputedStyle(e).display !== 'none').map(e => [e, e.getBoundingClientRect()]).filter(x => x[1].width > 0);
			for (let i = 0; i < all.length; i++) for (let k = i + 1; k < all.length && k < i + 12; k++)
				if (hit(all[i][1], all[k][1]) && !all[i][0].closest('.entry') && !all[k][0].closest('.entry')) out.push(kind + ': ' + all[i][0].textContent.trim().slice(0, 30) + ' and ' + all[k][0].textContent.trim().slice(0, 30));
		}
		return out; })()`
	beside = shown + `[...document.querySelectorAll('.find')].filter(seen).map(f => [f.querySelector('input').getBoundingClientRect(), f.querySelector('button').getBoundingClientRect()])
		.filter(([a, b]) => b.left >= a.right && (Math.abs(a.top - b.top) > 0.5 || Math.abs(a.bottom - b.bottom) > 0.5)).map(([a, b]) => 'the button stands at ' + b.top + ', its box at ' + a.top)`
	counted = `[...document.body.innerText.matchAll(/\b(1 [a-z]+s|(?:0|[2-9]|[1-9][0-9]+) (?:reading|repair|change|caution|event|fault|joint|wire|place|line|time|sheet))\b(?! (?:of|in|to)\b)/g)].map(m => m[0]).filter(x => !/^1 (less|across|is|was|as|gives)/.test(x))`
)

// looksRight holds a page against what must not be.
func (b *tab) looksRight(name string) {
	b.t.Helper()
	b.fits(name)
	for what, list := range map[string]string{"cut off": clipped, "off the page": outside, "run into each other": running, "out of line": beside, "wrong in number": counted} {
		if found := eval[[]string](b, list); len(found) > 0 {
			b.t.Errorf("%s at %d, %s: %q", name, b.width, what, found)
		}
	}
}

// theme sets the view that a device has chosen.
func (b *tab) theme(name string) { b.t.Helper(); b.cookie(themeCookie, name) }

func (b *tab) cookie(name, value string) {
	b.t.Helper()
	b.do("setting a cookie", chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: name, Value: value, URL: b.base + "/"})
		return err
	}))
}

// lookedAt is a workshop with a job that has something on every page, and one
// that has nothing.
func lookedAt(t *testing.T, s *shop) (pages []string) {
	t.Helper()
	at := s.newJob(t, "note", "Four-door saloon, 1.6 litre, with work lamps and a second battery", "words", "goes flat with the lamps on", "customer", "Bridge keeper", "plate", "LOOK 1")
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	s.read(t, at, "charge-volts", "13.1 V", "12.0 A").want(t, 303)
	s.read(t, at, "drop-feed", "1.98", "24.6").want(t, 303)
	empty := s.newJob(t, "note", "Van of one word")
	f := s.get(t, at+"/repair").form(t, at+"/repair", "repair", "mend-bulkhead", "what", "pin A was green", "cured", "yes")
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 303)
	s.read(t, at, "charge-volts", "14.1 V", "8.0 A").want(t, 303)
	for range 2 {
		s.signOff(t, at)
		s.reopen(t, at, "came back", "back")
		s.read(t, at, "idle-volts", "13.9", "5").want(t, 303)
	}
	for _, p := range []string{"", "?key=do:drop-feed", "?key=do:field-feed-key-on", "/else", "/free", "/free?kind=ohms&red=f1&black=f2", "/log", "/stands", "/proof", "/report", "/record", "/card", "/signed/8", "/repair", "/repair?mend=mend-bulkhead", "/readings/r3", "/identified", "/identified?terminals=two-blades&regulator=sealed", "/identified?terminals=one-blade&regulator=contacts&number=yes", "/readings/r3/correct", "/could-not?key=do:drop-feed"} {
		pages = append(pages, at+p)
	}
	closed := s.newJob(t, "note", "Van that is signed off")
	fix := s.get(t, closed+"/repair").form(t, closed+"/repair", "repair", "clean-clamps", "cured", "yes")
	s.ask(t, http.MethodPost, closed+"/repair", fix).want(t, 303)
	s.signOff(t, closed)
	for _, p := range []string{"", "?key=do:drop-feed", "/reopen", "/report", "/proof", "/log"} {
		pages = append(pages, closed+p)
	}
	for _, p := range []string{"", "/log", "/proof", "/report"} {
		pages = append(pages, empty+p)
	}
	return append(pages, "/", "/?q=nothing+has+this+in+it", "/jobs/new", "/jobs/new?system="+theSystem+"&look-terminals=two-blades&look-regulator=sealed", "/fitted", "/fitted?terminals=one-blade&regulator=sealed&ways=two&blade-live=no&number=no", "/systems", "/systems/"+theSystem, "/systems/"+theSystem+"/edit", "/systems/fit", "/keys", "/nowhere")
}

// TestLooks: on no page, at no size and in no view is anything cut off, off the
// page, out of line or lying on something else. Here each page is seen on a phone
// and at one of the larger sizes in turn, with CHARGEWRIGHT_ALL at every one.
func TestLooks(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, 1440, 900)
	b.looksRightOn(append(lookedAt(t, s), "/instruments", "/instruments/new?meter=dmm"))
	open(browser(t), t, server.URL, 1440, 900).looksRightAnswered(s)

	// Pages that want people: the owner's, and what somebody is told who may not.
	staff, cookies := staffed(t)
	behind := httptest.NewServer(staff)
	t.Cleanup(behind.Close)
	b = open(browser(t), t, behind.URL, 1440, 900)
	owner := with(cookies["o"])
	f := staff.ask(t, http.MethodGet, "/instruments/new?meter=dmm", nil, owner).form(t, "/instruments", "name", "M-3", "calibrated", "2024-03-02", "due", "2025-03-02")
	staff.ask(t, http.MethodPost, "/instruments", f, owner).want(t, 303)
	token, _, err := staff.accounts.Invite(t.Context(), "", "Somebody with a long name from the other yard", account.Adviser)
	if err != nil {
		t.Fatal(err)
	}
	people, err := staff.accounts.People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	b.looksRightOn([]string{"/join/" + token, "/sign-in", "/owner/none"})
	b.cookie(staff.sessionCookie(), strings.TrimPrefix(cookies["o"], staff.sessionCookie()+"="))
	b.looksRightOn([]string{"/people", "/people/" + people[1].ID, "/account", "/instruments", "/instruments/i-" + f.Get("event")})
	b.cookie(staff.sessionCookie(), strings.TrimPrefix(cookies["i"], staff.sessionCookie()+"="))
	b.looksRightOn([]string{"/", "/people"})
}

// looksRightOn looks at pages at four sizes, and has axe look at them.
func (b *tab) looksRightOn(pages []string) {
	b.t.Helper()
	for k, p := range pages {
		b.looksRightAt(k, p, func() { b.go_(p) })
	}
}

// looksRightAt looks at a page at its sizes, and has axe look at it in one of three views
// in turn, with CHARGEWRIGHT_ALL in each: a view changes colours alone.
func (b *tab) looksRightAt(k int, name string, show func()) {
	b.t.Helper()
	views := []string{"light", "night", "sun"}
	looked := sample.Part(views, k, len(views))
	b.theme(looked[0])
	show()
	larger := [][2]int64{{768, 1024}, tablet, {1440, 900}}
	for _, size := range append([][2]int64{phone}, sample.Part(larger, k+k/len(views), len(larger))...) {
		b.size(size)
		b.looksRight(name)
	}
	for _, view := range looked {
		eval[string](b, fmt.Sprintf("document.documentElement.dataset.theme = %q", view)) // as the page says it
		b.holdsToAxe(name, view)
	}
}

// posts sends a form as one of a page would be, and waits for what comes.
func (b *tab) posts(to string, form url.Values) {
	b.t.Helper()
	data, err := json.Marshal(form)
	if err != nil {
		b.t.Fatal(err)
	}
	b.go_("/keys")
	eval[bool](b, "document.querySelector('main').pageBefore = true")
	eval[bool](b, fmt.Sprintf(`(() => { const f = document.createElement('form'); f.method = 'post'; f.action = %q;
		for (const [k, all] of Object.entries(%s)) for (const v of all) { const i = document.createElement('input'); i.type = 'hidden'; i.name = k; i.value = v; f.append(i); }
		document.body.append(f); f.submit(); return true; })()`, to, data))
	b.until("the answer to "+to, "document.readyState === 'complete' && !document.querySelector('main').pageBefore")
}

// looksRightAnswered looks at what forms are answered with that have no address of their own:
// a fit and its contradictions, and what is said where something is wrong or somebody was
// faster.
func (b *tab) looksRightAnswered(s *shop) {
	b.t.Helper()
	odd := demoManual()
	odd.Set("rotor-6-ohms", "9")
	wrong := demoManual()
	wrong.Set("outputs-2-amps", "lots")
	wrong.Set("wires-11-area", "")
	at := s.newJob(b.t)
	late := s.get(b.t, at+"?key=do:look-belt").form(b.t, at+"/readings", "v0", "sound and tight")
	s.read(b.t, at, "battery-rest-volts", "12.41").want(b.t, 303)
	for k, x := range []struct {
		name, to string
		form     url.Values
	}{
		{"a fit", "/systems/fit", demoManual()},
		{"a fit that contradicts itself", "/systems/fit", odd},
		{"figures with problems", "/systems/fit", wrong},
		{"a system file with problems", "/systems/check", url.Values{"source": {"format: 1\nid: x\nname: [\n"}}},
		{"a new job without anything", "/jobs", url.Values{"event": {"e-12344321"}, "seen": {"0"}}},
		{"somebody was faster", at + "/readings", late},
		{"a name that is too long", "/views", url.Values{"to": {"/keys"}, "device": {strings.Repeat("x", 50)}}},
	} {
		b.looksRightAt(k, x.name, func() { b.posts(x.to, x.form) })
	}
	to := at + "?key=do:drop-feed"
	s.ask(b.t, http.MethodPost, at+"/hook-up", s.get(b.t, to).form(b.t, at+"/hook-up", "line", "2")).want(b.t, 303)
	b.looksRightAt(7, "lines that can be unticked", func() {
		b.go_(to)
		eval[bool](b, "document.querySelector('.done').open = true")
	})
}

// TestLooksBites: each of the rules sees an offence that is put on a page.
func TestLooksBites(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, 1024, 768)
	for what, c := range map[string]struct{ rule, offence string }{
		"cut off":               {clipped, `<p style="overflow:hidden;height:10px;width:40px">words that do not fit in there</p>`},
		"off the page":          {outside, `<p style="position:absolute;left:1000px;width:90px">words</p>`},
		"run into":              {running, `<button>one</button><button style="margin-left:-40px">two</button>`},
		"out of line":           {beside, `<form class="find"><div><input type="search"></div><button style="position:relative;top:3px">Find</button></form>`},
		"wrong in number":       {counted, `<p>1 readings</p>`},
		"wrong in number, many": {counted, `<p>4 reading</p>`},
	} {
		b.go_("/keys")
		if found := eval[[]string](b, c.rule); len(found) > 0 {
			t.Fatalf("%s: found before it was there: %q", what, found)
		}
		// The policy of the pages refuses style attributes; setting them from outside is no page's doing.
		eval[bool](b, fmt.Sprintf(`(() => { const d = new DOMParser().parseFromString(%q, 'text/html').body; for (const e of [...d.children]) { const s = [...e.querySelectorAll('[style]'), e].map(x => [x, x.getAttribute && x.getAttribute('style')]); s.forEach(([x]) => x.removeAttribute('style')); document.querySelector('main').append(e); s.forEach(([x, t]) => { for (const p of (t || '').split(';')) { const [k, v] = p.split(':'); if (v) x.style.setProperty(k.trim(), v.trim()); } }); } return true; })()`, c.offence))
		if found := eval[[]string](b, c.rule); len(found) == 0 {
			t.Errorf("%s is not seen", what)
		}
	}
}

// TestAxeBites: axe sees a drawing without a name, a button without one and faint
// words beside it.
func TestAxeBites(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, 1024, 768)
	b.go_(s.newJob(t) + "?key=do:drop-feed")
	if found := b.axeFinds(); len(found) > 0 {
		t.Fatalf("found before it was there: %q", found)
	}
	eval[bool](b, `(() => { const d = [...document.querySelectorAll('svg.drawing')].find(e => e.checkVisibility());
		d.removeAttribute('aria-labelledby'); d.querySelector('title').remove();
		const p = document.createElement('p'), b = document.createElement('button');
		p.textContent = 'faint words'; p.style.setProperty('color', '#ddd'); p.style.setProperty('background', '#fff');
		document.querySelector('main').append(p, b); return true; })()`)
	found := strings.Join(b.axeFinds(), "\n")
	for _, rule := range []string{"svg-img-alt", "button-name", "color-contrast"} {
		if !strings.Contains(found, rule) {
			t.Errorf("%s is not seen in %q", rule, found)
		}
	}
}
