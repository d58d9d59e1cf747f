package store

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
)

// set is a list of migrations, sorted, from name and text.
func set(t *testing.T, texts ...string) []migration {
	t.Helper()
	files := fstest.MapFS{}
	for i := 0; i < len(texts); i += 2 {
		files["a/"+texts[i]+".sql"] = &fstest.MapFile{Data: []byte(texts[i+1])}
	}
	all, err := known(files, "a")
	if err != nil || len(all) != len(texts)/2 {
		t.Fatalf("%d migrations (%v)", len(all), err)
	}
	return all
}

// bare is a database that nothing was run on.
func bare(t *testing.T, k kind) *DB {
	t.Helper()
	place := k.place(t)
	open := openDir
	if IsURL(place) {
		open = openServer
	}
	d, err := open(t.Context(), place)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.Close() })
	return d
}

func up(t *testing.T, d *DB, all []migration) error {
	t.Helper()
	return d.Write(t.Context(), func(tx *sql.Tx) error { _, err := d.bringUp(t.Context(), tx, all); return err })
}

const (
	first  = "CREATE TABLE a (x INTEGER); INSERT INTO a VALUES (1);"
	second = "CREATE INDEX a_x ON a (x); INSERT INTO a VALUES (2);"
)

// TestMigrateForward: each runs once, in order, and a later program goes on
// where an earlier one ended.
func TestMigrateForward(t *testing.T) { each(t, onMigrateForward) }

func onMigrateForward(t *testing.T, k kind) {
	d := bare(t, k)
	for _, all := range [][]migration{set(t, "0001_a", first), set(t, "0002_b", second, "0001_a", first), set(t, "0001_a", first, "0002_b", second)} {
		if err := up(t, d, all); err != nil {
			t.Fatal(err)
		}
	}
	if n := count(t, d, "SELECT count(*) FROM a"); n != 2 {
		t.Errorf("%d rows, want one of each migration", n)
	}
}

// TestMigrateRefuses: what another program has done is left alone.
func TestMigrateRefuses(t *testing.T) { each(t, onMigrateRefuses) }

func onMigrateRefuses(t *testing.T, k kind) {
	both := set(t, "0001_a", first, "0002_b", second)
	for name, c := range map[string]struct {
		before []migration
		sql    string // run before, instead
		now    []migration
		want   string
	}{
		"newer":   {before: both, now: both[:1], want: "a newer program wrote it (migration 0002_b)"},
		"changed": {before: both[:1], now: set(t, "0001_a", first+" "), want: "another migration 0001_a"},
		"renamed": {before: both[:1], now: set(t, "0001_z", first), want: "another migration 0001_a"},
		"foreign": {sql: "CREATE TABLE songs (title TEXT)", now: both, want: "the database of another program"},
		"half":    {now: set(t, "0001_a", first, "0002_b", "INSERT INTO a VALUES (3); INSERT INTO nowhere VALUES (1);"), want: "migration 0002_b"},
	} {
		t.Run(name, func(t *testing.T) {
			d := bare(t, k)
			if c.before != nil {
				if err := up(t, d, c.before); err != nil {
					t.Fatal(err)
				}
			}
			if c.sql != "" {
				exec1(t, d, c.sql)
			}
			tables := count(t, d, k.of("SELECT count(*) FROM sqlite_schema", "SELECT count(*) FROM pg_class WHERE relnamespace = current_schema()::regnamespace"))
			if err := up(t, d, c.now); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if n := count(t, d, k.of("SELECT count(*) FROM sqlite_schema", "SELECT count(*) FROM pg_class WHERE relnamespace = current_schema()::regnamespace")); n != tables {
				t.Errorf("%d tables before, %d after: a refused migration leaves nothing", tables, n)
			}
		})
	}
}

// TestReadingWantsTheSchema: a file from an older or newer program is not read
// as if it were today's.
func TestReadingWantsTheSchema(t *testing.T) { each(t, onReadingWantsTheSchema) }

func onReadingWantsTheSchema(t *testing.T, k kind) {
	for statement, want := range map[string]string{
		"DELETE FROM migration WHERE name > '0001_journal'":         "an older program wrote it, up to 0001_journal",
		"INSERT INTO migration VALUES ('9999_z', 'x')":              "a newer program wrote it (migration 9999_z)",
		"UPDATE migration SET sha256 = 'x' WHERE name LIKE '0001%'": "another migration 0001_journal",
		"DROP TABLE migration; CREATE TABLE songs (title TEXT)":     "the database of another program",
	} {
		place := k.place(t)
		d, err := Open(t.Context(), place)
		if err != nil {
			t.Fatal(err)
		}
		defer d.Close()
		for s := range strings.SplitSeq(statement, "; ") {
			exec1(t, d, s)
		}
		r, err := OpenRead(t.Context(), place)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", statement, err, want)
		}
		if err == nil {
			_ = r.Close()
		}
	}
}

// TestManyStartAtOnce: programs that start on the same new directory wait for
// each other, and the schema is made once.
func TestManyStartAtOnce(t *testing.T) { each(t, onManyStartAtOnce) }

func onManyStartAtOnce(t *testing.T, k kind) {
	dir := k.place(t)
	if !IsURL(dir) {
		dir = filepath.Join(dir, "data")
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			d, err := Open(t.Context(), dir)
			if err != nil {
				t.Error(err)
				return
			}
			if n := count(t, d, "SELECT count(*) FROM line_rules"); n != 1 {
				t.Errorf("the first migration ran %d times", n)
			}
			if err := d.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if _, err := os.Stat(filepath.Join(dir, FileName+"-wal")); err == nil {
		t.Error("the write-ahead log stands there after everybody closed")
	}
}

// TestMigrateFromBefore: what a program had that knew nothing of tasks is brought up to
// date with what it kept; so is what another program has left half way, after the migration
// that had to be committed before the next.
func TestMigrateFromBefore(t *testing.T) { each(t, onMigrateFromBefore) }

func onMigrateFromBefore(t *testing.T, k kind) {
	for _, before := range []string{"0006_taken_up", "0007_task"} {
		d := bare(t, k)
		all, err := known(migrations, d.folder())
		if err != nil {
			t.Fatal(err)
		}
		for n := 0; n == 0 || all[n-1].name != before; n++ { // as programs came one after the other
			if err := up(t, d, all[:n+1]); err != nil {
				t.Fatal(err)
			}
		}
		exec1(t, d, "INSERT INTO asked (ticket, person, target, form, at) VALUES ('t', 'p', '/jobs/j/repair', 'a=b', 1)")
		if err := d.migrate(t.Context()); err != nil {
			t.Fatalf("from %s: %v", before, err)
		}
		if found, err := d.Inspect(t.Context()); len(found) > 0 || err != nil {
			t.Errorf("from %s: %v (%v)", before, found, err)
		}
		if n := count(t, d, "SELECT count(*) FROM asked WHERE done = 0"); n != 1 {
			t.Errorf("from %s: %d forms, want the one that was kept", before, n)
		}
	}
}
