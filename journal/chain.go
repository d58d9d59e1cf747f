package journal

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
	"time"

	"chargewright/job"
)

// Sum is a SHA-256.
type Sum [sha256.Size]byte

func (s Sum) String() string { return hex.EncodeToString(s[:]) }

// ParseSum reads a sum as String writes it.
func ParseSum(text string) (Sum, error) {
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != sha256.Size {
		return Sum{}, fmt.Errorf("%q is no hash: write its %d digits 0-9 and a-f", text, 2*sha256.Size)
	}
	return Sum(b), nil
}

// What a hash is of; a change of the encoding changes the text.
const (
	eventTag = "chargewright journal event 1\n"
	headTag  = "chargewright journal head 1\n"
)

// stored is an event as its row holds it: times are text, so that what is
// hashed is what is stored.
type stored struct {
	place            int64
	stream           string
	seq              int64
	id, kind         string
	v                int64
	body             []byte
	at, recorded     string
	device, person   string
	seen             int64
	engine           string
	prev, hash, head []byte
}

// sum hashes the event with the hash before it. Every field of changing length
// has its length before it, so that no two events are the same bytes.
func (e *stored) sum() Sum {
	h := sha256.New()
	h.Write([]byte(eventTag))
	h.Write(e.prev)
	text(h, e.stream)
	number(h, e.seq)
	text(h, e.id)
	text(h, e.kind)
	number(h, e.v)
	text(h, string(e.body))
	text(h, e.at)
	text(h, e.recorded)
	text(h, e.device)
	text(h, e.person)
	number(h, e.seen)
	text(h, e.engine)
	return Sum(h.Sum(nil))
}

// headAfter is the hash of the whole journal after an event: it fixes every
// event so far and the order in which they arrived.
func headAfter(before []byte, place int64, event []byte) Sum {
	h := sha256.New()
	h.Write([]byte(headTag))
	h.Write(before)
	number(h, place)
	h.Write(event)
	return Sum(h.Sum(nil))
}

func number(h hash.Hash, n int64) {
	h.Write(binary.BigEndian.AppendUint64(nil, uint64(n)))
}

func text(h hash.Hash, s string) {
	number(h, int64(len(s)))
	h.Write([]byte(s))
}

// stamp writes a time as it is stored; "" when there is none.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339Nano)
}

func unstamp(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	return time.Parse(time.RFC3339Nano, s)
}

// toStored is the row of an event that has its place.
func toStored(e *job.Event, place int64, prev, head []byte) *stored {
	row := &stored{
		place: place, stream: e.Stream, seq: int64(e.Seq), id: e.ID, kind: string(e.Kind), v: int64(e.V), body: e.Body,
		at: stamp(e.At), recorded: stamp(e.Recorded), device: e.Device, person: e.Person, seen: int64(e.Seen), engine: e.Engine,
		prev: prev,
	}
	sum := row.sum()
	row.hash = sum[:]
	after := headAfter(head, place, row.hash)
	row.head = after[:]
	return row
}

// event is the row's event; the times are those that the text says.
func (e *stored) event() (job.Event, error) {
	at, err := unstamp(e.at)
	if err != nil {
		return job.Event{}, err
	}
	recorded, err := unstamp(e.recorded)
	return job.Event{
		ID: e.id, Stream: e.stream, Seq: int(e.seq), Kind: job.Kind(e.kind), V: int(e.v), Body: e.body,
		At: at, Recorded: recorded, Device: e.device, Person: e.person, Seen: int(e.seen), Engine: e.engine,
	}, err
}
