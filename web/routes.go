package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"chargewright/account"
)

// route is one row of the table of everything that can be asked for.
type route struct {
	pattern string // of http.ServeMux
	do      http.HandlerFunc
	needs   account.Duty // what whoever asks must be allowed to do; a row without one is refused
	slow    bool         // may take long: see late.go
}

// table lists every route. The tests walk it: a row that no test has is a
// failed test.
func (s *Server) table() []route {
	return slices.Concat(s.doorRoutes(), s.jobRoutes(), s.shopRoutes())
}

// doorRoutes are signing in and what belongs to whoever asks.
func (s *Server) doorRoutes() []route {
	return []route{
		{"GET /healthz", s.healthz, account.Anyone, false},
		{"GET /metrics", s.metricsPage, account.Run, false},
		{"GET /static/", s.assets.serve, account.Anyone, false},
		{"GET /favicon.ico", s.icon, account.Anyone, false},
		{"GET /worker.js", s.assets.worker, account.Anyone, false},
		{"GET /sign-in", s.signInPage, account.Anyone, false},
		{"POST /sign-in", s.signIn, account.Anyone, false},
		{"POST /sign-in/passkey/ask", s.askSignIn, account.Anyone, false},
		{"POST /sign-in/passkey", s.signInByPasskey, account.Anyone, false},
		{"GET /owner/{token}", s.ownerPage, account.Anyone, false},
		{"POST /owner/{token}", s.owner, account.Anyone, false},
		{"GET /join/{token}", s.ownerPage, account.Anyone, false},
		{"POST /join/{token}", s.owner, account.Anyone, false},
		{"GET /account", s.accountPage, account.Own, false},
		{"POST /account/password", s.setPassword, account.Own, false},
		{"POST /account/sign-out-everywhere", s.signOutEverywhere, account.Own, false},
		{"POST /account/passkeys/ask", s.askPasskey, account.Own, false},
		{"POST /account/passkeys", s.addPasskey, account.Own, false},
		{"POST /account/passkeys/{passkey}/name", s.namePasskey, account.Own, false},
		{"POST /account/passkeys/{passkey}/remove", s.removePasskey, account.Own, false},
		{"POST /sign-out", s.signOut, account.Own, false},
		{"POST /views", s.views, account.Own, false},
		{"GET /keys", s.keysPage, account.Own, false},
		{"GET /later/{ticket}", s.later, account.Own, false},
	}
}

// jobRoutes are jobs and what is done on one.
func (s *Server) jobRoutes() []route {
	return []route{
		{"GET /{$}", s.jobsPage, account.Look, false},
		{"GET /jobs/new", s.intakePage, account.Desk, false},
		{"POST /jobs/new", s.intakeAgain, account.Desk, false},
		{"POST /jobs", s.intake, account.Desk, false},
		{"GET /jobs/{job}", s.jobPage, account.Look, true},
		{"GET /jobs/{job}/live", s.liveStream, account.Look, false},
		{"POST /jobs/{job}/hook-up", s.hookUp, account.Measure, true},
		{"GET /jobs/{job}/stands", s.standsPage, account.Measure, true},
		{"POST /jobs/{job}/stands", s.stands, account.Measure, true},
		{"POST /jobs/{job}/preview", s.preview, account.Measure, true},
		{"POST /jobs/{job}/readings", s.take, account.Measure, true},
		{"POST /jobs/{job}/waiting", s.waiting, account.Measure, false},
		{"GET /jobs/{job}/readings/{reading}", s.verdictPage, account.Look, true},
		{"GET /jobs/{job}/readings/{reading}/correct", s.correctPage, account.Measure, true},
		{"POST /jobs/{job}/readings/{reading}/correct", s.correct, account.Measure, true},
		{"GET /jobs/{job}/could-not", s.couldNotPage, account.Measure, true},
		{"POST /jobs/{job}/could-not", s.couldNot, account.Measure, true},
		{"GET /jobs/{job}/else", s.elsePage, account.Measure, true},
		{"GET /jobs/{job}/free", s.freePage, account.Measure, true},
		{"GET /jobs/{job}/log", s.logPage, account.Look, true},
		{"POST /jobs/{job}/undo", s.undo, account.Measure, true},
		{"GET /jobs/{job}/identified", s.identifiedPage, account.Measure, true},
		{"POST /jobs/{job}/identified", s.identified, account.Measure, true},
		{"POST /jobs/{job}/wait", s.wait, account.Desk, true},
		{"GET /jobs/{job}/repair", s.repairPage, account.Mend, true},
		{"POST /jobs/{job}/repair", s.repair, account.Mend, true},
		{"GET /jobs/{job}/proof", s.proofPage, account.Look, true},
		{"POST /jobs/{job}/proof", s.prove, account.Close, true},
		{"GET /jobs/{job}/report", s.reportPage, account.Look, true},
		{"GET /jobs/{job}/report.pdf", s.hand(sheetPaper, "pdf"), account.Look, false},
		{"GET /jobs/{job}/report.json", s.hand(sheetPaper, "json"), account.Look, false},
		{"GET /jobs/{job}/record", s.recordPage, account.Look, true},
		{"GET /jobs/{job}/record.pdf", s.hand(recordPaper, "pdf"), account.Look, false},
		{"GET /jobs/{job}/record.json", s.hand(recordPaper, "json"), account.Look, false},
		{"GET /jobs/{job}/record.csv", s.hand(recordPaper, "csv"), account.Look, false},
		{"GET /jobs/{job}/card", s.cardPage, account.Look, true},
		{"GET /jobs/{job}/card.pdf", s.hand(cardPaper, "pdf"), account.Look, false},
		{"GET /jobs/{job}/card.json", s.hand(cardPaper, "json"), account.Look, false},
		{"GET /jobs/{job}/export", s.export(false), account.Look, false},
		{"GET /jobs/{job}/export-with-customer", s.export(true), account.Desk, false},
		{"GET /jobs/{job}/signed/{event}", s.signedPage, account.Look, true},
		{"GET /jobs/{job}/signed/{event}/report.pdf", s.signedPDF, account.Look, false},
		{"POST /jobs/{job}/unrecorded/{ticket}", s.putAway, account.Look, false},
		{"POST /jobs/{job}/sign", s.sign, account.Close, true},
		{"GET /jobs/{job}/reopen", s.reopenPage, account.Close, true},
		{"POST /jobs/{job}/reopen", s.reopen, account.Close, true},
	}
}

