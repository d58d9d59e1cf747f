package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"
)

// route is one row of the table of everything that can be asked for.
type route struct {
	pattern string // of http.ServeMux
	do      http.HandlerFunc
	open    bool // without being signed in
}

// table lists every route. The tests walk it: a row that no test has is a
// failed test.
func (s *Server) table() []route {
	return []route{
		{"GET /healthz", s.healthz, true},
		{"GET /metrics", s.metricsPage, false},
		{"GET /static/", s.assets.serve, true},
		{"GET /favicon.ico", s.icon, true},
		{"GET /sign-in", s.signInPage, true},
		{"POST /sign-in", s.signIn, true},
		{"GET /owner/{token}", s.ownerPage, true},
		{"POST /owner/{token}", s.owner, true},
		{"POST /sign-out", s.signOut, false},
		{"POST /views", s.views, false},
		{"GET /keys", s.keysPage, false},

		{"GET /{$}", s.jobsPage, false},
		{"GET /jobs/new", s.intakePage, false},
		{"POST /jobs", s.intake, false},
		{"GET /jobs/{job}", s.jobPage, false},
		{"GET /jobs/{job}/live", s.liveStream, false},
		{"POST /jobs/{job}/hook-up", s.hookUp, false},
		{"GET /jobs/{job}/stands", s.standsPage, false},
		{"POST /jobs/{job}/stands", s.stands, false},
		{"POST /jobs/{job}/preview", s.preview, false},
		{"POST /jobs/{job}/readings", s.take, false},
		{"GET /jobs/{job}/readings/{reading}", s.verdictPage, false},
		{"GET /jobs/{job}/readings/{reading}/correct", s.correctPage, false},
		{"POST /jobs/{job}/readings/{reading}/correct", s.correct, false},
		{"GET /jobs/{job}/could-not", s.couldNotPage, false},
		{"POST /jobs/{job}/could-not", s.couldNot, false},
		{"GET /jobs/{job}/else", s.elsePage, false},
		{"GET /jobs/{job}/free", s.freePage, false},
		{"GET /jobs/{job}/log", s.logPage, false},
		{"POST /jobs/{job}/undo", s.undo, false},
		{"POST /jobs/{job}/wait", s.wait, false},
		{"GET /jobs/{job}/repair", s.repairPage, false},
		{"POST /jobs/{job}/repair", s.repair, false},
		{"GET /jobs/{job}/proof", s.proofPage, false},
		{"POST /jobs/{job}/proof", s.prove, false},
		{"GET /jobs/{job}/report", s.reportPage, false},
		{"GET /jobs/{job}/report.pdf", s.reportPDF, false},
		{"POST /jobs/{job}/sign", s.sign, false},

		{"GET /systems", s.systemsPage, false},
		{"GET /systems/{system}", s.systemPage, false},
		{"GET /systems/{system}/edit", s.editPage, false},
		{"POST /systems/check", s.checkSystem, false},
		{"POST /systems", s.keepSystem, false},
	}
}

// wire puts the table behind what every request goes through.
func (s *Server) wire() (http.Handler, error) {
	mux := http.NewServeMux()
	s.routes = s.table()
	for _, r := range s.routes {
		var h http.Handler = r.do
		if !r.open {
			h = s.signedIn(h)
		}
		mux.Handle(r.pattern, h)
	}
	mux.Handle("/", s.signedIn(http.HandlerFunc(s.nowhere)))
	cross := http.NewCrossOriginProtection()
	for _, o := range s.Origins {
		if err := cross.AddTrustedOrigin(strings.TrimSuffix(o, "/")); err != nil {
			return nil, fmt.Errorf("the address %q is not one that pages are served under: write scheme and host alone, such as https://shop.example", o)
		}
	}
	cross.SetDenyHandler(http.HandlerFunc(s.foreign))
	return s.logged(headers(pack(s.caught(bounded(cross.Handler(mux)))))), nil
}

// healthIn is how long the journal may take to answer: whoever asks has other
// servers to go to.
const healthIn = 3 * time.Second

func (s *Server) healthz(w http.ResponseWriter, r *http.Request) {
	within, cancel := context.WithTimeout(r.Context(), healthIn)
	defer cancel()
	if _, err := s.Journal.Head(within); err != nil {
		s.Log.Error("the journal does not answer", "why", err)
		http.Error(w, "the journal does not answer", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("chargewright " + s.Version + " answers\n")) // whoever has gone away needs no answer
}

func (s *Server) icon(w http.ResponseWriter, r *http.Request) {
	http.Redirect(w, r, s.assets.base+"mark.svg", http.StatusMovedPermanently)
}
