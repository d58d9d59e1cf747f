// Package pgtest gives tests a PostgreSQL server of their own: a throw-away
// cluster in a temporary directory, reached by a socket there and by nothing
// else, started from the programs that the machine has.
//
// It refuses to touch a server that is there already, and it installs nothing.
// A server does not run as root: under root the tests' one runs as postgres, or
// as nobody. It ends with the tests, and with the program that runs them when
// that is killed.
//
// Open pgtest.go.
package pgtest
