package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
)

// tables fill a database without a schema of ours.
func exec1(t *testing.T, d *DB, statement string, args ...any) {
	t.Helper()
	err := d.Write(t.Context(), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(t.Context(), statement, args...)
		return err
	})
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

func count(t *testing.T, d *DB, query string) (n int) {
	t.Helper()
	err := d.Read(t.Context(), func(tx *sql.Tx) error { return tx.QueryRowContext(t.Context(), query).Scan(&n) })
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return n
}

// open opens a database file.
func open(t *testing.T) *DB {
	t.Helper()
	return kind{"sqlite", func(t testing.TB) string { return t.TempDir() }}.open(t)
}

// TestOpen: a directory of any name is made, is its owner's alone, and keeps
// what was written. Signs that mean something in a connection string are names
// like any other.
func TestOpen(t *testing.T) {
	for _, name := range []string{"data", "a b", "50% off", "who?mode=memory", "a#b", "ü&_pragma=synchronous(0)"} {
		dir := filepath.Join(t.TempDir(), name, "deep")
		for round := range 2 {
			d, err := Open(t.Context(), dir)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if round == 0 {
				exec1(t, d, "INSERT INTO customer (id, name, plate, sought, contact) VALUES ('c', '', '', '', '')")
			}
			if n := count(t, d, "SELECT count(*) FROM customer"); n != 1 {
				t.Errorf("%s: %d rows on opening %d, want 1", name, n, round+1)
			}
			if err := settings(t.Context(), d.write); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if err := d.Close(); err != nil {
				t.Fatal(err)
			}
		}
		for path, want := range map[string]os.FileMode{dir: 0o700 | os.ModeDir, filepath.Join(dir, FileName): 0o600} {
			info, err := os.Stat(path)
			if err != nil || info.Mode() != want {
				t.Errorf("%s: mode %v (%v), want %v", path, info.Mode(), err, want)
			}
		}
	}
}

// TestOpenReadChangesNothing: what is not there is not made.
func TestOpenReadChangesNothing(t *testing.T) {
	dir := t.TempDir()
	empty := filepath.Join(dir, "empty.db")
	text := filepath.Join(dir, "text.db")
	if err := errors.Join(os.WriteFile(empty, nil, 0o600), os.WriteFile(text, []byte(strings.Repeat("no database ", 100)), 0o600)); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		dir:                           "there is no ",
		filepath.Join(dir, "nowhere"): "there is no ",
		empty:                         "it holds no journal",
		text:                          "not a database",
	} {
		d, err := OpenRead(t.Context(), path)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
		if err == nil {
			_ = d.Close()
		}
	}
	names, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(names) != 2 {
		t.Errorf("files %v (%v), want the two that were there", names, err)
	}

	d := open(t)
	r, err := OpenRead(t.Context(), filepath.Dir(d.File()))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for what, err := range map[string]error{
		"Write": r.Write(t.Context(), func(*sql.Tx) error { return nil }),
		"Exec":  r.Exec(t.Context(), "SELECT 1"),
		"Scrub": r.Scrub(t.Context(), "customer"),
		"a statement": r.Read(t.Context(), func(tx *sql.Tx) error {
			_, err := tx.ExecContext(t.Context(), "DELETE FROM customer")
			return err
		}),
		"a statement beside the writer": d.Read(t.Context(), func(tx *sql.Tx) error {
			_, err := tx.ExecContext(t.Context(), "DELETE FROM customer")
			return err
		}),
	} {
		if err == nil {
			t.Errorf("%s goes through where only reading is allowed", what)
		}
	}
}

// TestSettingsBite: a connection that does not sync is seen.
func TestSettingsBite(t *testing.T) {
	for pragma, want := range map[string]string{
		"synchronous = NORMAL": "synchronous is 1", "foreign_keys = 0": "foreign_keys is 0", "secure_delete = 0": "secure_delete is 0",
		"journal_mode = DELETE": "journal_mode is delete",
	} {
		d := open(t)
		if err := d.read.Close(); err != nil { // it would keep the log
			t.Fatal(err)
		}
		if err := d.Exec(t.Context(), "PRAGMA "+pragma); err != nil {
			t.Fatal(err)
		}
		if err := settings(t.Context(), d.write); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", pragma, err, want)
		}
	}
}

// TestWrite: all or nothing, and the connection is free again whatever happens.
func TestWrite(t *testing.T) { each(t, onWrite) }

func onWrite(t *testing.T, k kind) {
	d := k.open(t)
	insert := func(tx *sql.Tx, id string) error {
		_, err := tx.ExecContext(t.Context(), "INSERT INTO customer (id, name, plate, sought, contact) VALUES ($1, '', '', '', '')", id)
		return err
	}
	sorry := errors.New("changed my mind")
	if err := d.Write(t.Context(), func(tx *sql.Tx) error { return errors.Join(insert(tx, "a"), sorry) }); !errors.Is(err, sorry) {
		t.Errorf("got %v", err)
	}
	func() {
		defer func() { _ = recover() }()
		_ = d.Write(t.Context(), func(tx *sql.Tx) error { _ = insert(tx, "b"); panic("on purpose") })
	}()
	gone, cancel := context.WithCancel(t.Context())
	if err := d.Write(gone, func(tx *sql.Tx) error { defer cancel(); return insert(tx, "c") }); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if n := count(t, d, "SELECT count(*) FROM customer"); n != 0 {
		t.Errorf("%d rows of transactions that were given up", n)
	}

	// A counter that many raise at once: each sees the one before.
	exec1(t, d, "UPDATE line_rules SET version = 0")
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			err := d.Write(t.Context(), func(tx *sql.Tx) error {
				var v int
				if err := tx.QueryRowContext(t.Context(), "SELECT version FROM line_rules").Scan(&v); err != nil {
					return err
				}
				_, err := tx.ExecContext(t.Context(), "UPDATE line_rules SET version = $1", v+1)
				return err
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if n := count(t, d, "SELECT version FROM line_rules"); n != 20 {
		t.Errorf("counted to %d, want 20", n)
	}
}

// TestDriverAndItsLibraryAgree: modernc.org/libc must be exactly the version that
// modernc.org/sqlite names; another one has crashed programs.
func TestDriverAndItsLibraryAgree(t *testing.T) {
	list := func(format, module string) string {
		out, err := exec.Command("go", "list", "-m", "-f", format, module).Output()
		if err != nil {
			t.Fatalf("go list %s: %v", module, err)
		}
		return strings.TrimSpace(string(out))
	}
	text, err := os.ReadFile(list("{{.GoMod}}", "modernc.org/sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile(`(?m)^\s*modernc\.org/libc (v\S+)`).FindSubmatch(text)
	if named == nil {
		t.Fatal("modernc.org/sqlite does not name modernc.org/libc any more: this test has nothing to hold")
	}
	if used := list("{{.Version}}", "modernc.org/libc"); used != string(named[1]) {
		t.Errorf("modernc.org/libc %s is used, and modernc.org/sqlite names %s: go get modernc.org/libc@%s", used, named[1], named[1])
	}
}
