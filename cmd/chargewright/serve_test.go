package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// quiet is a buffer that two goroutines may use.
type quiet struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (q *quiet) Write(p []byte) (int, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.b.Write(p)
}

func (q *quiet) String() string {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.b.String()
}

// served starts the command and returns its address and what ends it. Only the
// made-up workshop works out ahead of what is asked, as every server does: it
// takes the processor from the other tests.
func served(t *testing.T, c *serveCmd, stderr io.Writer) (base string, stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ready, done := make(chan string, 1), make(chan error, 1)
	go func() { done <- c.serve(ctx, &env{stdout: io.Discard, stderr: stderr, cold: !c.Demo}, ready) }()
	select {
	case at := <-ready:
		return "http://" + at, func() error { cancel(); return <-done }
	case err := <-done:
		cancel()
		t.Fatalf("it does not serve: %v", err)
	case <-time.After(time.Minute):
		t.Fatal("it was not up within a minute")
	}
	cancel()
	return "", nil
}

func got(t *testing.T, url string) (int, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for { // as a browser does, which is told to come again
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(a.Body)
		_ = a.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		if a.StatusCode != http.StatusAccepted {
			return a.StatusCode, string(body)
		}
	}
}

// TestServeDemo: a dozen jobs in every state, no sign-in, and it says so; a live
// stream does not hold up the end.
func TestServeDemo(t *testing.T) {
	var said quiet
	base, stop := served(t, &serveCmd{Demo: true, Listen: "127.0.0.1:0"}, &said)
	code, page := got(t, base+"/")
	for _, want := range []string{"Ready for you", "Waiting", "To prove and sign", "Signed", "A made-up workshop", "Bakery in the High Street"} {
		if code != 200 || !strings.Contains(page, want) {
			t.Errorf("the list (%d) lacks %q", code, want)
		}
	}
	if n := strings.Count(page, `href="/jobs/j-demo-`); n < 12 {
		t.Errorf("%d jobs, want a dozen", n)
	}
	if code, page := got(t, base+"/healthz"); code != 200 || !strings.Contains(page, "answers") {
		t.Errorf("healthz: %d %s", code, page)
	}
	if code, page := got(t, base+"/jobs/j-demo-401/report"); code != 200 || !strings.Contains(page, "Bulkhead pin A poor") || !strings.Contains(page, "Signed") {
		t.Errorf("the signed report: %d", code)
	}
	if !strings.Contains(said.String(), "Nobody has to sign in") {
		t.Errorf("it says: %s", said.String())
	}
	underItsNames(t, base)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+"/jobs/j-demo-412/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	live, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer live.Body.Close()
	if err := stop(); err != nil { // it says so when a request was not answered to its end
		t.Error(err)
	}
}

// underItsNames asks a program under names that are its own, some more among them,
// and under others.
func underItsNames(t *testing.T, base string, more ...string) {
	t.Helper()
	_, port, _ := strings.Cut(strings.TrimPrefix(base, "http://"), ":")
	names := map[string]int{
		"127.0.0.1:" + port: 200, "localhost:" + port: 200, "LOCALHOST": 200, "[::1]:" + port: 200,
		"rebound.example": 421, "rebound.example:" + port: 421, "127.0.0.1.rebound.example": 421, "localhost.rebound.example": 421,
	}
	for _, name := range more {
		names[name] = 200
	}
	for host, want := range names {
		for path, want := range map[string]int{"/": want, "/healthz": 200} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Host = host
			a, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			body, err := io.ReadAll(a.Body)
			_ = a.Body.Close()
			if a.StatusCode != want || err != nil || want == 421 && strings.Contains(string(body), "<") {
				t.Errorf("%s under %s answers %d, want %d (%v) %.80s", path, host, a.StatusCode, want, err, body)
			}
		}
	}
}

func TestServeAsksForAnAccount(t *testing.T) {
	var said quiet
	base, stop := served(t, &serveCmd{Data: t.TempDir(), Listen: "127.0.0.1:0", Workshop: "Shop"}, &said)
	if code, page := got(t, base+"/"); code != 200 || !strings.Contains(page, "Nobody has an account here yet") {
		t.Errorf("%d %.300s", code, page)
	}
	_, link, found := strings.Cut(said.String(), base)
	link, _, _ = strings.Cut(link, "\n")
	if code, page := got(t, base+link); !found || code != 200 || !strings.Contains(page, "at least 12 characters") {
		t.Errorf("the owner's link %q: %d", link, code)
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

// TestServeSaysThatItBegan: a slip in --data would else look like a workshop that
// lost its jobs; one that was there is not spoken of.
func TestServeSaysThatItBegan(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	for i, fresh := range []bool{true, false} {
		var said quiet
		_, stop := served(t, &serveCmd{Data: dir, Listen: "127.0.0.1:0", Workshop: "Shop"}, &said)
		if got := strings.Contains(said.String(), "No workshop was in "+dir); got != fresh {
			t.Errorf("start %d: it says that it began one: %v, want %v\n%s", i+1, got, fresh, said.String())
		}
		if err := stop(); err != nil {
			t.Error(err)
		}
	}
}

// TestServeUnderItsNames: with and without a sign-in, what asks for another name
// than the program goes by gets nothing: a page elsewhere can have its own name
// point at this machine. What watches over the program may ask under any.
//
// The demonstration, which takes seconds to make, is asked in TestServeDemo.
func TestServeUnderItsNames(t *testing.T) {
	base, stop := served(t, &serveCmd{Data: t.TempDir(), Listen: "127.0.0.1:0", Workshop: "Shop", Origin: []string{"https://Shop.example"}}, io.Discard)
	underItsNames(t, base, "shop.example")
	if err := stop(); err != nil {
		t.Error(err)
	}
	if got := (&serveCmd{TLS: true}).hosts(); got != nil {
		t.Errorf("behind a proxy of unknown name: only %v", got)
	}
	if got := (&serveCmd{TLS: true, Demo: true}).hosts(); got == nil {
		t.Error("a demonstration goes by any name")
	}
}

func TestServeDemoStaysHere(t *testing.T) {
	err := (&serveCmd{Demo: true, Listen: ":0"}).serve(t.Context(), &env{stdout: io.Discard, stderr: io.Discard}, nil)
	if err == nil || !strings.Contains(err.Error(), "this machine only") {
		t.Errorf("a demonstration listens everywhere: %v", err)
	}
}
