package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"chargewright/internal/pgtest"
	"chargewright/journal"
	"chargewright/store"
)

// program is a chargewright serve of its own.
type program struct {
	cmd  *exec.Cmd
	base string // where it answers
	link string // the owner's, when it printed one
	said *quiet
}

// begin starts a server on a database, an address or a directory, and waits until it
// answers.
func begin(t *testing.T, database string, env ...string) *program {
	t.Helper()
	p := start(t, database, `"msg":"serving","address":"([^"]+)"`, env, "serve", "--listen", "127.0.0.1:0")
	if m := regexp.MustCompile(`\n  http\S+(/owner/\S+)\n`).FindStringSubmatch(p.said.String()); m != nil {
		p.link = m[1]
	}
	return p
}

// beginWorker starts a process that takes tasks and serves no pages.
func beginWorker(t *testing.T, database string, env ...string) *program {
	t.Helper()
	return start(t, database, `"msg":"working","database":"([^"]+)"`, env, "work")
}

// start starts the program and waits until its log says that it has begun, and where.
func start(t *testing.T, database, says string, env []string, args ...string) *program {
	t.Helper()
	p := &program{cmd: exec.Command("chargewright", append(args, "--log", "json")...), said: &quiet{}}
	p.cmd.Env = slices.Concat(os.Environ(), env, []string{coldVariable + "=1"})
	if filepath.IsAbs(database) {
		p.cmd.Args = append(p.cmd.Args, "--data", database)
	} else {
		p.cmd.Env = append(p.cmd.Env, databaseVariable+"="+database)
	}
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	p.cmd.Stderr = p.said
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.cmd.Process.Kill(); _ = p.cmd.Wait() })
	begun := regexp.MustCompile(says)
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if m := begun.FindStringSubmatch(p.said.String()); m != nil {
			p.base = m[1]
			return p
		}
	}
	t.Fatalf("it does not begin: %s", p.said.String())
	return nil
}

// device is somebody at work: it sends a form until a server has acknowledged
// it, to the next server when one does not answer.
type device struct {
	*http.Client
	servers []string
	at      int
	session string
	seen    int
}

func newDevice(first int, servers ...string) *device {
	return &device{
		Client:  &http.Client{Timeout: 30 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }},
		servers: servers, at: first,
	}
}

// post sends a form once.
func (d *device) post(ctx context.Context, path string, form url.Values) (code int, body, to string, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, d.servers[d.at]+path, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, "", "", err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Cookie", d.session)
	a, err := d.Do(r)
	if err != nil {
		return 0, "", "", err
	}
	defer func() { _ = a.Body.Close() }()
	data, err := io.ReadAll(a.Body)
	if c := a.Header.Get("Set-Cookie"); path == "/sign-in" && c != "" {
		d.session, _, _ = strings.Cut(c, ";")
	}
	return a.StatusCode, string(data), a.Header.Get("Location"), err
}

var seenField = regexp.MustCompile(`name="seen" value="(\d+)"`)

// send sends an event until it is acknowledged.
func (d *device) send(ctx context.Context, job, event string) error {
	for end := time.Now().Add(time.Minute); time.Now().Before(end); {
		form := url.Values{"event": {event}, "seen": {strconv.Itoa(d.seen)}, "procedure": {"battery-density"}, "why": {"sealed"}}
		code, body, _, err := d.post(ctx, job+"/could-not", form)
		switch {
		case err != nil || code >= 500: // away, or going away: the same form to the next
			d.at = (d.at + 1) % len(d.servers)
			time.Sleep(20 * time.Millisecond)
		case code == http.StatusAccepted: // worked on, not acknowledged: the same form again
			time.Sleep(100 * time.Millisecond)
		case code == http.StatusSeeOther:
			d.seen++
			return nil
		case code == http.StatusConflict && seenField.MatchString(body): // somebody was faster: on top of what came
			d.seen, _ = strconv.Atoi(seenField.FindStringSubmatch(body)[1])
		default:
			return fmt.Errorf("event %s: answered %d: %.300s", event, code, body)
		}
	}
	return fmt.Errorf("event %s was not acknowledged within a minute", event)
}

// listen notes when a live stream told of which event.
func listen(ctx context.Context, base, job, session string, into *sync.Map) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, base+job+"/live", nil)
	if err != nil {
		return err
	}
	r.Header.Set("Cookie", session)
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer func() { _ = a.Body.Close() }()
	for lines := bufio.NewScanner(a.Body); lines.Scan(); {
		if text, found := strings.CutPrefix(lines.Text(), "data: "); found {
			if seq, err := strconv.Atoi(text); err == nil {
				into.LoadOrStore(seq, time.Now())
			}
		}
	}
	return nil
}

