// Package need asks for what a test cannot do without: a program on the
// machine. A test whose program is missing is skipped with a plain sentence;
// with REQUIRE_ALL=1 in the environment, as .ci/run sets it, it fails instead,
// so that a green run never hides an independent check that did not take place.
//
// It refuses to look for anything but programs on the PATH, and it installs
// nothing: scripts/need.sh does, before the tests.
package need

import (
	"os"
	"os/exec"
	"testing"
)

// RequireAll is the environment variable that turns a missing need into a
// failed test. Any value but "" and "0" does.
const RequireAll = "REQUIRE_ALL"

// Program returns the path of the named program. Where there is none the test
// is skipped, or fails under REQUIRE_ALL=1.
//
//	ngspice := need.Program(t, "ngspice")
//	out, err := exec.Command(ngspice, "-b", netlist).Output()
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing(t, name)
	}
	return path
}

// missing ends the test: both calls leave the test's goroutine.
func missing(t testing.TB, name string) {
	t.Helper()
	if v := os.Getenv(RequireAll); v != "" && v != "0" {
		t.Fatalf("%s is not on the PATH and %s=%s: run scripts/need.sh as root, or install the Debian package that holds %s", name, RequireAll, v, name)
	}
	t.Skipf("%s is not on the PATH: this check was not made. scripts/need.sh installs it when run as root", name)
}
