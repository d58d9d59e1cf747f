package web

import (
	"context"

	"github.com/prometheus/client_golang/prometheus"

	"chargewright/task"
)

// taskMeasures are of the tasks that this process does, and of those that wait for any.
func (s *Server) taskMeasures() (all []prometheus.Collector) {
	all = append(all, prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "chargewright_tasks_waiting", Help: "Tasks that are due or being done, by whichever process; -1 when the database does not say."},
		func() float64 {
			return s.told(func(ctx context.Context) (float64, error) {
				n, err := s.Tasks.Waiting(ctx)
				return float64(n), err
			})
		}),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "chargewright_journal_verified_seconds", Help: "When the journal was last verified, in Unix seconds; 0: never; -1 when the database does not say."},
			func() float64 {
				return s.told(func(ctx context.Context) (float64, error) {
					v, was, err := s.Journal.LastVerified(ctx)
					if !was {
						return 0, err
					}
					return float64(v.At.Unix()), err
				})
			}),
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "chargewright_journal_breaks", Help: "Breaks that were found in the journal when it was last verified; -1 when the database does not say."},
			func() float64 {
				return s.told(func(ctx context.Context) (float64, error) {
					v, _, err := s.Journal.LastVerified(ctx)
					return float64(v.Breaks), err
				})
			}))
	for _, k := range s.kinds() {
		label := prometheus.Labels{"kind": k.Name}
		for _, c := range []struct {
			name, help string
			of         func(task.Counts) int64
		}{
			{"done", "Tasks that this process has done, by kind.", func(c task.Counts) int64 { return c.Done }},
			{"failed", "Tasks that this process could not do, each try, by kind.", func(c task.Counts) int64 { return c.Failed }},
		} {
			all = append(all, prometheus.NewCounterFunc(prometheus.CounterOpts{Name: "chargewright_tasks_" + c.name + "_total", Help: c.help, ConstLabels: label},
				func() float64 { return float64(c.of(s.Tasks.Counts(k.Name))) }))
		}
	}
	return all
}

// told is a figure that the database has to say.
func (s *Server) told(ask func(context.Context) (float64, error)) float64 {
	ctx, cancel := context.WithTimeout(s.live, healthIn)
	defer cancel()
	n, err := ask(ctx)
	if err != nil {
		return -1
	}
	return n
}
