package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
)

// logger writes what happens to standard error, a line each. No password, token
// or name is in any.
func logger(e *env, form string) *slog.Logger {
	if form == "json" {
		return slog.New(slog.NewJSONHandler(e.stderr, nil))
	}
	return slog.New(slog.NewTextHandler(e.stderr, nil))
}

// registry holds what is counted: by the pages, and of the process itself.
func registry() *prometheus.Registry {
	r := prometheus.NewRegistry()
	r.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return r
}

// serveMetrics answers /metrics and /healthz at an address of their own, to
// whoever can reach it: nothing in them is about a person.
func serveMetrics(ctx context.Context, s *shop, at string, log *slog.Logger) error {
	if at == "" {
		return nil
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", at)
	if err != nil {
		return fmt.Errorf("%s cannot be listened on: %w", at, err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.pages.MetricsPage())
	mux.Handle("GET /healthz", s.pages)
	server := &http.Server{Handler: mux, ReadHeaderTimeout: readFor, ReadTimeout: readFor, WriteTimeout: writeFor, IdleTimeout: idleFor, MaxHeaderBytes: 32 << 10}
	go func() {
		if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			log.Error("metrics are not served any more", "why", err)
		}
	}()
	log.Info("serving metrics", "address", "http://"+listener.Addr().String()+"/metrics")
	s.ends = append(s.ends, server.Close)
	return nil
}

// tellSystem tells systemd how far the program is, where it was started by a unit
// of Type=notify (sd_notify(3)).
func tellSystem(log *slog.Logger, state string) {
	name := os.Getenv("NOTIFY_SOCKET")
	if name == "" {
		return
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: name, Net: "unixgram"}) // @ stands for an abstract name in both
	if err == nil {
		_, err = conn.Write([]byte(state))
		err = errors.Join(err, conn.Close())
	}
	if err != nil {
		log.Warn("systemd is not told", "state", state, "why", err)
	}
}
