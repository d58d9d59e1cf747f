package journal

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"slices"

	"chargewright/job"
)

// Break is a place where the journal is not as it was recorded. Stream and Seq
// are zero where it is not of one event.
type Break struct {
	Stream string
	Seq    int
	Place  int64 // in the whole journal
	What   string
}

func (b *Break) Error() string {
	if b.Stream == "" {
		return b.What
	}
	return fmt.Sprintf("stream %s, event %d (%d of the journal): %s", b.Stream, b.Seq, b.Place, b.What)
}

func (e *stored) broken(format string, args ...any) *Break {
	return &Break{Stream: e.stream, Seq: int(e.seq), Place: e.place, What: fmt.Sprintf(format, args...)}
}

// Report is what Verify found.
type Report struct {
	Head     Head
	Streams  int
	Contents int
	// At is how many events the journal held when the head that was asked for
	// was its head; -1 when it never was, or is no more.
	At     int64
	Breaks []Break
}

// Verify holds the whole journal against its hashes and reports every break.
// head is one that was written down earlier, zero for none: what came up to it
// must be there unchanged. Without it, the journal's last events can be cut off,
// or everything recorded anew, and nobody can tell from the file alone.
//
// Verify fails only where the journal cannot be read at all.
func (s *Store) Verify(ctx context.Context, head Sum) (Report, error) {
	v := &verifying{head: head, last: map[string]*stored{}, pins: map[Sum][]*stored{}, broken: map[Sum]bool{}}
	v.At = -1
	if head == (Sum{}) {
		v.At = 0
	}
	found, err := s.db.Inspect(ctx)
	if err != nil {
		return v.Report, err
	}
	for _, what := range found {
		v.add(&Break{What: what})
	}
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		if err := each(ctx, tx, v.event, "ORDER BY place"); err != nil {
			return err
		}
		if err := v.contents(ctx, tx); err != nil {
			return err
		}
		return v.lines(ctx, tx)
	})
	v.Streams = len(v.last)
	if v.At < 0 {
		v.add(&Break{What: fmt.Sprintf("the journal never had the head %v: events up to it are missing or were changed, or the head is another journal's", head)})
	}
	return v.Report, err
}

type verifying struct {
	Report
	head   Sum
	last   map[string]*stored // of each stream
	pins   map[Sum][]*stored
	broken map[Sum]bool // contents that are not what they were
}

func (v *verifying) add(b *Break) { v.Breaks = append(v.Breaks, *b) }

// event holds one event against those before it. After a break it goes on from
// what is stored, so that one change is one finding and not a thousand.
func (v *verifying) event(e *stored) error {
	if e.place != v.Head.Events+1 {
		v.add(e.broken("%s missing from the journal before it", gap(v.Head.Events, e.place)))
	}
	before := v.last[e.stream]
	if before == nil {
		before = &stored{hash: make([]byte, sha256.Size)}
	}
	switch {
	case e.seq <= before.seq:
		v.add(e.broken("stands after event %d of its stream", before.seq))
	case e.seq != before.seq+1:
		v.add(e.broken("%s missing from the stream before it", gap(before.seq, e.seq)))
	}
	if !bytes.Equal(e.prev, before.hash) {
		v.add(e.broken("does not follow event %d as it stands", before.seq))
	}
	if sum := e.sum(); !bytes.Equal(sum[:], e.hash) {
		v.add(e.broken("was changed after it was recorded"))
	}
	if sum := headAfter(v.Head.Sum[:], e.place, e.hash); !bytes.Equal(sum[:], e.head) {
		v.add(e.broken("does not follow the events before it in the journal as they stand"))
	}
	v.Head.Events = e.place
	copy(v.Head.Sum[:], e.head)
	if v.head == v.Head.Sum {
		v.At = e.place
	}
	v.last[e.stream] = e
	v.pin(e)
	e.body = nil // looked at: a large journal need not stand in memory
	return nil
}

func gap(from, to int64) string {
	if to-from == 2 {
		return fmt.Sprintf("event %d is", from+1)
	}
	return fmt.Sprintf("events %d to %d are", from+1, to-1)
}

func (v *verifying) pin(e *stored) {
	sum, pins, err := pin(job.Kind(e.kind), e.body)
	switch {
	case err != nil:
		v.add(e.broken("%v", err))
	case pins:
		v.pins[sum] = append(v.pins[sum], e)
	}
}

// contents holds what is kept against its hashes and against who needs it.
func (v *verifying) contents(ctx context.Context, tx *sql.Tx) error {
	sums, err := keptSums(ctx, tx)
	if err != nil {
		return err
	}
	v.Contents = len(sums)
	have := map[Sum]bool{}
	for _, sum := range sums {
		have[sum] = true
		_, err := kept(ctx, tx, sum)
		var b *Break
		switch {
		case errors.As(err, &b):
			v.broken[sum] = true
			v.add(b)
		case err != nil:
			return err
		}
	}
	for _, sum := range slices.SortedFunc(maps.Keys(v.pins), func(a, b Sum) int { return bytes.Compare(a[:], b[:]) }) {
		for _, e := range v.pins[sum] {
			switch {
			case !have[sum]:
				v.add(e.broken("the content %v that it pins is missing", sum))
			case v.broken[sum]:
				v.add(e.broken("the content %v that it pins was changed", sum))
			}
		}
	}
	return nil
}

func keptSums(ctx context.Context, tx *sql.Tx) ([]Sum, error) {
	rows, err := tx.QueryContext(ctx, "SELECT sha256 FROM content ORDER BY sha256")
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }() // rows.Err tells more
	var out []Sum
	for rows.Next() {
		var b []byte
		if err := rows.Scan(&b); err != nil {
			return nil, err
		}
		var sum Sum
		copy(sum[:], b)
		out = append(out, sum)
	}
	return out, rows.Err()
}

// lines holds the list of jobs against what the events draw.
func (v *verifying) lines(ctx context.Context, tx *sql.Tx) error {
	var version int
	if err := tx.QueryRowContext(ctx, "SELECT version FROM line_rules").Scan(&version); err != nil || version != lineRules {
		return err // lines of other rules are made anew when the journal is opened
	}
	want, err := drawAll(ctx, tx)
	if err != nil {
		v.add(&Break{What: "the list of jobs cannot be held against the events: " + err.Error()})
		return nil //nolint:nilerr // it is told as a break
	}
	is, err := list(ctx, tx, "1 = 1 ORDER BY l.place")
	if err != nil {
		return err
	}
	for _, l := range is {
		w := want[l.Stream]
		delete(want, l.Stream)
		if w == nil || !l.same(w) {
			v.add(&Break{Stream: l.Stream, Seq: l.Seq, Place: l.Place, What: "the list of jobs does not say what its events say"})
		}
	}
	for _, stream := range slices.Sorted(maps.Keys(want)) {
		w := want[stream]
		v.add(&Break{Stream: stream, Seq: w.Seq, Place: w.Place, What: "it is missing from the list of jobs"})
	}
	return nil
}

// same compares all but what other rows add.
func (l Line) same(w *Line) bool {
	a, b := l, *w
	a.Name, a.Plate, a.Hash, b.Name, b.Plate, b.Hash = "", "", Sum{}, "", "", Sum{}
	opened, changed := a.Opened.Equal(b.Opened), a.Changed.Equal(b.Changed)
	b.Opened, b.Changed = a.Opened, a.Changed
	return a == b && opened && changed
}
