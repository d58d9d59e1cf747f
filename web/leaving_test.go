package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestWhatIsPressedStays: somebody presses a link, and before its page comes another
// device enters something. The page that is being left is not loaded anew for that, which
// would take back what was pressed.
func TestWhatIsPressedStays(t *testing.T) {
	s := theShop(t)
	to := serverFor(t, s, false)
	asked, go_ := make(chan struct{}), make(chan struct{})
	first := sync.OnceFunc(func() { close(asked) })
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/log") {
			first()
			<-go_
		}
		to.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	b := open(browser(t), t, server.URL, tablet[0], tablet[1])
	at := b.onTest(s, "battery-rest-volts")
	b.jobSeq(1)
	b.tick("nav a[href$='/log']")
	<-asked
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	time.Sleep(500 * time.Millisecond) // the news comes meanwhile; where it is late the test sees nothing and says nothing
	close(go_)
	b.until("the page that was pressed", "location.pathname.endsWith('/log') && document.readyState === 'complete'")
	b.sees("Log", "Belt")
}
