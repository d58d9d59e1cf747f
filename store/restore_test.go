package store

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"chargewright/internal/pgtest"
)

// filled is a database with a row of every table, every kind of value in them.
func filled(t *testing.T, k kind) *DB {
	t.Helper()
	d := k.open(t)
	zeros := strings.Repeat("00", 32)
	bytes := func(hex string) string { return k.of("x'"+hex+"'", `'\x`+hex+`'::bytea`) }
	for _, st := range []string{
		"INSERT INTO customer (id, name, plate, sought, contact) VALUES ('c1', 'Änne ''M''', '', '%_', '')",
		"INSERT INTO content VALUES (" + bytes(strings.Repeat("ab", 32)) + ", " + bytes("00ff0a27") + ")",
		"INSERT INTO event VALUES (1, 's', 1, 'a', 'k', 1, " + bytes("7b00ff") + ", '', '2026-11-25T12:00:00Z', '', '', 0, '', " + bytes(zeros) + ", " + bytes(zeros) + ", " + bytes(zeros) + ")",
		"INSERT INTO event VALUES (2, 's', 2, 'b', 'k', 1, " + bytes("7b00") + ", '', '', 'd', 'p', 9007199254740993, '', " + bytes(zeros) + ", " + bytes(zeros) + ", " + bytes(zeros) + ")",
		"INSERT INTO line VALUES ('s', 2, 2, 0, '', '', 'k', '', '', '', '', '', '', 0, 0, '', '', 0, 1)",
		"UPDATE line_rules SET version = 5",
		"INSERT INTO account (id, name, folded, role, password, created, changed) VALUES ('p', 'Mara', 'mara', 'owner', 'x', 1, 2)",
		"INSERT INTO session VALUES (" + bytes(zeros) + ", 'p', 3, 4)",
		"INSERT INTO asked VALUES ('t', 'p', '/jobs/1/readings?a=b', 'v0=12.1', 6, 1)",
		"INSERT INTO worked VALUES ('w', 'figures', 'a machine', 13)",
		"INSERT INTO verified VALUES (1, 14, 15, 'ab', 16, 'event 3')",
		"INSERT INTO unrecorded VALUES ('u', 's', 'p', '/jobs/s/repair', 'what=x', 12, 'too late')",
		"INSERT INTO pace VALUES (" + bytes(zeros) + ", 7)",
		"INSERT INTO passkey VALUES ('k', (SELECT min(id) FROM account), " + bytes(zeros) + ", 'shop.example', 'Phone', '{}', 8, 9)",
		"INSERT INTO challenge VALUES (" + bytes(zeros) + ", 'p', '{}', 10)",
		"INSERT INTO link (hash, role, expires) VALUES (" + bytes(zeros) + ", 'owner', 5)",
	} {
		exec1(t, d, st)
	}
	return d
}

// rowsOf is every value of every table, as text.
func rowsOf(t *testing.T, d *DB) string {
	t.Helper()
	all, err := tables(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	err = d.Read(t.Context(), func(tx *sql.Tx) error {
		for _, w := range all {
			before := out.Len()
			err := w.each(t.Context(), tx, func(values []any) error {
				_, err := fmt.Fprintf(&out, "%s %#v\n", w.name, values)
				return err
			})
			if err != nil {
				return err
			}
			if out.Len() == before {
				t.Errorf("table %s has no row: the comparison is blind for it", w.name)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestRestore: from either kind to either kind every value of every table comes
// back, whole and verified; never over a workshop; and nothing is left of one
// that was refused.
func TestRestore(t *testing.T) {
	each(t, func(t *testing.T, from kind) {
		d := filled(t, from)
		file := filepath.Join(t.TempDir(), "copy.db")
		if err := d.Backup(t.Context(), file, false, nil); err != nil {
			t.Fatal(err)
		}
		want := rowsOf(t, d)
		each(t, func(t *testing.T, to kind) {
			place := to.place(t)
			looked := 0
			look := func(c *DB) error {
				looked++
				if got := rowsOf(t, c); got != want {
					t.Errorf("restored:\n%s\nwant:\n%s", got, want)
				}
				found, err := c.Inspect(t.Context())
				if len(found) > 0 {
					t.Errorf("%v", found)
				}
				return err
			}
			if err := Restore(t.Context(), file, place, look); err != nil {
				t.Fatal(err)
			}
			if n := map[string]int{"sqlite": 1, "postgres": 2}[to.name]; looked != n {
				t.Errorf("looked %d times, want %d", looked, n)
			}
			again, err := Open(t.Context(), place)
			if err != nil {
				t.Fatal(err)
			}
			defer again.Close()
			if got := rowsOf(t, again); got != want {
				t.Errorf("opened:\n%s\nwant:\n%s", got, want)
			}
			if err := Restore(t.Context(), file, place, nil); !errors.Is(err, ErrInUse) {
				t.Errorf("over a workshop: %v", err)
			}
			refused := to.place(t)
			no := errors.New("not like this")
			if err := Restore(t.Context(), file, refused, func(*DB) error { return no }); !errors.Is(err, no) {
				t.Errorf("got %v", err)
			}
			if r, err := OpenRead(t.Context(), refused); err == nil {
				_ = r.Close()
				t.Error("what was refused stands there")
			}
		})
	})
}

// TestRestoreRefuses: what is no backup, and a directory with a piece of another
// workshop.
func TestRestoreRefuses(t *testing.T) {
	dir := t.TempDir()
	empty, text := filepath.Join(dir, "empty.db"), filepath.Join(dir, "text.db")
	if err := errors.Join(os.WriteFile(empty, nil, 0o600), os.WriteFile(text, []byte(strings.Repeat("no database ", 100)), 0o600)); err != nil {
		t.Fatal(err)
	}
	for _, place := range []string{filepath.Join(dir, "shop"), pgtest.Schema(t)} {
		for file, want := range map[string]string{filepath.Join(dir, "nowhere"): "there is no ", empty: "it holds no journal", text: "not a database"} {
			if err := Restore(t.Context(), file, place, nil); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s to %s: %v, want %q", file, place, err, want)
			}
		}
	}
	d := open(t)
	file := filepath.Join(dir, "copy.db")
	if err := d.Backup(t.Context(), file, false, nil); err != nil {
		t.Fatal(err)
	}
	used := t.TempDir()
	log := filepath.Join(used, FileName+"-wal")
	if err := os.WriteFile(log, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Restore(t.Context(), file, used, nil); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), log) {
		t.Errorf("beside the log of another file: %v", err)
	}
	alone(t, used, FileName+"-wal")
}

// TestRestoreOlder: a backup that an older program has made is brought up to
// date.
func TestRestoreOlder(t *testing.T) {
	each(t, func(t *testing.T, to kind) {
		dir := t.TempDir()
		file := filepath.Join(dir, "old.db")
		if err := touch(file); err != nil {
			t.Fatal(err)
		}
		d, err := openFile(file, true)
		if err != nil {
			t.Fatal(err)
		}
		all, err := known(migrations, "sqlite")
		if err != nil {
			t.Fatal(err)
		}
		if err := up(t, d, all[:1]); err != nil { // before there were accounts
			t.Fatal(err)
		}
		exec1(t, d, put, "old")
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		place := to.place(t)
		if err := Restore(t.Context(), file, place, func(*DB) error { return nil }); err != nil {
			t.Fatal(err)
		}
		r, err := OpenRead(t.Context(), place)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		if n := count(t, r, "SELECT count(*) FROM customer WHERE id = 'old'"); n != 1 {
			t.Errorf("%d rows, want 1", n)
		}
	})
}
