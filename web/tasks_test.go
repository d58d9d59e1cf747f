package web

import (
	"bytes"
	"context"
	"database/sql"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"chargewright/task"
)

// doneIn waits for what a task does.
func doneIn(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !is(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not in a minute: %s", what)
		}
	}
}

// TestTaskOfAForm: a form that an older program kept, or that a copy brought, has no task; a
// server that starts adds it, and whoever takes it records the form, once.
func TestTaskOfAForm(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	fix := s.get(t, at+"/repair?mend=clean-clamps").form(t, "", "repair", "clean-clamps", "what", "both clamps cleaned", "cured", "unknown")
	old := s.Now().Add(-time.Hour).Unix()
	err := s.db.Write(t.Context(), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(t.Context(), "INSERT INTO asked (ticket, person, target, form, at) VALUES ($1, '', $2, $3, $4)", "OLD"+fix.Get("event"), at+"/repair", fix.Encode(), old)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // two servers start
		if err := s.addLeft(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	doneIn(t, "the form is recorded", func() bool { return len(s.events(t, at)) == 2 })
	doneIn(t, "nothing is left", func() bool {
		list, err := s.book.Undone(t.Context())
		for _, a := range list {
			if a.Ticket == "OLD"+fix.Get("event") {
				return false
			}
		}
		return err == nil
	})
	if events := s.events(t, at); len(events) != 2 || events[1].ID != fix.Get("event") {
		t.Errorf("%d events, want the opening and the repair", len(events))
	}
}

// TestFitByAnother: a server that does no tasks itself shows a fit that another process has
// worked out; whoever sends the same figures again is shown the same one; a server that
// ends while it waits says that there is none.
func TestFitByAnother(t *testing.T) {
	s := theShop(t)
	one := hasty(t, s, time.Minute)
	form := demoManual()
	form.Set("name", "a van of this test's own")
	before := s.Tasks.Counts(fitTask).Done
	for range 2 {
		one.ask(t, http.MethodPost, "/systems/fit", form).want(t, 200, "A machine with these figures was found")
	}
	if n := s.Tasks.Counts(fitTask).Done - before; n != 1 {
		t.Errorf("the figures were fitted %d times", n)
	}
	form.Set("name", "another van of it")
	one.Tasks = untaken{}
	one.EndLive()
	one.ask(t, http.MethodPost, "/systems/fit", form).want(t, 503, "No server has worked it out", "another van of it")
}

// untaken is a queue from which nobody takes.
type untaken struct{}

func (untaken) Add(context.Context, *sql.Tx, ...task.Task) error { return nil }
func (untaken) Take(context.Context, int, ...task.Kind) error    { return nil }
func (untaken) Waiting(context.Context) (int, error)             { return 0, nil }
func (untaken) Counts(string) task.Counts                        { return task.Counts{} }

// noted is a queue that remembers what was added.
type noted struct {
	untaken
	all *[]task.Task
}

func (q noted) Add(_ context.Context, _ *sql.Tx, tasks ...task.Task) error {
	*q.all = append(*q.all, tasks...)
	return nil
}

// TestNightly: the journal is verified at night; what is found stands in the log and in what
// every server says of its health, and the next night is seen to. A journal with breaks
// takes no server away from the workshop.
func TestNightly(t *testing.T) {
	s := newShop(t, false)
	one := hasty(t, s, time.Minute)
	var log bytes.Buffer
	var added []task.Task
	one.Log, one.Tasks = slog.New(slog.NewTextHandler(&log, nil)), noted{all: &added}
	night := time.Date(2026, 11, 26, nightHour, 0, 0, 0, time.Local)
	one.Now = func() time.Time { return night.Add(time.Second) }
	s.newJob(t)
	if body := one.get(t, "/healthz").want(t, 200).body; strings.Contains(body, "verified") {
		t.Errorf("before it was: %s", body)
	}
	if err := one.doVerify(t.Context(), ""); err != nil {
		t.Fatal(err)
	}
	s.get(t, "/healthz").want(t, 200, "answers", "journal verified 20", ": 0 breaks")
	if !strings.Contains(log.String(), "as it was recorded") || strings.Contains(log.String(), "ERROR") {
		t.Error(log.String())
	}
	if len(added) != 1 || added[0].Kind != verifyTask || !added[0].Due.Equal(night.AddDate(0, 0, 1)) || added[0].Key != "2026-11-27" {
		t.Errorf("added %+v, want the next night", added)
	}
	for _, st := range []string{"DROP TRIGGER event_is_not_changed", "UPDATE event SET kind = 'changed' WHERE place = 1"} {
		if s.db.File() == "" && strings.HasPrefix(st, "DROP") {
			st += " ON event"
		}
		if err := s.db.Exec(t.Context(), st); err != nil {
			t.Fatal(err)
		}
	}
	if err := one.doVerify(t.Context(), ""); err != nil {
		t.Fatal(err)
	}
	if body := s.get(t, "/healthz").want(t, 200, "answers").body; strings.Contains(body, ": 0 breaks") || !strings.Contains(body, "break") {
		t.Error(body)
	}
	if !strings.Contains(log.String(), "level=ERROR") || !strings.Contains(log.String(), "not as it was recorded") {
		t.Error(log.String())
	}
}