// shopRoutes are what the workshop has: people, instruments, systems.
func (s *Server) shopRoutes() []route {
	return []route{
		{"GET /people", s.peoplePage, account.People, false},
		{"POST /people", s.invite, account.People, false},
		{"GET /people/{person}", s.personPage, account.People, false},
		{"POST /people/{person}/role", s.setRole, account.People, false},
		{"POST /people/{person}/link", s.newLink, account.People, false},
		{"POST /people/{person}/no-passkeys", s.removePasskeys, account.People, false},
		{"POST /people/{person}/uninvite", s.uninvite, account.People, false},
		{"POST /people/{person}/withdraw", s.withdraw, account.People, false},

		{"GET /instruments", s.instrumentsPage, account.Look, false},
		{"POST /instruments/here", s.instrumentsHere, account.Measure, false},
		{"GET /instruments/new", s.newInstrumentPage, account.Instruments, false},
		{"POST /instruments", s.enterInstrument, account.Instruments, false},
		{"GET /instruments/{instrument}", s.instrumentPage, account.Look, false},
		{"POST /instruments/{instrument}", s.changeInstrument, account.Instruments, false},

		{"GET /fitted", s.fittedPage, account.Look, false},
		{"POST /fitted", s.fittedPage, account.Look, false},
		{"GET /systems", s.systemsPage, account.Look, false},
		{"GET /systems/fit", s.manualPage, account.Systems, false},
		{"POST /systems/fit", s.fitManual, account.Systems, true},
		{"GET /systems/{system}", s.systemPage, account.Look, true},
		{"GET /systems/{system}/edit", s.editPage, account.Systems, false},
		{"POST /systems/check", s.checkSystem, account.Systems, true},
		{"POST /systems", s.keepSystem, account.Systems, true},
	}
}

// wire puts a table behind what every request goes through.
func (s *Server) wire(table []route) (http.Handler, error) {
	mux := http.NewServeMux()
	s.forms = http.NewServeMux()
	s.routes = table
	for _, r := range table {
		if r.needs == 0 {
			return nil, fmt.Errorf("route %s does not say who may ask for it", r.pattern)
		}
		var h http.Handler = r.do
		if r.slow {
			if strings.HasPrefix(r.pattern, "POST ") {
				s.forms.Handle(r.pattern, s.permitted(r.needs, h)) // a role may change while a form waits
			}
			h = s.patient(h)
		}
		if r.needs != account.Anyone {
			h = s.signedIn(s.permitted(r.needs, h))
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
	said := "chargewright " + s.Version + " answers\n"
	// A journal with breaks is no reason to send people elsewhere: every server has the same.
	if v, was, err := s.Journal.LastVerified(within); err == nil && was {
		said += "journal verified " + v.At.UTC().Format(time.RFC3339) + ": " + plural(v.Breaks, "break", "breaks") + "\n"
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte(said)) // whoever has gone away needs no answer
}

func (s *Server) icon(w http.ResponseWriter, r *http.Request) {
	http.Redirect(w, r, s.assets.base+"mark.svg", http.StatusMovedPermanently)
}
