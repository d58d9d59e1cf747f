package need

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// ending records how a test would have ended, without ending this one: a
// skip here would count as a skipped check in .ci/run.
type ending struct {
	testing.TB
	how, said string
}

func (e *ending) Helper() {}

func (e *ending) Skipf(format string, args ...any) {
	e.how, e.said = "skip", fmt.Sprintf(format, args...)
	panic(e)
}

func (e *ending) Fatalf(format string, args ...any) {
	e.how, e.said = "fatal", fmt.Sprintf(format, args...)
	panic(e)
}

// ask calls Program as a test would and returns how it went.
func ask(t *testing.T, name string) (path string, e *ending) {
	e = &ending{TB: t}
	defer func() {
		if r := recover(); r != nil && r != any(e) {
			panic(r)
		}
	}()
	path = Program(e, name)
	return path, e
}

func TestProgram(t *testing.T) {
	bin := t.TempDir()
	there := filepath.Join(bin, "voltmeter")
	if err := os.WriteFile(there, []byte("#!/bin/sh\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin)

	for _, c := range []struct{ require, name, path, how string }{
		{"", "voltmeter", there, ""},
		{"1", "voltmeter", there, ""},
		{"", "ammeter", "", "skip"},
		{"0", "ammeter", "", "skip"},
		{"1", "ammeter", "", "fatal"},
		{"yes", "ammeter", "", "fatal"},
	} {
		t.Setenv(RequireAll, c.require)
		path, e := ask(t, c.name)
		if path != c.path || e.how != c.how {
			t.Errorf("REQUIRE_ALL=%q, %s: path %q, ended by %q; want %q, %q", c.require, c.name, path, e.how, c.path, c.how)
		}
		if c.how != "" && !strings.Contains(e.said, c.name) {
			t.Errorf("the message does not name %s: %q", c.name, e.said)
		}
	}
}

// TestPostgresIn: what is on the PATH goes first, with the directory that its
// link leads to; then the newest version that is whole.
func TestPostgresIn(t *testing.T) {
	root := t.TempDir()
	for _, name := range []string{"9/bin/initdb", "9/bin/postgres", "15/bin/initdb", "15/bin/postgres", "17/bin/postgres", "plain/bin/initdb", "plain/bin/postgres"} {
		file := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte("#!/bin/sh\n"), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	path := t.TempDir()
	t.Setenv("PATH", path)
	if got, want := postgresIn(root), filepath.Join(root, "15", "bin"); got != want {
		t.Errorf("%q, want %q: 17 lacks initdb", got, want)
	}
	if got := postgresIn(t.TempDir()); got != "" {
		t.Errorf("%q where there is none", got)
	}
	if err := os.Symlink(filepath.Join(root, "9", "bin", "postgres"), filepath.Join(path, "postgres")); err != nil {
		t.Fatal(err)
	}
	if got, want := postgresIn(root), filepath.Join(root, "9", "bin"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
