package web

import (
	"bytes"
	"compress/gzip"
	"context"
	_ "embed"
	"fmt"
	"io"
	"log/slog"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"chargewright/internal/need"
	"chargewright/internal/sample"
)

// axe-core 4.14.1, npm, MPL-2.0 (testdata/axe-LICENSE.txt), packed with gzip;
// unpacked its sha256 is
// 29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c.
//
//go:embed testdata/axe-4.14.1.min.js.gz
var axePacked []byte

// axe is the program's text.
var axe = sync.OnceValue(func() string {
	r, err := gzip.NewReader(bytes.NewReader(axePacked))
	if err != nil {
		panic(err) // the file is part of the test
	}
	text, err := io.ReadAll(r)
	if err != nil {
		panic(err)
	}
	return string(text)
})

// tab is a page in a browser.
type tab struct {
	t      *testing.T
	ctx    context.Context
	base   string
	width  int64
	height int64

	emulates []chromedp.EmulateViewportOption
	looks    int // so far

	mu   sync.Mutex
	said []string // what the browser complained of
}

// chromium is Debian's, started once for all tests; endChromium ends it.
var (
	chromium    context.Context
	endChromium = func() {}
)

// started starts it on a profile of its own.
func started(program string) (context.Context, error) {
	dir, err := os.MkdirTemp("", "chargewright-web-browser-")
	if err != nil {
		return nil, err
	}
	all, end := chromedp.NewExecAllocator(context.Background(), chromiumOptions(program, dir)...)
	ctx, cancel := chromedp.NewContext(all)
	endChromium = func() {
		_ = chromedp.Cancel(ctx)
		cancel()
		end()
		_ = os.RemoveAll(dir)
	}
	return ctx, chromedp.Do(ctx)
}

// chromiumProgram is Chromium without what draws windows, where that is installed: the
// same layout and script for a seventh less of all tests' work [measured: this package
// 192 s of processor time, 163 so]. Where it is not, it is the whole one.
func chromiumProgram(t *testing.T) string {
	t.Helper()
	if path, err := exec.LookPath("chromium-headless-shell"); err == nil {
		return path
	}
	return need.Program(t, "chromium")
}

// chromiumOptions are how a program of it is started on a profile.
func chromiumOptions(program, profile string) []chromedp.ExecAllocatorOption {
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(program), chromedp.Headless, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.UserDataDir(profile), chromedp.Flag("hide-scrollbars", true), chromedp.Flag("disable-background-networking", true),
	}
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	return options
}

// nothing takes what a server says of connections that are cut.
var nothing = slog.NewLogLogger(slog.DiscardHandler, 0)

// browser is the browser.
func browser(t *testing.T) context.Context {
	t.Helper()
	if chromium == nil {
		ctx, err := started(chromiumProgram(t))
		if err != nil {
			t.Fatal(err)
		}
		chromium = ctx
	}
	return chromium
}

// open opens a tab of a size. It shares neither cookies nor anything else that is
// kept with other tabs.
func open(all context.Context, t *testing.T, base string, width, height int64) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(all, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	ctx, within := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(within)
	b := &tab{t: t, ctx: ctx, base: base, width: width, height: height}
	err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height))
	if err == nil {
		err = chromedp.Listen(ctx, b.hear)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// hear keeps what the browser complains of: refusals of the policy, scripts that
// broke, files that were not there.
func (b *tab) hear(event any) {
	say := ""
	switch e := event.(type) {
	case *log.EventEntryAdded:
		if e.Entry.Level == "error" {
			say = e.Entry.Text + " " + e.Entry.URL
		}
	case *runtime.EventExceptionThrown:
		say = e.ExceptionDetails.Text
	}
	// A form that was not taken is answered with 422, which is no complaint.
	if say != "" && !strings.Contains(say, "status of 422") {
		b.mu.Lock()
		b.said = append(b.said, say)
		b.mu.Unlock()
	}
}

func (b *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatalf("%s: %v\n%s", what, err, b.text())
	}
}

