package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"chargewright/job"
)

// Append adds events to the end of a stream, all or none, and returns them as
// they are recorded: with stream, sequence number and the time of recording.
// When it returns without a problem they are on the disk.
//
// expected is the last sequence number of the stream that the caller knows, 0
// for a new one. Where other events have come since, nothing is added and the
// problem is a *Moved that carries them.
//
// Recording is idempotent: an event whose id is in the journal with the same
// content is not added again but returned as it was recorded, whatever expected
// says, so that a device may send again what it had no answer to. The same id
// with other content is a *Reused.
func (s *Store) Append(ctx context.Context, stream string, expected int, events []job.Event) ([]job.Event, error) {
	if err := problems(stream, expected, events); err != nil {
		return nil, err
	}
	a := &appending{stream: stream, now: s.now()}
	err := s.db.Write(ctx, func(tx *sql.Tx) error {
		if err := a.run(ctx, tx, expected, events); err != nil || len(a.rows) == 0 {
			return err
		}
		return s.db.Announce(ctx, tx)
	})
	s.counts.add(a, len(events), err)
	if err != nil {
		return nil, err
	}
	s.tell(a.rows)
	return a.out, nil
}

// Note adds one event to the end of a stream, wherever that is, within a
// transaction of somebody who writes: what it is about and that it happened both
// stand, or neither.
func (s *Store) Note(ctx context.Context, tx *sql.Tx, stream string, e job.Event) error {
	seq, _, err := tail(ctx, tx, stream)
	if err == nil {
		err = problems(stream, seq, []job.Event{e})
	}
	a := &appending{stream: stream, now: s.now()}
	if err == nil {
		err = a.run(ctx, tx, seq, []job.Event{e})
	}
	s.counts.add(a, 1, err)
	if err != nil {
		return err
	}
	return s.db.Announce(ctx, tx)
}

// tell tells this program's own pages; others hear of it by the database.
func (s *Store) tell(rows []*stored) {
	if len(rows) > 0 {
		last := rows[len(rows)-1]
		s.hub.tell(Notice{Stream: last.stream, Seq: int(last.seq), Place: last.place})
	}
}

// appending is one transaction of Append.
type appending struct {
	stream string
	now    time.Time
	known  map[string]*job.Event // events of the batch that are in the journal, by id
	rows   []*stored             // what is added
	out    []job.Event
}

func (a *appending) run(ctx context.Context, tx *sql.Tx, expected int, events []job.Event) error {
	if err := a.recognise(ctx, tx, events); err != nil {
		return err
	}
	seq, prev, err := tail(ctx, tx, a.stream)
	if err != nil {
		return err
	}
	head, err := tip(ctx, tx)
	if err != nil {
		return err
	}
	place, sum := head.Events, head.Sum[:]
	for _, e := range events {
		if was := a.known[e.ID]; was != nil {
			a.out = append(a.out, *was)
			continue
		}
		seq, place = seq+1, place+1
		e.Stream, e.Seq, e.Recorded = a.stream, seq, a.now
		row := toStored(&e, place, prev, sum)
		prev, sum = row.hash, row.head
		if e, err = row.event(); err != nil { // the times as they will be read
			return err
		}
		a.known[e.ID] = &e
		a.rows, a.out = append(a.rows, row), append(a.out, e)
	}
	if len(a.rows) == 0 {
		return nil
	}
	if err := a.upToDate(ctx, tx, expected, int(a.rows[0].seq)-1); err != nil {
		return err
	}
	return insert(ctx, tx, a.stream, a.rows)
}

// recognise finds the events of the batch that are in the journal already.
func (a *appending) recognise(ctx context.Context, tx *sql.Tx, events []job.Event) error {
	a.known = map[string]*job.Event{}
	var all []error
	batch := map[string]job.Event{}
	for _, e := range events {
		e.Stream = a.stream
		if first, twice := batch[e.ID]; twice {
			all = append(all, reused(first, e))
			continue
		}
		batch[e.ID] = e
		was, err := withID(ctx, tx, e.ID)
		if err != nil {
			return err
		}
		if was != nil {
			all = append(all, reused(*was, e))
			a.known[e.ID] = was
		}
	}
	return errors.Join(all...)
}

// upToDate reports the events that the caller did not know of. Those of the
// batch itself it knows.
func (a *appending) upToDate(ctx context.Context, tx *sql.Tx, expected, current int) error {
	if expected == current {
		return nil
	}
	moved := &Moved{Stream: a.stream, Expected: expected, Current: current}
	if expected > current {
		return moved
	}
	between, err := read(ctx, tx, a.stream, expected+1)
	if err != nil {
		return err
	}
	for _, e := range between {
		if a.known[e.ID] == nil {
			moved.Between = append(moved.Between, e)
		}
	}
	if len(moved.Between) == 0 {
		return nil
	}
	return moved
}

