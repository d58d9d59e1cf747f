package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"chargewright/journal"
)

// measures count what is asked of the server. Labels are routes and codes: no
// job, name, address or device is ever in one.
type measures struct {
	requests *prometheus.CounterVec
	took     *prometheus.HistogramVec
}

// elsewhereRoute stands for every address that is none of the program's.
const elsewhereRoute = "none"

// measure registers what the server counts.
func (s *Server) measure() error {
	m := &measures{
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "chargewright_requests_total", Help: "Requests answered, by route and status code.",
		}, []string{"route", "code"}),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "chargewright_request_seconds", Help: "Time from a request to the end of its answer, by route; live streams are left out.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30},
		}, []string{"route"}),
	}
	all := []prometheus.Collector{
		m.requests, m.took,
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "chargewright_live_streams", Help: "Pages that hear of news by themselves now."},
			func() float64 { return float64(s.streams.Load()) }),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "chargewright_info", Help: "1, with the program's version.", ConstLabels: prometheus.Labels{"version": s.Version}},
			func() float64 { return 1 }),
	}
	for _, c := range []struct {
		name, help string
		of         func(journal.Counts) int64
	}{
		{"appends", "Appends to the journal that added something.", func(c journal.Counts) int64 { return c.Appends }},
		{"events", "Events added to the journal.", func(c journal.Counts) int64 { return c.Events }},
		{"repeats", "Events sent again that were in the journal already.", func(c journal.Counts) int64 { return c.Repeated }},
		{"conflicts", "Appends refused because another device had come in between.", func(c journal.Counts) int64 { return c.Conflicts }},
		{"reused", "Appends refused because an id named another event.", func(c journal.Counts) int64 { return c.Reused }},
		{"failures", "Appends that broke off: the database refused, or was away.", func(c journal.Counts) int64 { return c.Failed }},
	} {
		all = append(all, prometheus.NewCounterFunc(prometheus.CounterOpts{Name: "chargewright_journal_" + c.name + "_total", Help: c.help},
			func() float64 { return float64(c.of(s.Journal.Counts())) }))
	}
	all = append(all, s.taskMeasures()...)
	s.measures = m
	var problems []error
	for _, c := range all {
		problems = append(problems, s.Metrics.Register(c))
	}
	return errors.Join(problems...)
}

// done counts a request that was answered.
func (m *measures) done(r *http.Request, code int, took time.Duration) {
	if m == nil {
		return
	}
	route := r.Pattern
	if route == "" || route == "/" {
		route = elsewhereRoute
	}
	m.requests.WithLabelValues(route, strconv.Itoa(code)).Inc()
	if !strings.HasSuffix(route, "/live") {
		m.took.WithLabelValues(route).Observe(took.Seconds())
	}
}

// MetricsPage answers with what was counted, in the text format of OpenMetrics or
// of Prometheus, whichever is asked for.
func (s *Server) MetricsPage() http.Handler {
	return promhttp.HandlerFor(s.Metrics, promhttp.HandlerOpts{EnableOpenMetrics: true, ErrorLog: nil})
}

func (s *Server) metricsPage(w http.ResponseWriter, r *http.Request) {
	if s.Metrics == nil {
		s.nowhere(w, r)
		return
	}
	s.MetricsPage().ServeHTTP(w, r)
}
