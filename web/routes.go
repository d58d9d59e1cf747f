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
	slow    bool // may take long: see late.go
}

// table lists every route. The tests walk it: a row that no test has is a
// failed test.
func (s *Server) table() []route {
	return []route{
		{"GET /healthz", s.healthz, true, false},
		{"GET /metrics", s.metricsPage, false, false},
		{"GET /static/", s.assets.serve, true, false},
		{"GET /favicon.ico", s.icon, true, false},
		{"GET /worker.js", s.assets.worker, true, false},
		{"GET /sign-in", s.signInPage, true, false},
		{"POST /sign-in", s.signIn, true, false},
		{"GET /owner/{token}", s.ownerPage, true, false},
		{"POST /owner/{token}", s.owner, true, false},
		{"POST /sign-out", s.signOut, false, false},
		{"POST /views", s.views, false, false},
		{"GET /keys", s.keysPage, false, false},
		{"GET /later/{ticket}", s.later, false, false},

		{"GET /{$}", s.jobsPage, false, false},
		{"GET /jobs/new", s.intakePage, false, false},
		{"POST /jobs", s.intake, false, false},
		{"GET /jobs/{job}", s.jobPage, false, true},
		{"GET /jobs/{job}/live", s.liveStream, false, false},
		{"POST /jobs/{job}/hook-up", s.hookUp, false, true},
		{"GET /jobs/{job}/stands", s.standsPage, false, true},
		{"POST /jobs/{job}/stands", s.stands, false, true},
		{"POST /jobs/{job}/preview", s.preview, false, true},
		{"POST /jobs/{job}/readings", s.take, false, true},
		{"POST /jobs/{job}/waiting", s.waiting, false, false},
		{"GET /jobs/{job}/readings/{reading}", s.verdictPage, false, true},
		{"GET /jobs/{job}/readings/{reading}/correct", s.correctPage, false, true},
		{"POST /jobs/{job}/readings/{reading}/correct", s.correct, false, true},
		{"GET /jobs/{job}/could-not", s.couldNotPage, false, true},
		{"POST /jobs/{job}/could-not", s.couldNot, false, true},
		{"GET /jobs/{job}/else", s.elsePage, false, true},
		{"GET /jobs/{job}/free", s.freePage, false, true},
		{"GET /jobs/{job}/log", s.logPage, false, true},
		{"POST /jobs/{job}/undo", s.undo, false, true},
		{"POST /jobs/{job}/wait", s.wait, false, true},
		{"GET /jobs/{job}/repair", s.repairPage, false, true},
		{"POST /jobs/{job}/repair", s.repair, false, true},
		{"GET /jobs/{job}/proof", s.proofPage, false, true},
		{"POST /jobs/{job}/proof", s.prove, false, true},
		{"GET /jobs/{job}/report", s.reportPage, false, true},
		{"GET /jobs/{job}/report.pdf", s.reportPDF, false, true},
		{"GET /jobs/{job}/signed/{event}", s.signedPage, false, true},
		{"GET /jobs/{job}/signed/{event}/report.pdf", s.signedPDF, false, true},
		{"POST /jobs/{job}/sign", s.sign, false, true},

		{"GET /systems", s.systemsPage, false, false},
		{"GET /systems/{system}", s.systemPage, false, true},
		{"GET /systems/{system}/edit", s.editPage, false, false},
		{"POST /systems/check", s.checkSystem, false, true},
		{"POST /systems", s.keepSystem, false, true},
	}
}

// wire puts the table behind what every request goes through.
func (s *Server) wire() (http.Handler, error) {
	mux := http.NewServeMux()
	s.forms = http.NewServeMux()
	s.routes = s.table()
	for _, r := range s.routes {
		var h http.Handler = r.do
		if r.slow {
			if strings.HasPrefix(r.pattern, "POST ") {
				s.forms.Handle(r.pattern, h)
			}
			h = s.patient(h)
		}
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
	return s.logged(headers(s.hosted(pack(s.caught(bounded(cross.Handler(mux))))))), nil
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
