package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"chargewright/journal"
)

// workshop is everybody at work on one server.
type workshop struct {
	options
	p     *program
	owner *device
	all   []*technician

	mu     sync.Mutex
	next   []visit // jobs that nobody has opened yet
	took   map[string][]time.Duration
	wrong  map[string]int
	acked  map[string]string // the job of each reading that was acknowledged, by its event
	sent   map[string]bool   // events that were sent, acknowledged or not
	weight int               // of a first load [bytes]

	before, after usage
	cost          *cost // nil: latencies are measured
}

// usage is what was used until a moment.
type usage struct {
	at                time.Time
	server, base, own time.Duration
	load              string
}

func (w *workshop) use() usage {
	u := usage{at: time.Now(), server: cpuOf(w.p.cmd.Process.Pid), own: cpuOfSelf(), load: loadAverage()}
	if w.p.pg != nil {
		u.base = cpuOfTree(w.p.pg.PID())
	}
	return u
}

// technician is one at work.
type technician struct {
	*device
	shop  *workshop
	visit visit
	job   string // its address
	done  int    // readings of it
	seen  int    // last event that the device knows
	end   context.CancelFunc
}

// mostSessions is how many sign in: more from one address at once would be paced.
const mostSessions = 10

const password = "copper braid 41"

// newWorkshop signs everybody in and opens the first job of each, until the
// server has nothing more to do.
func newWorkshop(ctx context.Context, p *program, cases []visit, o options) (*workshop, error) {
	w := &workshop{
		options: o, p: p, next: cases, took: map[string][]time.Duration{}, wrong: map[string]int{}, acked: map[string]string{}, sent: map[string]bool{},
	}
	one := newDevice(p.base)
	if a, err := one.ask(ctx, p.link, url.Values{"name": {"Mara"}, "password": {password}, "again": {password}}, asPage); err != nil || a.code != http.StatusOK {
		return w, errors.Join(fmt.Errorf("the owner's account: answered %d", a.code), err)
	}
	if err := p.quiet(ctx); err != nil {
		return w, err
	}
	for i := range o.technicians {
		t := &technician{device: newDevice(p.base), shop: w}
		if i < mostSessions {
			if a, err := t.ask(ctx, "/sign-in", url.Values{"name": {"Mara"}, "password": {password}}, asPage); err != nil || t.session == "" {
				return w, errors.Join(fmt.Errorf("signing in: answered %d", a.code), err)
			}
		} else {
			t.session = w.all[i%mostSessions].session
		}
		if err := t.nextJob(ctx); err != nil {
			return w, err
		}
		w.all = append(w.all, t)
	}
	w.owner = w.all[0].device
	return w, p.quiet(ctx)
}

// run lets everybody work for as long as it is measured.
func (w *workshop) run(ctx context.Context) error {
	var err error
	if w.weight, err = w.firstLoad(ctx); err != nil {
		return err
	}
	w.before = w.use()
	begin := time.Now().Add(8 * time.Second) // the first page is looked at before
	var all sync.WaitGroup
	for i, t := range w.all {
		first := begin.Add(w.every * time.Duration(i) / time.Duration(len(w.all)))
		all.Go(func() {
			for due := first; due.Before(begin.Add(w.lasts)) && ctx.Err() == nil; due = due.Add(w.every) {
				t.reading(ctx, due)
			}
			t.end()
		})
	}
	all.Wait()
	w.after = w.use()
	return ctx.Err()
}

// note keeps how long something took from when it was due, and what went wrong.
func (w *workshop) note(what string, due time.Time, a answer, err error, want int) bool {
	took := time.Since(due)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.took[what] = append(w.took[what], took)
	if w.cost != nil {
		w.cost.add(what, cpuOf(w.p.cmd.Process.Pid))
	}
	if err == nil && a.code == want {
		return true
	}
	why := fmt.Sprintf("%s: answered %d", what, a.code)
	if err != nil {
		why = what + ": " + err.Error()
	}
	w.wrong[why]++
	if w.verbose {
		fmt.Fprintln(os.Stderr, why, a.at, firstWords(a.body))
	}
	return false
}