func (b *tab) text() string {
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body ? location.pathname + '\\n' + [...document.querySelectorAll('main p, main h1, main h2, main label, main td')].map(e => e.innerText).join(' ').slice(0, 1200) : ''"))
	if err != nil {
		return err.Error()
	}
	return text
}

// go_ goes to a page. A page that was just then loading itself anew, because
// somebody else entered something, breaks that off: it is gone to again.
func (b *tab) go_(path string) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, chromedp.Navigate(b.base+path)); err != nil && strings.Contains(err.Error(), "ERR_ABORTED") {
		b.do("going to "+path+" again", chromedp.Navigate(b.base+path))
	} else if err != nil {
		b.t.Fatalf("going to %s: %v\n%s", path, err, b.text())
	}
}

// until waits until an expression is true; a page that goes away while it is
// asked is asked again.
func (b *tab) until(what, expression string) {
	b.t.Helper()
	pause := 5 * time.Millisecond // longer and longer: asking costs both sides a millisecond
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); pause = min(pause*3/2, 60*time.Millisecond) {
		if ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](expression)); err == nil && ok {
			return
		}
		time.Sleep(pause)
	}
	b.t.Fatalf("%s: nothing came\n%s", what, b.text())
}

func eval[T any](b *tab, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// press clicks a thing, and waits for the page that follows, be it a new one or in
// the place of the one that stands.
func (b *tab) press(selector string) {
	b.t.Helper()
	eval[bool](b, "document.querySelector('main').pageBefore = true")
	b.do("pressing "+selector, chromedp.Click(chromedp.CSS(selector)))
	b.until("after "+selector, "document.readyState === 'complete' && !document.querySelector('main').pageBefore")
}

func (b *tab) tick(selector string) {
	b.t.Helper()
	b.do("ticking "+selector, chromedp.Click(chromedp.CSS(selector)))
}

func (b *tab) type_(selector, text string) {
	b.t.Helper()
	b.do("typing into "+selector, chromedp.SendKeys(chromedp.CSS(selector), text))
}

func (b *tab) sees(texts ...string) {
	b.t.Helper()
	page := eval[string](b, "document.body.innerText")
	for _, x := range texts {
		if !strings.Contains(page, x) {
			b.t.Errorf("the page lacks %q:\n%s", x, b.text())
		}
	}
}

// fits fails when a page is wider than the screen, or a thing to press is too
// small for a thumb.
func (b *tab) fits(name string) {
	b.t.Helper()
	if over := eval[int64](b, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
		b.t.Errorf("%s at %d: %d px too wide", name, b.width, over)
	}
	small := eval[[]string](b, `[...document.querySelectorAll('button, a.btn, nav a, select, label.pick, .steps label, .seg label, input[type=text]')]
		.filter(e => e.checkVisibility && e.checkVisibility() && !e.closest('[hidden]') && !e.matches('.hide'))
		.filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && (r.height < 47.5 || r.width < 39.5) })
		.map(e => e.tagName + ' ' + e.innerText.slice(0, 30) + ' ' + Math.round(e.getBoundingClientRect().width) + 'x' + Math.round(e.getBoundingClientRect().height))`)
	if len(small) > 0 {
		b.t.Errorf("%s at %d: too small to hit: %v", name, b.width, small)
	}
}

// look holds the page against the size of the screen, on a tablet and on a phone,
// and against axe's rules on one of them in turn, with CHARGEWRIGHT_ALL on both. With
// SHOTS=DIR it leaves pictures there.
func (b *tab) look(name string) {
	b.t.Helper()
	sizes := b.screens()
	b.lookOn(name, sizes, sample.Part(sizes, b.looks, len(sizes)))
	b.looks++
}

// lookAgain looks at a page that TestLooks has axe look at by the same address and in
// the same state, so that its rules would be asked twice of the same elements: they are
// with CHARGEWRIGHT_ALL alone. What script has changed since the page came is no such page.
func (b *tab) lookAgain(name string) {
	b.t.Helper()
	sizes := b.screens()
	var ruled [][2]int64
	if sample.All() {
		ruled = sizes
	}
	b.lookOn(name, sizes, ruled)
}

// screens are both, the present one first: no change of size that is not needed.
func (b *tab) screens() [][2]int64 {
	if ([2]int64{b.width, b.height}) == phone {
		return [][2]int64{phone, tablet}
	}
	return [][2]int64{tablet, phone}
}

func (b *tab) lookOn(name string, sizes, ruled [][2]int64) {
	b.t.Helper()
	was := [2]int64{b.width, b.height}
	for _, size := range sizes {
		if size != [2]int64{b.width, b.height} {
			b.size(size)
		}
		b.lookAt(name, slices.Contains(ruled, size))
	}
	b.size(was)
}

// The screens that a job is done on [px].
var tablet, phone = [2]int64{1024, 768}, [2]int64{390, 844}

func (b *tab) size(size [2]int64) {
	b.t.Helper()
	b.width, b.height = size[0], size[1]
	b.do("sizing the page", chromedp.EmulateViewport(b.width, b.height, b.emulates...))
}

// lookAt looks in light on a tablet, at night on a phone, for colours are all that
// changes.
func (b *tab) lookAt(name string, ruled bool) {
	b.t.Helper()
	b.fits(name)
	scheme := map[bool]string{true: "light", false: "dark"}[b.width > 600]
	b.scheme(scheme)
	if ruled {
		b.holdsToAxe(name, scheme)
	}
	b.picture(name + "-" + scheme)
	b.scheme("light")
}

// holdsToAxe fails on whatever axe finds on a page as it is shown.
func (b *tab) holdsToAxe(name, scheme string) {
	b.t.Helper()
	for _, v := range b.axeFinds() {
		b.t.Errorf("%s, %s, at %d: %s", name, scheme, b.width, v)
	}
}

// axeFinds is what axe finds on a page. Within a drawing where nothing can be
// followed it has nothing to find: that is one picture for whoever has the screen
// read out, and axe does not judge the colours of a drawing's words.
func (b *tab) axeFinds() []string {
	b.t.Helper()
	if eval[bool](b, "typeof axe === 'undefined'") {
		eval[bool](b, axe()+"; true")
	}
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`(() => { const within = 'svg.drawing:not(:has(a)) > g';
		return axe.run(document.querySelector(within) ? {include: [document], exclude: [[within]]} : document, {resultTypes: ['violations']}); })().then(r =>
		r.violations.map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' ' + (n.any[0] ? n.any[0].message : '')).join(' | ')))`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("axe: %v", err)
	}
	return found
}

