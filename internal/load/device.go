package main

import (
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"
)

// device is a browser as far as a server sees one: it keeps its connections and
// its session, follows to where it is sent, asks again where it is told to wait,
// and takes pages compressed.
type device struct {
	http    *http.Client
	base    string
	session string
}

func newDevice(base string) *device {
	return &device{base: base, http: &http.Client{
		Timeout:       time.Minute,
		Transport:     &http.Transport{MaxIdleConnsPerHost: 4, DisableCompression: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// answer is what came back in the end.
type answer struct {
	code  int
	body  string
	at    string // the address that it stands at
	wire  int    // bytes of bodies that came
	asked int    // requests that it took
	first int    // the first code
}

// kind is how a request is made.
type kind int

const (
	asPage   kind = iota
	asPart        // by htmx
	asScript      // by offline.js
)

var again = regexp.MustCompile(`<meta http-equiv="refresh" content="0; url=([^"]+)">`)

// ask sends a request, or a form when there is one, and follows to the page.
func (d *device) ask(ctx context.Context, path string, form url.Values, as kind) (a answer, err error) {
	for a.asked < 100 {
		method, body := http.MethodGet, io.Reader(http.NoBody)
		if form != nil {
			method, body = http.MethodPost, strings.NewReader(form.Encode())
		}
		r, err := http.NewRequestWithContext(ctx, method, d.base+path, body)
		if err != nil {
			return a, err
		}
		d.dress(r, form != nil, as)
		to, err := d.one(r, &a)
		if err != nil || to == "" {
			a.at = path
			return a, err
		}
		path, form = to, nil
	}
	return a, fmt.Errorf("%s leads on and on", path)
}

// dress sets what a browser sends with a request.
func (d *device) dress(r *http.Request, form bool, as kind) {
	r.Header.Set("Accept-Encoding", "gzip")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if d.session != "" {
		r.Header.Set("Cookie", d.session)
	}
	if form {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	switch as {
	case asPart:
		r.Header.Set("HX-Request", "true")
	case asScript:
		r.Header.Set("Accept", "application/json")
	}
}

// one sends one request; to is where it leads, "" at its end.
func (d *device) one(r *http.Request, a *answer) (to string, err error) {
	w, err := d.http.Do(r)
	if err != nil {
		return "", err
	}
	defer func() { _ = w.Body.Close() }()
	counted := &counter{from: w.Body}
	in := io.Reader(counted)
	if w.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(counted)
		if err != nil {
			return "", err
		}
		in = z
	}
	data, err := io.ReadAll(in)
	if err != nil {
		return "", err
	}
	if a.asked++; a.asked == 1 {
		a.first = w.StatusCode
	}
	a.code, a.body, a.wire = w.StatusCode, string(data), a.wire+counted.n
	if c := w.Header.Get("Set-Cookie"); strings.Contains(c, "session=") {
		d.session, _, _ = strings.Cut(c, ";")
	}
	switch m := again.FindStringSubmatch(a.body); {
	case w.StatusCode == http.StatusSeeOther:
		return w.Header.Get("Location"), nil
	case w.StatusCode == http.StatusAccepted && m != nil:
		return strings.ReplaceAll(m[1], "&amp;", "&"), nil
	}
	return "", nil
}

type counter struct {
	from io.Reader
	n    int
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.n += n
	return n, err
}

// listen keeps a page's stream of news open until ctx ends.
func (d *device) listen(ctx context.Context, job string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, d.base+job+"/live", nil)
	if err != nil {
		return err
	}
	d.dress(r, false, asPage)
	w, err := (&http.Client{Transport: d.http.Transport}).Do(r)
	if err != nil {
		return err
	}
	defer func() { _ = w.Body.Close() }()
	if w.StatusCode != http.StatusOK {
		return fmt.Errorf("%s/live answered %d", job, w.StatusCode)
	}
	_, err = io.Copy(io.Discard, w.Body)
	return err
}