// TestTwoServers: two servers on one PostgreSQL, two devices on one job, and the
// first server is killed in the middle. Whatever was acknowledged is in the
// journal once, the chain is whole, the page at the other server heard of each
// event, and a session is good at both.
func TestTwoServers(t *testing.T) {
	database := pgtest.Start(t, pgtest.Lasting).Address("shop")
	one := begin(t, database)
	two := begin(t, database)
	link := two.link // the newest is the one that counts
	mara := newDevice(0, one.base, two.base)
	ctx := t.Context()
	must := func(code int, body, to string, err error) string {
		t.Helper()
		if err != nil || code != http.StatusSeeOther {
			t.Fatalf("answered %d: %.500s (%v)", code, body, err)
		}
		return to
	}
	must(mara.post(ctx, link, url.Values{"name": {"Mara"}, "password": {"copper braid 41"}, "again": {"copper braid 41"}}))
	must(mara.post(ctx, "/sign-in", url.Values{"name": {"Mara"}, "password": {"copper braid 41"}}))
	job := must(mara.post(ctx, "/jobs", url.Values{
		"event": {"e-two-servers-1"}, "seen": {"0"}, "kind": {"low-charge"}, "system": {"isolated-earth-side"}, "meter": {"dmm", "dc-clamp"}, "volts": {"12"}, "ambient": {"18"},
	}))

	live, endLive := context.WithCancel(ctx)
	var told sync.Map
	var listening sync.WaitGroup
	listening.Go(func() {
		if err := listen(live, two.base, job, mara.session, &told); err != nil && live.Err() == nil {
			t.Error(err)
		}
	})

	const each, killAfter = 4, 1
	var mu sync.Mutex
	acked := map[string]time.Time{}
	devices := []*device{newDevice(0, one.base, two.base), newDevice(1, one.base, two.base)}
	chance := rand.New(rand.NewPCG(60, 14))
	wait := time.Duration(chance.IntN(150)) * time.Millisecond
	var killed sync.WaitGroup
	var all sync.WaitGroup
	for n, d := range devices {
		d.session, d.seen = mara.session, 1
		all.Go(func() {
			for i := 0; i < each || n == 0 && d.at == 0; i++ { // the first one until its server has gone
				event := fmt.Sprintf("device-%d-event-%d", n, i)
				if err := d.send(ctx, job, event); err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				acked[event] = time.Now()
				mu.Unlock()
				if n == 0 && i == killAfter {
					killed.Go(func() { time.Sleep(wait); _ = one.cmd.Process.Kill() })
				}
			}
		})
	}
	all.Wait()
	killed.Wait()
	if devices[0].at != 1 {
		t.Error("the first device never had to go to the second server: nothing was killed under it")
	}

	db, err := store.OpenRead(ctx, database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	book := journal.OpenRead(db)
	events, err := book.Read(ctx, strings.TrimPrefix(job, "/jobs/"), 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(events) != 1+len(acked) || len(acked) < 2*each {
		t.Errorf("%d events, want the opening and the %d that were acknowledged, %d at least", len(events), len(acked), 2*each)
	}
	// The last one may still be on its way: on a busy machine for longer than the page
	// would wait.
	for end := time.Now().Add(5 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if _, ok := told.Load(len(events)); ok {
			break
		}
	}
	var took []time.Duration
	for _, e := range events[1:] {
		at, known := acked[e.ID]
		if !known {
			t.Errorf("event %s was not sent, or stands there twice", e.ID)
			continue
		}
		delete(acked, e.ID)
		heardAt := time.Time{}
		for seq := e.Seq; seq <= len(events) && heardAt.IsZero(); seq++ { // whoever is slow hears of the latest only
			if x, ok := told.Load(seq); ok {
				heardAt, _ = x.(time.Time)
			}
		}
		if heardAt.IsZero() {
			t.Errorf("the page at the other server has not heard of event %d", e.Seq)
		}
		took = append(took, heardAt.Sub(at))
	}
	if len(acked) > 0 {
		t.Errorf("acknowledged and not in the journal: %v", acked)
	}
	r, err := book.Verify(ctx, journal.Sum{})
	if err != nil || len(r.Breaks) > 0 {
		t.Errorf("%v %v", r.Breaks, err)
	}
	slices.Sort(took)
	t.Logf("an event was heard of at the other server %v after its acknowledgement (median), %v at most", took[len(took)/2], took[len(took)-1])
	if took[len(took)/2] > time.Second {
		t.Errorf("half of the events were heard of later than a second after")
	}

	// The one that is left ends in good order, with a page listening.
	began := time.Now()
	if err := two.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := two.cmd.Wait(); err != nil || time.Since(began) > endWithin {
		t.Errorf("it ended after %v: %v: %s", time.Since(began), err, two.said.String())
	}
	endLive()
	listening.Wait()
	logIsClean(t, two.said.String())
}

// logIsClean: every line of the log is JSON, and holds neither token nor name.
func logIsClean(t *testing.T, said string) {
	t.Helper()
	lines := 0
	for line := range strings.Lines(said) {
		if !strings.HasPrefix(line, "{") {
			continue // what is said to whoever starts it
		}
		lines++
		var one map[string]any
		if err := json.Unmarshal([]byte(line), &one); err != nil {
			t.Errorf("%s: %v", line, err)
		}
		for _, secret := range []string{"Mara", "copper", "/owner/x", "session="} {
			if strings.Contains(line, secret) {
				t.Errorf("%s stands in the log: %s", secret, line)
			}
		}
	}
	if lines < 3 {
		t.Errorf("only %d lines of log", lines)
	}
}