var (
	seenField = regexp.MustCompile(`name="seen" value="(\d+)"`)
	readField = regexp.MustCompile(`name="reading" value="(r\d+)"`)
	lineField = regexp.MustCompile(`name="line" value="(\d+)"`)
	tags      = regexp.MustCompile(`(?s)<(script|style|svg).*?</(script|style|svg)>|<[^>]*>`)
)

func firstWords(page string) string {
	words := strings.Join(strings.Fields(tags.ReplaceAllString(page, " ")), " ")
	return words[:min(len(words), 600)]
}

// knows takes the last event that a page knows from it.
func (t *technician) knows(page string) {
	if m := seenField.FindStringSubmatch(page); m != nil {
		t.seen, _ = strconv.Atoi(m[1]) // digits, by the pattern
	}
}

// nextJob opens the next job that nobody has opened, and looks at it.
func (t *technician) nextJob(ctx context.Context) error {
	w := t.shop
	w.mu.Lock()
	if len(w.next) == 0 {
		w.mu.Unlock()
		return fmt.Errorf("there are no more hidden vehicles: a mistake of this program")
	}
	t.visit, w.next = w.next[0], w.next[1:]
	w.mu.Unlock()
	if t.end != nil {
		t.end()
	}
	form := url.Values{
		"event": {journal.NewID(time.Now())}, "seen": {"0"}, "kind": {t.visit.kind}, "system": {t.visit.system}, "volts": {fmt.Sprintf("%g", t.visit.volts)}, "ambient": {"18"},
		"meter": {"dmm", "dc-clamp", "ma-clamp", "hydrometer", "milliohm-meter", "tachometer"},
	}
	due := time.Now()
	a, err := t.ask(ctx, "/jobs", form, asPage)
	if !w.note("a job is opened and shown", due, a, err, http.StatusOK) {
		return errors.Join(fmt.Errorf("a job could not be opened: answered %d: %s", a.code, firstWords(a.body)), err)
	}
	t.job, t.done = a.at, 0
	t.knows(a.body)
	live, end := context.WithCancel(ctx)
	t.end = end
	go func() {
		if err := t.listen(live, t.job); err != nil && live.Err() == nil {
			w.note("the stream of news", time.Now(), answer{}, err, 0)
		}
	}()
	return nil
}

// until waits for a moment; nobody waits where only work is counted.
func (w *workshop) until(ctx context.Context, at time.Time) {
	if w.cost != nil {
		return
	}
	select {
	case <-ctx.Done():
	case <-time.After(time.Until(at)):
	}
}

// reading does all that belongs to a reading that is entered when it is due: the
// page, the hook-up ticked to its last line, a look at what it would do, Enter,
// what it says, and the page of the job once more.
func (t *technician) reading(ctx context.Context, due time.Time) {
	w := t.shop
	if w.until(ctx, due.Add(-7*time.Second)); t.done == len(t.visit.readings) {
		if err := t.nextJob(ctx); err != nil {
			return // noted
		}
	}
	r := t.visit.readings[t.done]
	t.done++
	key := "do:" + r.procedure
	w.until(ctx, due.Add(-5*time.Second))
	a, err := t.ask(ctx, t.job+"?key="+url.QueryEscape(key), nil, asPage)
	if !w.note("the page of a test", due.Add(-5*time.Second), a, err, http.StatusOK) {
		return
	}
	t.knows(a.body)
	if lines := lineField.FindAllStringSubmatch(a.body, -1); len(lines) > 0 {
		w.until(ctx, due.Add(-3*time.Second))
		form := url.Values{"event": {journal.NewID(time.Now())}, "seen": {strconv.Itoa(t.seen)}, "key": {key}, "line": {lines[len(lines)-1][1]}}
		a, err = t.ask(ctx, t.job+"/hook-up", form, asPart)
		w.note("a hook-up is ticked", due.Add(-3*time.Second), a, err, http.StatusOK)
		t.knows(a.body)
	}
	form := url.Values{"event": {journal.NewID(time.Now())}, "seen": {strconv.Itoa(t.seen)}, "taken": {strconv.Itoa(t.seen)}, "key": {key}, "sure": {"yes"}, "at": {due.Format(time.RFC3339)}}
	if m := readField.FindStringSubmatch(a.body); m != nil {
		form.Set("reading", m[1])
	}
	for i, text := range r.boxes {
		form.Set("v"+strconv.Itoa(i), text)
	}
	w.until(ctx, due.Add(-time.Second))
	looked := t.look(ctx, due.Add(-time.Second), form)
	if w.until(ctx, due); w.cost != nil {
		<-looked // what it costs is counted by itself
	}
	if t.enter(ctx, due, form) {
		w.until(ctx, due.Add(2*time.Second))
		a, err = t.ask(ctx, t.job, nil, asPage)
		w.note("the page of a job", due.Add(2*time.Second), a, err, http.StatusOK)
	}
}

