package web

import (
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"chargewright/internal/sample"
	"chargewright/question"
)

// movesWith puts every name where the next step comes, after what stands there
// while it is worked out, and lists those with which anything under it moves.
const movesWith = `(names => { const next = document.querySelector('#next'), note = text => Object.assign(document.createElement('span'), {textContent: text});
	const tops = () => [...document.querySelectorAll('.verdict-of > .read, .verdict-of > .mend, .verdict-of .mend .btn, .verdict-of .mend button, main h2')].map(e => Math.round(e.getBoundingClientRect().top)).join(' ');
	return names.filter(name => { next.replaceChildren('Go on', note('The next step is being worked out')); const before = tops();
		next.replaceChildren('Next: ' + name, note('58 min, 24 h waiting, parts 110')); return before === '' || tops() !== before; }); })(%s)`

// TestNothingMovesUnderTheNextStep: the next step comes after the answer to a
// reading. Whatever test it is, nothing else on the page moves, at any size.
func TestNothingMovesUnderTheNextStep(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	procedures, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range procedures {
		names = append(names, p.Name)
	}
	list, err := json.Marshal(names)
	if err != nil {
		t.Fatal(err)
	}
	b := open(browser(t), t, server.URL, phone[0], phone[1])
	b.go_(at + "/readings/r1")
	for _, size := range [][2]int64{phone, {768, 1024}, tablet, {1440, 900}} {
		b.size(size)
		if moved := eval[[]string](b, fmt.Sprintf(movesWith, list)); len(moved) > 0 {
			t.Errorf("at %d things move with %q", size[0], moved)
		}
	}
	// The measure sees what it is for.
	b.size(phone)
	if moved := eval[[]string](b, fmt.Sprintf(movesWith, `['one word of a name that goes on '.repeat(9)]`)); len(moved) != 1 {
		t.Error("a name of nine lines moves nothing")
	}
}

// Layout shifts as the browser counts them, without those that a key or a tap
// excuses: what follows half a second after the last of them is not excused.
const (
	watchShifts = `(() => { window.shifts = []; new PerformanceObserver(l => { for (const e of l.getEntries()) if (!e.hadRecentInput) window.shifts.push(
		e.value.toFixed(4) + ' ' + e.sources.map(s => s.node && (s.node.id || s.node.className || s.node.nodeName)).join(', ')); }).observe({type: 'layout-shift'}); return true; })()`
	shifts = `window.shifts`
)

// TestNothingMovesWhileTyping: what a reading would say comes while it is typed, and
// what is pressed next stands where it stood: on a phone, and at one of the larger
// sizes in turn, with CHARGEWRIGHT_ALL at both.
func TestNothingMovesWhileTyping(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, phone[0], phone[1])
	const enter = "Math.round(document.querySelector('#entry button.act').getBoundingClientRect().top)"
	larger := [][2]int64{{768, 1024}, tablet}
	for k, procedure := range []string{"battery-rest-volts", "drop-feed", "field-feed-key-on"} {
		values := [][]string{{"12.41"}, {"1.98", "24.6"}, {"12.17", "12.01", "0.0068"}}[k]
		for _, size := range append([][2]int64{phone}, sample.Part(larger, k, len(larger))...) {
			b.size(size)
			b.onTest(s, procedure)
			for i, v := range values {
				b.tick(fmt.Sprintf("#v%d", i))
				before := eval[int](b, enter)
				b.keys(v)
				if i == len(values)-1 {
					b.until("what it would say", "document.querySelector('#preview').innerText.includes('If this is entered')")
				}
				if after := eval[int](b, enter); after != before {
					t.Errorf("%s at %d: Enter moves from %d to %d as the %s comes", procedure, size[0], before, after, v)
				}
			}
			if size == phone && procedure == "battery-rest-volts" {
				eval[bool](b, watchShifts)
				b.keys(kb.Enter)
				b.jobSeq(2)
				b.until("the next step", "document.querySelector('#next').innerText.startsWith('Next: ')")
				b.until("the browser has counted", `(window.drawn ??= 0, requestAnimationFrame(() => window.drawn++), window.drawn > 5)`)
				for _, x := range eval[[]string](b, shifts) {
					t.Errorf("the page shifts after the answer: %s", x)
				}
			}
		}
	}
}