// scheme sets what the device is said to prefer.
func (b *tab) scheme(scheme string) {
	b.t.Helper()
	b.do("emulating "+scheme, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	}))
}

func (b *tab) picture(name string) {
	dir := os.Getenv("SHOTS")
	if dir == "" {
		return
	}
	data, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, b.width)), data, 0o644)
	}
	if err != nil {
		b.t.Errorf("picture %s: %v", name, err)
	}
}

// TestInABrowser does a whole job from intake to the signed report, with script,
// and holds every page on the way against axe at two sizes. What is pressed is
// pressed on the phone, where less room is; with CHARGEWRIGHT_ALL once more on the
// tablet.
func TestInABrowser(t *testing.T) {
	all := browser(t)
	s := theShop(t)
	s.owner(t)
	for _, size := range sample.Part([][2]int64{phone, tablet}, 0, 2) {
		t.Run(fmt.Sprint(size[0]), func(t *testing.T) {
			small := size == phone
			line := &wire{to: serverFor(t, s, small)} // on the phone somebody is signed in
			server := httptest.NewServer(line)
			t.Cleanup(server.Close)
			server.Config.ErrorLog = nothing
			b := open(all, t, server.URL, size[0], size[1])
			if small {
				b.go_("/sign-in")
				b.signIn()
			}
			b.wholeJob(s, line)
			b.mu.Lock()
			defer b.mu.Unlock()
			for _, x := range b.said {
				t.Errorf("the browser complained: %s", x)
			}
		})
	}
}

