package main

import (
	"database/sql"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"chargewright/internal/pgtest"
	"chargewright/journal"
	"chargewright/store"
)

// killed is a workshop whose server is killed at a known moment of a form.
type killed struct {
	database string
	mara     *device
	job      string
}

// workshopToKill makes a workshop with a job on it; the server that made it has ended.
func workshopToKill(t *testing.T, database string) *killed {
	t.Helper()
	p := begin(t, database)
	k := &killed{database: database, mara: newDevice(0, p.base)}
	owner := url.Values{"name": {"Mara"}, "password": {"copper braid 41"}, "again": {"copper braid 41"}}
	opening := url.Values{"event": {"e-to-be-killed-1"}, "seen": {"0"}, "kind": {"low-charge"}, "system": {"supply-side-contact"}, "meter": {"dmm", "dc-clamp"}, "volts": {"12"}, "ambient": {"18"}}
	for _, f := range []struct {
		path string
		form url.Values
	}{{p.link, owner}, {"/sign-in", owner}, {"/jobs", opening}} {
		code, body, to, err := k.mara.post(t.Context(), f.path, f.form)
		if err != nil || code != http.StatusSeeOther {
			t.Fatalf("%s: answered %d: %.300s (%v)", f.path, code, body, err)
		}
		k.job = to
	}
	p.kill(t)
	return k
}

func (p *program) kill(t *testing.T) {
	t.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.cmd.Wait() // it was killed, and says so
}

// sendAndKill sends a repair to a server that stops at a moment of it, is told that it
// has arrived, and kills the server there and then.
func (k *killed) sendAndKill(t *testing.T, moment, event, seen string) {
	t.Helper()
	p := begin(t, k.database, heldVariable+"="+moment)
	k.mara.servers, k.mara.at = []string{p.base}, 0
	form := url.Values{"event": {event}, "seen": {seen}, "repair": {"clean-clamps"}, "what": {"both clamps cleaned"}, "cured": {"unknown"}}
	code, body, _, err := k.mara.post(t.Context(), k.job+"/repair", form)
	if err != nil || code != http.StatusAccepted || !strings.Contains(body, "What you sent has arrived") {
		t.Fatalf("answered %d: %.300s (%v)", code, body, err)
	}
	p.held(t, moment)
	p.kill(t)
}

// held waits until a program stands at a moment of a form.
func (p *program) held(t *testing.T, moment string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !strings.Contains(p.said.String(), heldWords); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it did not come to the moment %q of the form: %s", moment, p.said.String())
		}
	}
}

// standsWith holds the journal and the forms that arrived against what they should be.
func (k *killed) standsWith(t *testing.T, undone int, events ...string) {
	t.Helper()
	db, err := store.OpenRead(t.Context(), k.database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	book := journal.OpenRead(db)
	list, err := book.Read(t.Context(), strings.TrimPrefix(k.job, "/jobs/"), 0)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, e.ID)
		if e.Person == "" || e.Person != list[0].Person {
			t.Errorf("event %s is by %q", e.ID, e.Person)
		}
	}
	if !slices.Equal(got, events) {
		t.Errorf("the journal holds %v, want %v", got, events)
	}
	if n := undoneIn(t, db); n != undone {
		t.Errorf("%d forms are not done, want %d", n, undone)
	}
	if r, err := book.Verify(t.Context(), journal.Sum{}); err != nil || len(r.Breaks) > 0 {
		t.Errorf("%v (%v)", r.Breaks, err)
	}
}

