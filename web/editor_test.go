package web

import (
	"net/http/httptest"
	"testing"
)

// TestReadOnPause: a system file that is being written is read when its writer pauses; what
// is wrong stands at its line, gone when it is mended, and the hand stays where it writes.
func TestReadOnPause(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(serverFor(t, s, false))
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, tablet[0], tablet[1])
	b.go_("/systems/" + theSystem + "/edit")
	b.until("the file", "document.readyState === 'complete' && document.querySelector('#source').value.length > 1000")
	stands := b.stays()
	b.tick("#source")
	eval[bool](b, "(() => { const t = document.querySelector('#source'); t.setSelectionRange(t.value.length, t.value.length); return true; })()")
	b.keys("odd: 1")
	b.until("what is wrong", "document.querySelector('#said').innerText.includes('1 place needs a second look') && document.querySelector('#read .bad')?.innerText.includes('odd: 1')")
	b.focused("#source")
	b.look("editor-paused")
	for range len("odd: 1") {
		b.keys("\b")
	}
	b.until("that it is mended", "document.querySelector('#said').innerText.includes('Everything is read') && !document.querySelector('#read .bad')")
	b.focused("#source")
	stands()
}