func (b *tab) wholeJob(s *shop, line *wire) {
	b.go_("/jobs/new")
	b.lookAgain("intake")
	b.tick("input[name=kind][value=low-charge]")
	b.tick("input[name=system][value=" + theSystem + "]")
	b.type_("#note", "Saloon in the browser")
	b.type_("#ambient", "18")
	b.press("form[action='/jobs'] button.act")
	b.sees("Saloon in the browser", "Hook-up now", "Likely causes")
	b.look("job")
	at := eval[string](b, "location.pathname")

	// Two taps and the number: the box, Enter.
	b.go_(at + "?key=do:drop-feed")
	first := eval[string](b, "document.querySelector('.steps label').innerText")
	b.tick(".steps input")
	b.until("the line is done", "document.querySelector('.steps label').innerText !== "+fmt.Sprintf("%q", first))
	b.type_("#v0", "1.98")
	b.type_("#v1", "24.6")
	b.until("the preview", "document.querySelector('#preview').innerText.includes('If this is entered')")
	b.sees("Over the limit")
	b.look("typing")
	b.press("#entry button.act")
	b.until("the causes", "document.querySelector('main').innerText.includes('What it did to the causes')")
	b.sees("1.980", "Over the limit")
	if focus := eval[string](b, "document.activeElement.tagName"); focus != "H1" {
		b.t.Errorf("the focus is on %s after an answer, want the sentence that says it", focus)
	}
	b.look("verdict")

	// Five taps for a free one: something else, between two points, red, black, Enter.
	b.go_(at)
	b.press("[data-k=o]")
	b.lookAgain("else")
	b.press("a.btn.act")
	b.do("tapping red", chromedp.Evaluate[chromedp.Void]("document.querySelector('a[href*=\"red=bh-a-engine\"]').dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true}))"))
	b.until("red is on", "document.body.innerText.includes('Tap where the black lead goes')")
	b.look("tapping")
	b.go_(at + "/free?kind=volts&red=bh-a-engine&black=bh-a-dash")
	b.look("free")
	b.type_("#v0", "1.45")
	b.press("#entry button.act, #reading button.act")
	b.sees("1.450")
	b.withoutConnection(s, line, at)

	b.go_(at + "?key=do:look-belt")
	b.tick("input[name=v0]")
	b.look("a look")
	b.press("#entry button.act")
	for _, p := range []string{"/log", "/stands", "/could-not?key=do:drop-feed", "/readings/r1/correct"} {
		b.go_(at + p)
		b.lookAgain(strings.NewReplacer("/", "-", "?", "-", ":", "-").Replace(strings.TrimPrefix(p, "/")))
	}
	b.go_(at + "/repair?mend=mend-bulkhead")
	b.lookAgain("repair")
	b.tick("input[name=cured][value=yes]")
	b.press("main form button.act")
	b.sees("0 of")
	b.go_(at + "?key=do:charge-volts")
	b.type_("#v0", "14.1")
	b.type_("#v1", "8")
	b.press("#entry button.act")
	b.go_(at + "/proof")
	b.lookAgain("proof")
	b.tick("input[name=covers]")
	b.tick("input[name=leads]")
	b.press("main form button.act")
	b.sees("Sign it off", "found and mended")
	b.lookAgain("report")
	b.press("form[action$='/sign'] button.act")
	b.sees("Signed")
	b.go_("/?q=Saloon+in+the+browser")
	b.sees("Signed")
	b.lookAgain("jobs")
	for _, p := range []string{"/systems", "/systems/isolated-earth-side", "/systems/isolated-earth-side/edit", "/systems/fit", "/keys", "/nowhere"} {
		b.go_(p)
		b.lookAgain(strings.ReplaceAll(strings.TrimPrefix(p, "/"), "/", "-"))
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.said = slices.DeleteFunc(b.said, func(x string) bool {
		gone := strings.Contains(x, "net::ERR_") || strings.Contains(x, "status of 409") || strings.Contains(x, "status of 401") || strings.Contains(x, "status of 503") || strings.Contains(x, "EventSource's response has a MIME type") // the network was, or the session
		return gone || strings.Contains(x, "status of 404") && strings.Contains(x, "/nowhere")
	})
}
