package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const put = "INSERT INTO customer (id, name, plate, sought, contact) VALUES ($1, '', '', '', '')"

// alone reports files in a directory beside the wanted ones.
func alone(t *testing.T, dir string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if strings.Join(names, " ") != strings.Join(want, " ") {
		t.Errorf("files %v, want %v", names, want)
	}
}

// TestBackup: a copy holds what was committed, is whole, and is its owner's
// alone. It can be opened as a database in a directory of its own.
func TestBackup(t *testing.T) { each(t, onBackup) }

func onBackup(t *testing.T, k kind) {
	d := k.open(t)
	exec1(t, d, put, "one")
	dir := t.TempDir()
	file := filepath.Join(dir, FileName)
	looked := 0
	look := func(c *DB) error {
		looked++
		if n := count(t, c, "SELECT count(*) FROM customer"); n != looked {
			t.Errorf("the copy has %d rows, want %d", n, looked)
		}
		found, err := c.Inspect(t.Context())
		return errors.Join(err, errors.New(strings.Join(found, "; ")))
	}
	sound := func(c *DB) error {
		if err := look(c); err.Error() != "" {
			return err
		}
		return nil
	}
	if err := d.Backup(t.Context(), file, false, sound); err != nil {
		t.Fatal(err)
	}
	if err := d.Backup(t.Context(), file, false, sound); !errors.Is(err, ErrExists) {
		t.Errorf("written over without being asked to: %v", err)
	}
	exec1(t, d, put, "two")
	if err := d.Backup(t.Context(), file, true, sound); err != nil {
		t.Fatal(err)
	}
	if looked != 2 {
		t.Errorf("looked %d times, want 2", looked)
	}
	alone(t, dir, FileName)
	if info, err := os.Stat(file); err != nil || info.Mode() != 0o600 {
		t.Errorf("mode %v (%v)", info.Mode(), err)
	}

	again, err := Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if n := count(t, again, "SELECT count(*) FROM customer"); n != 2 {
		t.Errorf("%d rows after putting the copy back, want 2", n)
	}
	if found, err := again.Inspect(t.Context()); err != nil || found != nil {
		t.Errorf("%v %v", found, err)
	}
}

// TestBackupIsWholeOrNotThere: a copy that cannot be made or is refused leaves
// the one before, and no piece of itself.
func TestBackupIsWholeOrNotThere(t *testing.T) { each(t, onBackupIsWholeOrNotThere) }

func onBackupIsWholeOrNotThere(t *testing.T, k kind) {
	d := k.open(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "copy.db")
	if err := os.WriteFile(file, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	refusal := errors.New("not like this")
	if err := d.Backup(t.Context(), file, true, func(*DB) error { return refusal }); !errors.Is(err, refusal) {
		t.Errorf("got %v", err)
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "before" {
		t.Errorf("%q (%v)", text, err)
	}
	alone(t, dir, "copy.db")
	if err := d.Backup(t.Context(), filepath.Join(dir, "nowhere", "copy.db"), false, nil); err == nil {
		t.Error("written into a directory that is not there")
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if d.File() != "" {
		if err := os.Truncate(d.File(), 5000); err != nil {
			t.Fatal(err)
		}
	}
	if err := d.Backup(t.Context(), filepath.Join(dir, "other.db"), false, nil); err == nil {
		t.Error("half a database was copied")
	}
	alone(t, dir, "copy.db")
}

// TestInspectBites: what is missing, added or changed in the schema is found,
// and rows that refer to none.
func TestInspectBites(t *testing.T) { each(t, onInspectBites) }

func onInspectBites(t *testing.T, k kind) {
	for statement, want := range map[string]string{
		"SELECT 1": "",
		k.of("DROP TRIGGER event_is_not_changed", "DROP TRIGGER event_is_not_changed ON event"): "trigger event_is_not_changed is missing",
		"CREATE TABLE songs (title TEXT)":    "table songs does not belong",
		"ALTER TABLE line ADD COLUMN x TEXT": "table line is not as it was made",
		"DROP INDEX line_page":               "index line_page is missing",
		k.of("DROP TRIGGER event_is_not_deleted; CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event BEGIN SELECT 1; END",
			"ALTER TABLE event DISABLE TRIGGER event_is_not_deleted"): "trigger event_is_not_deleted is not as it was made",
		k.of("PRAGMA foreign_keys = 0; INSERT INTO session VALUES (zeroblob(32), 'nobody', 0, 0)",
			"ALTER TABLE session DROP CONSTRAINT session_account_fkey"): k.of("a row of table session refers to a row that does not exist", "constraint session.session_account_fkey is missing"),
		k.of("CREATE VIEW v AS SELECT 1", "CREATE OR REPLACE FUNCTION refused() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'"): k.of("view v does not belong", "function refused is not as it was made"),
		k.of("CREATE INDEX i ON event (v)", "CREATE RULE r AS ON DELETE TO event DO INSTEAD NOTHING"):                                          k.of("index i does not belong", "rule event.r does not belong"),
	} {
		d := k.open(t)
		if err := d.Exec(t.Context(), statement); err != nil {
			t.Fatal(err)
		}
		found, err := d.Inspect(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(found, "; "); (want == "") != (got == "") || !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q, want %q", statement, got, want)
		}
	}
}
