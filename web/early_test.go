package web

import (
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

// TestAnswerBeforeTheCauses: with an engine that has no time, a reading is answered
// all the same with what it is against its limits; the causes follow, and the page is
// then what it would have been.
func TestAnswerBeforeTheCauses(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.waits(1, "drop-feed", "1.98 V", "24.6 A")
	f.Set("sure", "yes")
	s.get(t, at).want(t, 200) // as whoever reads it has it before him
	over := s.overwhelmed()
	defer over()
	ok, _ := s.shows(t, at, f, 200)
	soon := ok.To + "?soon=yes"
	early := answer{200, ok.Page, nil}.want(t, 200, `data-soon="`+soon+`"`, "It is recorded.", "being worked out", "The causes before it", "Go on", "at most")
	clean(t, early.body)
	if strings.Contains(early.body, "What it did to the causes") {
		t.Error("the causes are there: the test has not seen what it is for")
	}
	if again, _ := s.shows(t, at, f, 200); again.Seq != ok.Seq || !strings.Contains(again.Page, soon) {
		t.Errorf("sent again it is answered %+v", again)
	}
	over()
	causes := s.get(t, soon).want(t, 200, "What it did to the causes")
	whole := s.get(t, ok.To).want(t, 200, "Next: ")
	if a, b := bare(causes.body), bare(whole.body); a != b {
		n := 0
		for n < min(len(a), len(b)) && a[n] == b[n] {
			n++
		}
		t.Errorf("the page that was asked for soon is another from byte %d on: %.200s, not %.200s", n, a[n:], b[n:])
	}
	if a, b := heading(t, early.body), heading(t, whole.body); a != b {
		t.Errorf("it was said to be %q, then %q", a, b)
	}
	s.get(t, at+"/readings/r9?soon=yes").want(t, 404, "no such reading")
}

// heading is a page's first heading.
func heading(t *testing.T, page string) string {
	t.Helper()
	_, h, ok := strings.Cut(page, "<h1")
	_, h, _ = strings.Cut(h, ">")
	h, _, _ = strings.Cut(h, "</h1>")
	if !ok || h == "" {
		t.Fatal("the page has no heading")
	}
	return h
}

// TestEarlyInPlace: in a browser the causes come into the answer that stands there;
// the focus stays where it is, and what is new is in a part that is read out.
func TestEarlyInPlace(t *testing.T) {
	s := theShop(t)
	busy := serverFor(t, s, false)
	server := httptest.NewServer(busy)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, tablet[0], tablet[1])
	at := b.onTest(s, "battery-rest-volts")
	stands := b.stays()
	over := busy.overwhelmed()
	defer over()
	b.tick("#v0")
	b.keys("12.41" + kb.Enter)
	b.jobSeq(2)
	b.sees("12.41", "It is recorded", "The causes before it")
	b.focused("h1.verdict")
	b.look("early-in-place")
	if got := eval[string](b, "document.querySelector('#says').closest('[aria-live=polite]').className"); got != "said gap" {
		b.t.Errorf("what comes is read out in %q", got)
	}
	over()
	b.until("the causes", "document.querySelector('#did').innerText.includes('What it did to the causes')")
	b.until("the next step", "document.querySelector('#next').innerText.startsWith('Next: ')")
	b.focused("h1.verdict")
	stands()
	if n := eval[int64](b, "document.querySelectorAll('#next, #says, #did, #read, #verdict').length"); n != 5 {
		b.t.Errorf("%d parts of an answer, want 5", n)
	}
	if got := values(t, s.events(t, at), "battery-rest-volts"); !slices.Equal(got, []string{"12.41"}) {
		t.Errorf("recorded %v", got)
	}
}
