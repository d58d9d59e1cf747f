package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/a-h/templ"

	"chargewright/journal"
	"chargewright/report"
	"chargewright/web/page"
)

// shell is what every page has around it.
func (s *Server) shell(r *http.Request, title string) page.Shell {
	sh := page.Shell{
		Title: title, Head: s.Workshop, Sub: s.Now().Format("Monday, 2 January 2006"), Static: s.assets.base, Demo: s.Demo,
		User: who(r).Name, Who: who(r).ID, SignedIn: s.Accounts != nil, Version: s.Version, Here: r.URL.RequestURI(), Theme: theme(r), Letter: sizeOf(r) == report.Letter, Keys: cookie(r, keysCookie) != "off",
		May: s.mays(r),
	}
	for _, n := range []struct {
		page.Link
		shown bool
	}{
		{page.Link{Text: "Jobs", To: "/"}, sh.May.Look},
		{page.Link{Text: "New job", To: "/jobs/new"}, sh.May.Desk},
		{page.Link{Text: "Systems", To: "/systems"}, sh.May.Look},
		{page.Link{Text: "Instruments", To: "/instruments"}, sh.May.Look},
		{page.Link{Text: "People", To: "/people"}, sh.May.People},
	} {
		if n.shown {
			sh.Nav = append(sh.Nav, n.Link)
		}
	}
	if r.Method != http.MethodGet {
		sh.Here = "/"
	}
	for i := range sh.Nav {
		sh.Nav[i].Here = sh.Nav[i].To == r.URL.Path
	}
	return sh
}

// jobShell is the shell of a page of one job.
func (s *Server) jobShell(r *http.Request, w *work, title, here string) page.Shell {
	sh := s.shell(r, title)
	base := "/jobs/" + w.stream
	sh.Head, sh.Sub = s.jobTitle(r.Context(), w), jobSub(w)
	sh.Job, sh.Seq, sh.Live = base, w.seq, base+"/live"
	if w.job.Signed != nil { // no page shows a way to work on it before it is reopened
		sh.Closed, sh.May.Measure, sh.May.Mend = true, false, false
	}
	sh.Nav = []page.Link{
		{Text: "Jobs", To: "/"},
		{Text: "Now", To: base, Here: here == "now"},
		{Text: "Log", To: base + "/log", Here: here == "log"},
		{Text: "Proof", To: base + "/proof", Here: here == "proof"},
		{Text: "Report", To: base + "/report", Here: here == "report"},
	}
	return sh
}

func (s *Server) show(w http.ResponseWriter, r *http.Request, code int, c templ.Component) {
	s.meet(w, r)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	if err := c.Render(r.Context(), w); err != nil && !errors.Is(err, context.Canceled) {
		s.Log.Info("a page was not sent whole", "path", logPath(r), "why", err)
	}
}

// sorry is a page that says what is not, and where to go.
func (s *Server) sorry(w http.ResponseWriter, r *http.Request, code int, head, what string) {
	s.show(w, r, code, page.Plain(s.shell(r, head), head, what, page.Link{Text: "To the jobs", To: "/"}))
}

// broken answers a problem that is not the sender's.
func (s *Server) broken(w http.ResponseWriter, r *http.Request, err error) {
	var cut *journal.Break
	switch {
	case errors.Is(err, errNoJob):
		s.sorry(w, r, http.StatusNotFound, "There is no such job", "The address names a job that this workshop does not have.")
	case errors.Is(err, errNoSystem):
		s.sorry(w, r, http.StatusNotFound, "There is no such system", "The address names a system that this workshop does not have.")
	case errors.Is(err, errNoSheet):
		s.sorry(w, r, http.StatusNotFound, "There is no such sheet", "The address names an event at which this job was not signed. Its report lists the sheets that were.")
	case errors.Is(err, context.Canceled):
		w.WriteHeader(http.StatusRequestTimeout)
	case errors.As(err, &cut):
		s.Log.Error("the journal is not as it was recorded", "where", cut.Error())
		s.sorry(w, r, http.StatusInternalServerError, "The journal is not as it was recorded", "Event "+strconv.Itoa(cut.Seq)+" of this job: "+cut.What+". Nothing is shown from it. Put the last backup beside it and compare.")
	default:
		s.Log.Error("a request could not be answered", "method", r.Method, "path", logPath(r), "why", err)
		if s.Accounts != nil && who(r).ID == "" { // what is inside is no stranger's business
			s.sorry(w, r, http.StatusInternalServerError, "This cannot be shown", "What stands in the way is in the server's log.")
			return
		}
		s.sorry(w, r, http.StatusInternalServerError, "This cannot be shown", "What stands in the way: "+err.Error()+".")
	}
}

func (s *Server) nowhere(w http.ResponseWriter, r *http.Request) {
	s.sorry(w, r, http.StatusNotFound, "There is no such page", "The address is not one of this program's.")
}

func (s *Server) foreign(w http.ResponseWriter, r *http.Request) {
	s.sorry(w, r, http.StatusForbidden, "This form came from elsewhere", "Nothing was recorded. Open the page from this program and send it again.")
}

// Cookies of a device.
const (
	themeCookie = "chargewright-theme"
	keysCookie  = "chargewright-keys"
	paperCookie = "chargewright-paper"
	year        = 365 * 24 * time.Hour
)

func cookie(r *http.Request, name string) string {
	c, err := r.Cookie(name)
	if err != nil {
		return ""
	}
	return c.Value
}

func theme(r *http.Request) string {
	switch t := cookie(r, themeCookie); t {
	case "light", "night", "sun":
		return t
	}
	return ""
}

// views remembers how a device wants its pages.
func (s *Server) views(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	if !s.nameDevice(w, r) {
		return
	}
	switch t := r.FormValue("theme"); t {
	case "auto", "light", "night", "sun":
		s.setCookie(w, themeCookie, t, year)
	}
	switch k := r.FormValue("keys"); k {
	case "on", "off":
		s.setCookie(w, keysCookie, k, year)
	}
	if p := r.FormValue("paper"); slices.Contains(report.Papers(), p) {
		s.setCookie(w, paperCookie, p, year)
	}
	http.Redirect(w, r, local(r.FormValue("to")), http.StatusSeeOther)
}

// local is an address of this program; anything else becomes the list of jobs.
func local(to string) string {
	u, err := url.Parse(to) // refuses control characters, which browsers leave out
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) {
		return "/"
	}
	return to
}

func (s *Server) keysPage(w http.ResponseWriter, r *http.Request) {
	s.showKeys(w, r, http.StatusOK, deviceOf(r), nil)
}

func (s *Server) showKeys(w http.ResponseWriter, r *http.Request, code int, device string, problems page.Problems) {
	s.show(w, r, code, page.Keys(s.shell(r, "Keys and views"), device, problems))
}
