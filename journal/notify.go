package journal

import "sync"

// Notice says that a stream has new events, up to Seq.
type Notice struct {
	Stream string
	Seq    int
	Place  int64 // in the whole journal
}

// Subscribe tells of new events of a stream, or of every stream for "", once
// they are on the disk. The channel holds the latest notice only: whoever is
// slow misses notices but not the last, and reads what is new from the journal.
// Events that another process appends are not told. cancel ends it and closes
// the channel.
func (s *Store) Subscribe(stream string) (notices <-chan Notice, cancel func()) {
	return s.hub.subscribe(stream)
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
