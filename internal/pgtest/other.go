//go:build !linux

package pgtest

import "testing"

// Server is a running PostgreSQL.
type Server struct{ Dir string }

// Settings of a server; see pgtest.go.
var Quick, Lasting []string

// Schema and Start have no server elsewhere: the test is skipped.
func Schema(t testing.TB) string {
	t.Skip("a throw-away PostgreSQL is started on Linux only: this check was not made")
	return ""
}

// Start starts no server here.
func Start(t testing.TB, _ []string) *Server { Schema(t); return nil }

// Run runs a package's tests.
func Run(m *testing.M) int { return m.Run() }
