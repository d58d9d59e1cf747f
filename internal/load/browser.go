package main

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// screen is Chromium on the made-up workshop.
type screen struct {
	context.Context
	base  string
	pause time.Duration // between what a reading would do and Enter
}

// inBrowser enters readings in Chromium, one after the other, over the made-up
// workshop, and says how long it takes from Enter to the first paint of what the
// reading says: by the page's own clock, script, server and drawing of the page
// together.
func inBrowser(ctx context.Context, o options) error {
	o.technicians, o.lasts, o.every = 1+o.browser/o.readings, time.Second, time.Second
	cases, err := vehicles([]string{"isolated-earth-side"}, o)
	if err != nil {
		return err
	}
	p, err := begin(ctx, o, "--demo")
	if err != nil {
		return err
	}
	defer p.end()
	if err := p.quiet(ctx); err != nil {
		return err
	}
	b, end, err := openScreen(ctx, p)
	if err != nil {
		return err
	}
	defer end()
	b.pause = o.pause
	before, began := loadAverage(), time.Now()
	used := cpuOf(p.cmd.Process.Pid)
	var took, next []time.Duration
	for _, c := range cases {
		if len(took) >= o.browser {
			break
		}
		list, err := b.doJob(p, c)
		if err != nil {
			return err
		}
		for _, x := range list {
			took, next = append(took, x.answer), append(next, x.next)
		}
	}
	slices.Sort(took)
	slices.Sort(next)
	p95 := quantile(took, 95)
	fmt.Printf("Chromium over the made-up workshop, 1024x768, Enter %s after the look at what it would do, to the first paint of the answer: %d readings, p50 %s ms, p95 %s ms (bar 150), most %s ms: %s\n",
		o.pause, len(took), ms(quantile(took, 50)), ms(p95), ms(took[len(took)-1]), verdict(p95 < 150*time.Millisecond, loadNow()))
	fmt.Printf("the next step stands in it after p50 %s ms, p95 %s ms\n", ms(quantile(next, 50)), ms(quantile(next, 95)))
	fmt.Printf("server: %.2f s of processor time for each reading with its pages, %s at most; %.0f s by the clock; load average %s before, %s after\n",
		(cpuOf(p.cmd.Process.Pid)-used).Seconds()/float64(len(took)), peak(p.cmd.Process.Pid), time.Since(began).Seconds(), before, loadAverage())
	return nil
}

func openScreen(ctx context.Context, p *program) (*screen, func(), error) {
	path, err := exec.LookPath("chromium-headless-shell") // the same layout and script without what draws windows
	if err != nil {
		path, err = exec.LookPath("chromium")
	}
	if err != nil {
		return nil, nil, errors.New("there is no chromium on this machine: apt-get install chromium-headless-shell")
	}
	options := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.Headless, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.UserDataDir(filepath.Join(p.dir, "chromium")), chromedp.Flag("disable-background-networking", true),
	}
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	all, endAll := chromedp.NewExecAllocator(ctx, options...)
	tab, endTab := chromedp.NewContext(all)
	end := func() { endTab(); endAll() }
	timed := chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: clock})
		return err
	})
	if err := chromedp.Do(tab, chromedp.EmulateViewport(1024, 768), timed); err != nil {
		end()
		return nil, nil, err
	}
	return &screen{Context: tab, base: p.base}, end, nil
}

// times are how long after Enter the answer was painted, and the next step in it.
type times struct{ answer, next time.Duration }

// doJob opens a job and enters its readings.
func (b *screen) doJob(p *program, v visit) ([]times, error) {
	w := &workshop{options: options{}, p: p, next: []visit{v}, took: map[string][]time.Duration{}, wrong: map[string]int{}}
	t := &technician{device: newDevice(p.base), shop: w}
	if err := t.nextJob(b); err != nil {
		return nil, err
	}
	t.end()
	var out []times
	for _, r := range v.readings {
		d, err := b.reading(t.job, r)
		if err != nil {
			return out, fmt.Errorf("%s: %w", r.procedure, err)
		}
		if d.answer > 0 {
			out = append(out, d)
		}
	}
	return out, nil
}

