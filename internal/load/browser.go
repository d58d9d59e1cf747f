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

	"github.com/chromedp/chromedp"
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
	var took []time.Duration
	for _, c := range cases {
		if len(took) >= o.browser {
			break
		}
		list, err := b.doJob(p, c)
		if err != nil {
			return err
		}
		took = append(took, list...)
	}
	slices.Sort(took)
	p95 := quantile(took, 95)
	fmt.Printf("Chromium over the made-up workshop, 1024x768, Enter %s after the look at what it would do, to the first paint of the answer: %d readings, p50 %s ms, p95 %s ms (bar 150), most %s ms: %s\n",
		o.pause, len(took), ms(quantile(took, 50)), ms(p95), ms(took[len(took)-1]), verdict(p95 < 150*time.Millisecond, loadNow()))
	fmt.Printf("server: %.2f s of processor time for each reading with its pages, %s at most; %.0f s by the clock; load average %s before, %s after\n",
		(cpuOf(p.cmd.Process.Pid)-used).Seconds()/float64(len(took)), peak(p.cmd.Process.Pid), time.Since(began).Seconds(), before, loadAverage())
	return nil
}

func openScreen(ctx context.Context, p *program) (*screen, func(), error) {
	path, err := exec.LookPath("chromium")
	if err != nil {
		return nil, nil, errors.New("there is no chromium on this machine: apt-get install chromium")
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
	if err := chromedp.Do(tab, chromedp.EmulateViewport(1024, 768)); err != nil {
		end()
		return nil, nil, err
	}
	return &screen{Context: tab, base: p.base}, end, nil
}

// doJob opens a job and enters its readings.
func (b *screen) doJob(p *program, v visit) ([]time.Duration, error) {
	w := &workshop{options: options{}, p: p, next: []visit{v}, took: map[string][]time.Duration{}, wrong: map[string]int{}}
	t := &technician{device: newDevice(p.base), shop: w}
	if err := t.nextJob(b); err != nil {
		return nil, err
	}
	t.end()
	var out []time.Duration
	for _, r := range v.readings {
		d, err := b.reading(t.job, r)
		if err != nil {
			return out, fmt.Errorf("%s: %w", r.procedure, err)
		}
		if d > 0 {
			out = append(out, d)
		}
	}
	return out, nil
}

// clock tells when Enter was pressed, across the pages: the time of the page that
// it was pressed on, kept for the next.
const clock = `addEventListener('submit', () => sessionStorage.setItem('entered', performance.timeOrigin + performance.now()), true); true`

const painted = `(() => { const p = performance.getEntriesByName('first-contentful-paint')[0], e = Number(sessionStorage.getItem('entered'));
	return location.pathname.includes('/readings/') && p && e ? performance.timeOrigin + p.startTime - e : 0; })()`

// reading enters one: its boxes typed, what it would do waited for, then Enter. 0:
// the page asked back, which is no answer to be measured.
func (b *screen) reading(job string, r typed) (time.Duration, error) {
	if err := chromedp.Do(b, chromedp.Navigate(b.base+job+"?key="+url.QueryEscape("do:"+r.procedure))); err != nil {
		return 0, err
	}
	if err := b.until("document.readyState === 'complete' && "+clock, "the page"); err != nil {
		return 0, err
	}
	for i, text := range r.boxes {
		box := fmt.Sprintf("document.querySelector('#v%d')", i)
		fill := fmt.Sprintf("(() => { const b = %s; b.value = %s; b.dispatchEvent(new Event('input', {bubbles: true})); return true; })()", box, strconv.Quote(text))
		if r.looks[i] {
			fill = fmt.Sprintf("(() => { const c = [...document.querySelectorAll('#entry input[type=radio]')].find(i => i.value === %s); c.click(); return true; })()", strconv.Quote(text))
		}
		if ok, err := chromedp.Run(b, chromedp.Evaluate[bool](fill)); err != nil || !ok {
			return 0, fmt.Errorf("box %d cannot be filled: %w", i, err)
		}
	}
	if err := b.until("/If this is entered|Nobody expects/.test(document.querySelector('#preview').innerText)", "the look at what it would do"); err != nil {
		return 0, err
	}
	if odd, err := chromedp.Run(b, chromedp.Evaluate[bool]("!!document.querySelector('#preview [name=sure]')")); err != nil || odd {
		return 0, err
	}
	time.Sleep(b.pause) // a person reads what it would do before it is entered
	if _, err := chromedp.Run(b, chromedp.Evaluate[bool]("document.querySelector('#entry button.act').click(), true")); err != nil {
		return 0, err
	}
	if err := b.until(painted+" > 0", "the answer"); err != nil {
		return 0, err
	}
	after, err := chromedp.Run(b, chromedp.Evaluate[float64](painted))
	return time.Duration(after * float64(time.Millisecond)), err
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
