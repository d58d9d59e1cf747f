package pgtest

import (
	"errors"
	"os"

	"chargewright/internal/need"
)

// Alone starts a server for a program that is no test. End ends it.
func Alone(settings []string) (*Server, error) {
	bin := need.FindPostgres()
	if bin == "" {
		return nil, errors.New("there is no PostgreSQL on this machine: apt-get install postgresql")
	}
	return start(bin, settings)
}

// End ends a server that Alone has started, and removes what it held.
func (s *Server) End() {
	s.end()
	if fresh != "" {
		_ = os.RemoveAll(fresh)
	}
}

// PID is the server's own process, whose children serve the connections.
func (s *Server) PID() int { return s.pid() }
