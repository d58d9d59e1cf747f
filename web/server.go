package web

import (
	"context"
	"log/slog"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/task"
)

// Config is what a server stands on.
type Config struct {
	Journal  *journal.Store
	Accounts *account.Accounts // nil: nobody has to sign in, which only a demonstration on loopback may have
	Shelf    job.Shelf         // shipped systems, procedures and practice figures
	Now      func() time.Time
	Log      *slog.Logger
	Version  string
	Workshop string // the name at the head of the list and on reports
	Demo     string // what is said of made-up data on every page; "" = none
	Secure   bool   // served over TLS: cookies say so
	Origins  []string
	Hosts    []string             // names that the program goes by, beside addresses in figures; nil = any
	Ready    *advice.Prepared     // a system that is prepared already; nil = none
	Metrics  *prometheus.Registry // what the server counts is registered there; nil = nothing is counted
	Patience time.Duration        // how long a page may take before another says that it is being worked on; 0 = as long as it takes
	Tasks    task.Queue           // where long work waits
	AtOnce   int                  // how many tasks the server does at once, beside the pages; 0 = none, and others do them
	Held     func(moment string)  // stops where a test wants the server killed: before or after a form is recorded; nil in the program
	Warm     bool                 // works out behind the requests what the first job of each kind would wait for
}

// Server answers requests.
type Server struct {
	Config
	handler http.Handler
	routes  []route
	assets  *assets
	works   *works
	systems *library
	sheets  *sheets

	live    context.Context // ends the live streams and the work behind requests
	endLive context.CancelFunc
	behind  sync.WaitGroup
	warming atomic.Bool // a list of jobs is being worked out
	engine  queue       // what is worked out, the most urgent first
	weigh   weigher     // weigh, but for tests, which weigh one job for many alike
	opens   sync.Mutex  // a job is being opened
	lates   lates
	forms   *http.ServeMux // what forms that may take long are answered by: see late.go
	streams atomic.Int64

	measures *measures
}

// New makes a server. Close it when it is not served any more.
func New(c Config) (*Server, error) {
	s := &Server{Config: c, assets: newAssets(drawing.CSS()), weigh: weigh}
	s.live, s.endLive = context.WithCancel(context.Background())
	s.systems = newLibrary(s)
	s.works = newWorks()
	s.sheets = newSheets()
	s.lates.by = map[string]*late{}
	if c.Metrics != nil {
		if err := s.measure(); err != nil {
			return nil, err
		}
	}
	handler, err := s.wire(s.table())
	if err != nil {
		return nil, err
	}
	s.handler = handler
	if c.Accounts != nil {
		c.Accounts.AuditTo(s.audit)
	}
	if c.Ready != nil {
		s.systems.ready(c.Ready)
	}
	if c.AtOnce > 0 {
		s.behind.Go(s.takeTasks)
	}
	if c.Warm {
		s.behind.Go(s.warmUp)
	}
	return s, nil
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// EndLive ends the live streams, so that a server that shuts down need not wait
// for them.
func (s *Server) EndLive() { s.endLive() }

// Close ends the live streams and waits for work behind requests.
func (s *Server) Close() {
	s.endLive()
	s.behind.Wait()
}