// look asks what a reading would do while the technician reads the box once more: who
// presses Enter does not wait for it.
func (t *technician) look(ctx context.Context, due time.Time, form url.Values) <-chan struct{} {
	done, sent, to := make(chan struct{}), maps.Clone(form), t.job+"/preview"
	go func() {
		defer close(done)
		a, err := t.ask(ctx, to, sent, asPart)
		t.shop.note("a look at what it would do", due, a, err, http.StatusOK)
	}()
	return done
}

// enter sends a reading, and loads what it says.
func (t *technician) enter(ctx context.Context, due time.Time, form url.Values) bool {
	w, event := t.shop, form.Get("event")
	w.mu.Lock()
	w.sent[event] = true
	w.mu.Unlock()
	form.Set("show", "page") // as the page's script does
	a, err := t.ask(ctx, t.job+"/waiting", form, asScript)
	if !w.note("a reading is recorded", due, a, err, http.StatusOK) {
		return false
	}
	var got struct {
		Seq      int
		To, Page string
	}
	if err := json.Unmarshal([]byte(a.body), &got); err != nil || got.To == "" {
		return w.note("a reading is recorded", due, a, fmt.Errorf("not understood: %q", a.body), http.StatusOK)
	}
	t.seen = got.Seq
	w.mu.Lock()
	w.acked[event] = t.job
	w.mu.Unlock()
	if a.body = got.Page; got.Page == "" {
		a, err = t.ask(ctx, got.To, nil, asPage)
	}
	good := w.note(answered, due, a, err, http.StatusOK)
	for err == nil { // as the page's script does, until the causes are there
		m := soonField.FindStringSubmatch(a.body)
		if m == nil {
			break
		}
		a, err = t.ask(ctx, html.UnescapeString(m[1]), nil, asPage)
	}
	return w.note(caused, due, a, err, http.StatusOK) && good
}

// answered is what the bar is about: recorded, and what the reading is against its
// limits. caused is when the page says what it does to the causes as well.
const (
	answered = "the answer after a reading"
	caused   = "the causes in it"
)

// soonField is on a page that waits for the causes.
var soonField = regexp.MustCompile(`data-soon="([^"]+\?soon=[^"]*)"`)

var asset = regexp.MustCompile(`(?:href|src)="(/static/[^"]+)"`)

// firstLoad is what a device loads that has never been here, on the wire.
func (w *workshop) firstLoad(ctx context.Context) (int, error) {
	d := newDevice(w.p.base)
	d.session = w.owner.session
	a, err := d.ask(ctx, w.all[0].job, nil, asPage)
	if err != nil {
		return 0, err
	}
	sum, seen := a.wire, map[string]bool{}
	for _, m := range asset.FindAllStringSubmatch(a.body, -1) {
		if seen[m[1]] {
			continue
		}
		seen[m[1]] = true
		f, err := d.ask(ctx, m[1], nil, asPage)
		if err != nil || f.code != http.StatusOK {
			return 0, errors.Join(fmt.Errorf("%s: answered %d", m[1], f.code), err)
		}
		sum += f.wire
	}
	return sum, nil
}