// insert writes rows that have their place, and draws the stream's line anew.
func insert(ctx context.Context, tx *sql.Tx, stream string, rows []*stored) error {
	for _, e := range rows {
		if err := pinned(ctx, tx, e); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO event ("+columns+") VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)",
			e.place, e.stream, e.seq, e.id, e.kind, e.v, e.body, e.at, e.recorded,
			e.device, e.person, e.seen, e.engine, e.prev, e.hash, e.head)
		if err != nil {
			return err
		}
	}
	return draw(ctx, tx, stream)
}

// MaxBody is the most bytes that the body of an event may have.
const MaxBody = 8 << 20

// problems lists all that is wrong with a batch by itself.
func problems(stream string, expected int, events []job.Event) error {
	var all []error
	say := func(format string, args ...any) { all = append(all, fmt.Errorf(format, args...)) }
	if why := name(stream); why != "" {
		say("the stream's name %s", why)
	}
	if expected < 0 {
		say("the last sequence number known is %d: write 0 for a new stream", expected)
	}
	if len(events) == 0 {
		say("there is no event to record")
	}
	for i, e := range events {
		for _, what := range ill(e) {
			say("event %d (%s): %s", i+1, e.ID, what)
		}
		if e.Stream != "" && e.Stream != stream {
			say("event %d (%s): it belongs to stream %s, not %s", i+1, e.ID, e.Stream, stream)
		}
	}
	return errors.Join(all...)
}

// ill lists all that is wrong with an event by itself.
func ill(e job.Event) (all []string) {
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	for _, f := range []struct {
		what, text string
		must       bool
	}{{"id", e.ID, true}, {"kind", string(e.Kind), true}, {"device", e.Device, false}, {"person", e.Person, false}, {"engine", e.Engine, false}} {
		if why := name(f.text); why != "" && (f.must || f.text != "") {
			say("its %s %s", f.what, why)
		}
	}
	if e.V < 1 {
		say("its version is %d: versions count from 1", e.V)
	}
	if e.Seen < 0 {
		say("it has seen event %d: events count from 1", e.Seen)
	}
	if len(e.Body) == 0 || len(e.Body) > MaxBody {
		say("its body has %d bytes: 1 to %d are kept", len(e.Body), MaxBody)
	}
	if at, err := unstamp(stamp(e.At)); err != nil || !at.Equal(e.At) {
		say("its time %v cannot be written as RFC 3339", e.At)
	}
	return all
}

// name says what is wrong with a short text that names something; "" when
// nothing is.
func name(s string) string {
	switch {
	case s == "":
		return "is not given"
	case len(s) > 200:
		return fmt.Sprintf("has %d bytes: at most 200", len(s))
	case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
		return fmt.Sprintf("%q holds what is no printed character", s)
	}
	return ""
}

// Moved is the refusal of an append that does not know the stream's last events.
type Moved struct {
	Stream            string
	Expected, Current int
	Between           []job.Event // what came after Expected and is not of the batch
}

func (m *Moved) Error() string {
	if m.Expected > m.Current {
		return fmt.Sprintf("stream %s ends at event %d, not at %d: read it again", m.Stream, m.Current, m.Expected)
	}
	return fmt.Sprintf("stream %s went on to event %d after event %d (%d others came): look at them, then record again", m.Stream, m.Current, m.Expected, len(m.Between))
}

// Reused is the refusal of an event whose id names another one.
type Reused struct {
	Before, Now job.Event
	Differ      []string // the parts that are not the same
}

func (r *Reused) Error() string {
	where := "in the same batch"
	if r.Before.Seq > 0 {
		where = fmt.Sprintf("as event %d (%s) of stream %s", r.Before.Seq, r.Before.Kind, r.Before.Stream)
	}
	return fmt.Sprintf("id %s was used before, %s; the event (%s) for stream %s that has it now differs in %s: give it its own id",
		r.Before.ID, where, r.Now.Kind, r.Now.Stream, strings.Join(r.Differ, ", "))
}

// reused holds an event against the one that has its id. What the sender says
// counts; sequence number, time of recording and engine are the server's.
func reused(before, now job.Event) error {
	r := &Reused{Before: before, Now: now}
	differ := func(what string, same bool) {
		if !same {
			r.Differ = append(r.Differ, what)
		}
	}
	differ("stream", before.Stream == now.Stream)
	differ("kind", before.Kind == now.Kind)
	differ("version", before.V == now.V)
	differ("body", bytes.Equal(before.Body, now.Body))
	differ("time", stamp(before.At) == stamp(now.At))
	differ("device", before.Device == now.Device)
	differ("person", before.Person == now.Person)
	differ("seen", before.Seen == now.Seen)
	if r.Differ == nil {
		return nil
	}
	return r
}
