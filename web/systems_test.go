package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestSystemPageNamesEveryMachine: an arrangement with two alternators and two
// batteries is shown with both of each, one with one with none of a second.
func TestSystemPageNamesEveryMachine(t *testing.T) {
	s := theShop(t)
	s.get(t, "/systems/coach-24").want(t, 200, "<dt>Alternator</dt>", "<dt>Second alternator</dt>", "<dt>Second regulator</dt>", "<dt>Front battery</dt>", "<dt>Rear battery</dt>")
	s.get(t, "/systems/split-charge").want(t, 200, "<dt>Starter battery</dt>", "<dt>Second battery</dt>")
	s.get(t, "/systems/"+theSystem).want(t, 200, "<dt>Alternator</dt>", "<dt>Battery</dt>").without(t, "Second alternator")
}

// TestNextLineToLookAt: each line with a problem leads to the next one that has one, the last
// to none.
func TestNextLineToLookAt(t *testing.T) {
	s := theShop(t)
	source := string(s.systemSource(t))
	source = strings.Replace(source, "volts: 12 V", "volts: 12 furlongs", 1) + "\nodd: 1\n"
	a := s.ask(t, http.MethodPost, "/systems/check", url.Values{"source": {source}}).want(t, 422, "2 places need a second look", "Next line to look at")
	clean(t, a.body)
	last := strings.Count(strings.TrimSuffix(source, "\n"), "\n") + 1
	if n := strings.Count(a.body, `class="next"`); n != 1 || !strings.Contains(a.body, `class="next" href="#line-`+strconv.Itoa(last)+`"`) {
		t.Errorf("%d links to a next line, want one to line %d: %q", n, last, nextLink.FindAllString(a.body, -1))
	}
}

var nextLink = regexp.MustCompile(`class="next" href="[^"]*"`)

func (s *shop) systemSource(t *testing.T) []byte {
	t.Helper()
	sys, err := s.Shelf.System(theSystem)
	if err != nil {
		t.Fatal(err)
	}
	return sys.Own()
}