func undoneIn(t *testing.T, db *store.DB) (n int) {
	t.Helper()
	err := db.Read(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRowContext(t.Context(), "SELECT count(*) FROM asked WHERE done = 0").Scan(&n)
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// aMinuteLater makes what has arrived a minute older, and its task, as if nobody had started
// a server for that long; on PostgreSQL two minutes, which is how long a dead process has.
func (k *killed) aMinuteLater(t *testing.T) {
	t.Helper()
	db, err := store.Open(t.Context(), k.database)
	if err != nil {
		t.Fatal(err)
	}
	older := []string{"UPDATE asked SET at = at - 60", "UPDATE task SET due = due - 60000, taken = max(0, taken - 60000)"}
	if db.Server() != nil { // what a dead process had is known to be left, and so is what it alone saw to
		older = []string{older[0], "UPDATE river_job SET scheduled_at = scheduled_at - interval '2 minutes', attempted_at = attempted_at - interval '2 minutes'", "DELETE FROM river_leader"}
	}
	err = db.Write(t.Context(), func(tx *sql.Tx) error {
		for _, st := range older {
			if _, err := tx.ExecContext(t.Context(), st); err != nil {
				return err
			}
		}
		return nil
	})
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
}

// nothingLeft starts servers at once, or workers, and waits until nothing is left to be done.
func (k *killed) nothingLeft(t *testing.T, begin func(*testing.T, string, ...string) *program, many int) {
	t.Helper()
	var all []*program
	for range many {
		all = append(all, begin(t, k.database))
	}
	db, err := store.OpenRead(t.Context(), k.database)
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); undoneIn(t, db) > 0; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("nobody does it over: %s", all[0].said.String())
		}
	}
	_ = db.Close() // it was only read
	for _, p := range all {
		p.kill(t)
	}
}

// TestKilledBetweenArrivedAndRecorded: a server says that a form has arrived and is
// killed (SIGKILL) before it stands in the journal. The next server on the same data
// does it over by itself, once, in its sender's name; one that is killed just after it
// was recorded leaves nothing that is recorded a second time.
func TestKilledBetweenArrivedAndRecorded(t *testing.T) {
	k := workshopToKill(t, t.TempDir())
	k.sendAndKill(t, "before", "e-killed-before", "1")
	k.standsWith(t, 1, "e-to-be-killed-1") // it has arrived, and is not recorded
	k.nothingDoneYet(t)
	k.aMinuteLater(t)
	k.nothingLeft(t, begin, 1)
	k.standsWith(t, 0, "e-to-be-killed-1", "e-killed-before")

	k.sendAndKill(t, "after", "e-killed-after", "2")
	k.standsWith(t, 1, "e-to-be-killed-1", "e-killed-before", "e-killed-after")
	k.aMinuteLater(t)
	k.nothingLeft(t, begin, 1)
	k.standsWith(t, 0, "e-to-be-killed-1", "e-killed-before", "e-killed-after")
}

// nothingDoneYet: a server that is started at once leaves a form alone that another one
// may still be at.
func (k *killed) nothingDoneYet(t *testing.T) {
	t.Helper()
	p := begin(t, k.database) // it looks the moment it serves
	time.Sleep(300 * time.Millisecond)
	p.kill(t)
	k.standsWith(t, 1, "e-to-be-killed-1")
}

// TestKilledOnPostgres is the same on PostgreSQL, where two servers find the form at
// the same time, and where there may be workers alone.
func TestKilledOnPostgres(t *testing.T) {
	k := workshopToKill(t, pgtest.Start(t, pgtest.Lasting).Address("shop"))
	k.sendAndKill(t, "before", "e-killed-before", "1")
	k.standsWith(t, 1, "e-to-be-killed-1")
	k.aMinuteLater(t)
	k.nothingLeft(t, begin, 2)
	k.standsWith(t, 0, "e-to-be-killed-1", "e-killed-before")

	// Nobody but workers is left: one takes it and is killed in the middle, two find what it had.
	k.sendAndKill(t, "before", "e-killed-worker", "2")
	k.aMinuteLater(t)
	w := beginWorker(t, k.database, heldVariable+"=before")
	w.held(t, "before")
	w.kill(t)
	k.standsWith(t, 1, "e-to-be-killed-1", "e-killed-before")
	k.aMinuteLater(t)
	k.nothingLeft(t, beginWorker, 2)
	k.standsWith(t, 0, "e-to-be-killed-1", "e-killed-before", "e-killed-worker")
}
