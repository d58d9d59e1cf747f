package journal

import (
	"context"
	"database/sql"
	"sync"
)

// Notice says that a stream has new events, up to Seq.
type Notice struct {
	Stream string
	Seq    int
	Place  int64 // in the whole journal
}

// Subscribe tells of new events of a stream, or of every stream for "", once
// they are on the disk. The channel holds the latest notice only: whoever is
// slow misses notices but not the last, and reads what is new from the journal.
// Events that another program appends are told while Follow runs. cancel ends it
// and closes the channel.
func (s *Store) Subscribe(stream string) (notices <-chan Notice, cancel func()) {
	return s.hub.subscribe(stream)
}

// Follow tells subscribers of events that other programs append, such as another
// server on the same database, until ctx ends. What keeps it from looking goes to
// trouble, and it tries again; nothing that came meanwhile is missed.
func (s *Store) Follow(ctx context.Context, trouble func(error)) {
	known := int64(-1) // place of the last event that was looked at
	s.db.Watch(ctx, func() {
		news, err := s.since(ctx, known)
		if err != nil {
			if ctx.Err() == nil {
				trouble(err)
			}
			return
		}
		known = max(known, 0)
		for _, n := range news {
			s.hub.tell(n)
			known = n.Place
		}
	}, trouble)
}

// since lists the streams that have events after a place, the one with the
// latest last. At first only the journal's end is of interest.
func (s *Store) since(ctx context.Context, place int64) (news []Notice, err error) {
	where, args := "WHERE place > $1", []any{place}
	if place < 0 {
		where, args = "WHERE place = (SELECT max(place) FROM event)", nil
	}
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT stream, max(seq), max(place) FROM event "+where+" GROUP BY stream ORDER BY 3", args...)
		if err != nil {
			return err
		}
		defer func() { _ = rows.Close() }() // rows.Err tells more
		for rows.Next() {
			var n Notice
			if err := rows.Scan(&n.Stream, &n.Seq, &n.Place); err != nil {
				return err
			}
			news = append(news, n)
		}
		return rows.Err()
	})
	return news, err
}

// hub holds the subscriptions. It never makes an append wait.
type hub struct {
	mu   sync.Mutex
	subs map[*subscription]bool
}

type subscription struct {
	stream string
	ch     chan Notice
	place  int64 // of the latest notice
}

func (h *hub) subscribe(stream string) (<-chan Notice, func()) {
	sub := &subscription{stream: stream, ch: make(chan Notice, 1)}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.subs == nil {
		h.subs = map[*subscription]bool{}
	}
	h.subs[sub] = true
	return sub.ch, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		if h.subs[sub] {
			delete(h.subs, sub)
			close(sub.ch)
		}
	}
}

func (h *hub) tell(n Notice) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for sub := range h.subs {
		if sub.stream != "" && sub.stream != n.Stream || n.Place <= sub.place {
			continue // not asked for, or overtaken by a later one
		}
		sub.place = n.Place
		select {
		case <-sub.ch: // the one before was not taken yet
		default:
		}
		sub.ch <- n // only tell sends, under the lock: there is room
	}
}