// clock runs in every page before its own scripts. It keeps when Enter was pressed
// (the event's own time, from before any script heard of it) and when the answer's
// sentence was first painted, wherever it came: the browser is told to time the
// paint of that element (Element Timing) the moment it is there, in a page that
// stands or in a new one. Both in time that goes on from page to page.
const clock = `(() => {
	const at = (t) => performance.timeOrigin + t;
	addEventListener('keydown', (e) => { if (e.key === 'Enter') { sessionStorage.setItem('entered', at(e.timeStamp)); sessionStorage.removeItem('painted'); sessionStorage.removeItem('next'); } }, true);
	new PerformanceObserver((list) => { for (const x of list.getEntries()) if (x.identifier === 'answer') sessionStorage.setItem('painted', at(x.renderTime)); }).observe({type: 'element', buffered: true});
	new MutationObserver(() => { for (const h of document.querySelectorAll('h1.verdict:not([elementtiming])')) h.setAttribute('elementtiming', 'answer');
		if (document.querySelector('#next:not([data-soon])')) requestAnimationFrame(() => setTimeout(() => { if (!sessionStorage.getItem('next')) sessionStorage.setItem('next', at(performance.now())); }));
	}).observe(document, {childList: true, subtree: true, attributes: true, attributeFilter: ['data-soon']});
})()`

// after is how long after Enter something was there [ms]; 0 as long as it is not.
func after(what string) string {
	return fmt.Sprintf(`(() => { const p = Number(sessionStorage.getItem('%s')), e = Number(sessionStorage.getItem('entered'));
	return location.pathname.includes('/readings/') && p > e && e ? p - e : 0; })()`, what)
}

// reading enters one: its boxes typed, what it would do waited for, then Enter.
// Nothing: the page asked back, which is no answer to be measured.
func (b *screen) reading(job string, r typed) (out times, err error) {
	if err := chromedp.Do(b, chromedp.Navigate(b.base+job+"?key="+url.QueryEscape("do:"+r.procedure))); err != nil {
		return out, err
	}
	if err := b.until("document.readyState === 'complete'", "the page"); err != nil {
		return out, err
	}
	for i, text := range r.boxes {
		box := fmt.Sprintf("document.querySelector('#v%d')", i)
		fill := fmt.Sprintf("(() => { const b = %s; b.value = %s; b.dispatchEvent(new Event('input', {bubbles: true})); return true; })()", box, strconv.Quote(text))
		if r.looks[i] {
			fill = fmt.Sprintf("(() => { const c = [...document.querySelectorAll('#entry input[type=radio]')].find(i => i.value === %s); c.click(); return true; })()", strconv.Quote(text))
		}
		if ok, err := chromedp.Run(b, chromedp.Evaluate[bool](fill)); err != nil || !ok {
			return out, fmt.Errorf("box %d cannot be filled: %w", i, err)
		}
	}
	if err := b.until("/If this is entered|Nobody expects/.test(document.querySelector('#preview').innerText)", "the look at what it would do"); err != nil {
		return out, err
	}
	if odd, err := chromedp.Run(b, chromedp.Evaluate[bool]("!!document.querySelector('#preview [name=sure]')")); err != nil || odd {
		return out, err
	}
	time.Sleep(b.pause) // a person reads what it would do before it is entered
	if _, err := chromedp.Run(b, chromedp.Evaluate[bool]("(document.querySelector('#v0:not(fieldset)') || document.querySelector('#v0 input:checked')).focus(), true")); err != nil {
		return out, err
	}
	if err := chromedp.Do(b, chromedp.KeyEvent(kb.Enter)); err != nil {
		return out, err
	}
	for what, d := range map[string]*time.Duration{"painted": &out.answer, "next": &out.next} {
		if err := b.until(after(what)+" > 0", "the answer"); err != nil {
			return out, err
		}
		took, err := chromedp.Run(b, chromedp.Evaluate[float64](after(what)))
		if err != nil {
			return out, err
		}
		*d = time.Duration(took * float64(time.Millisecond))
	}
	return out, nil
}

// until waits until an expression is true; a page that goes away while it is
// asked is asked again.
func (b *screen) until(expression, what string) error {
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if ok, err := chromedp.Run(b, chromedp.Evaluate[bool](expression)); err == nil && ok {
			return nil
		}
		if b.Err() != nil {
			return b.Err()
		}
	}
	return fmt.Errorf("%s did not come within a minute", what)
}
