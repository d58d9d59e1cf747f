//go:build !linux

package pgtest

import (
	"errors"
	"testing"
)

// Server is a running PostgreSQL.
type Server struct{ Dir string }

// Settings of a server; see pgtest.go.
var Quick, Lasting []string

var errElsewhere = errors.New("a throw-away PostgreSQL is started on Linux only")

// Schema and Start have no server elsewhere: the test is skipped.
func Schema(t testing.TB) string {
	t.Skipf("%v: this check was not made", errElsewhere)
	return ""
}

// Start starts no server here.
func Start(t testing.TB, _ []string) *Server { Schema(t); return nil }

// StartUnder starts no server here.
func StartUnder(t testing.TB, _ []string, _ ...string) *Server { Schema(t); return nil }

// Run runs a package's tests.
func Run(m *testing.M) int { return m.Run() }

// What a server here could do.
func (s *Server) Address(string) string        { return "" }
func (s *Server) Trace() string                { return "" }
func (s *Server) Up() error                    { return errElsewhere }
func (s *Server) Kill() error                  { return errElsewhere }
func (s *Server) Down() error                  { return errElsewhere }
func (s *Server) KillWorker(int) (bool, error) { return false, errElsewhere }
