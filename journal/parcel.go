package journal

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"time"
	"unicode/utf8"

	"chargewright/job"
)

// Streams that are no job's: the workshop's own systems, its instruments, and
// what was done to people's accounts. No job has their names.
const (
	Systems     = "systems"
	Instruments = "instruments"
	People      = "people"
)

// reserved says whether a stream is no job's by its name.
func reserved(stream string) bool {
	return stream == Systems || stream == Instruments || stream == People
}

// jobStream is how a job's stream may be named that goes to another workshop: it
// stands in addresses there.
var jobStream = regexp.MustCompile(`^[0-9A-Za-z][0-9A-Za-z._-]{0,99}$`)

// Parcel is one job with all that it takes to read it elsewhere: its events as
// they are stored, hashes and all, and the bytes that they pin.
type Parcel struct {
	Stream   string
	Written  time.Time
	Engine   string    // program that wrote it
	Customer *Customer // name, plate and contact; nil when they are not to go along
	contents map[Sum][]byte
	rows     []*stored
}

// Pack makes a parcel of a job. Name, plate and contact of the customer go along
// only when asked for: everything else holds his id alone.
func (s *Store) Pack(ctx context.Context, stream string, withCustomer bool, engine string) (*Parcel, error) {
	p := &Parcel{Stream: stream, Written: s.now(), Engine: engine, contents: map[Sum][]byte{}}
	err := s.db.Read(ctx, func(tx *sql.Tx) error {
		if _, err := one(ctx, tx, stream); err != nil {
			return err
		}
		if _, err := read(ctx, tx, stream, 0); err != nil { // what is broken is not handed on
			return err
		}
		err := each(ctx, tx, func(e *stored) error { p.rows = append(p.rows, e); return nil }, "WHERE stream = $1 ORDER BY seq", stream)
		if err != nil {
			return err
		}
		for _, e := range p.rows {
			if err := p.take(ctx, tx, e); err != nil {
				return err
			}
		}
		if !withCustomer {
			return nil
		}
		return p.takeCustomer(ctx, tx)
	})
	switch {
	case err != nil:
		return nil, err
	case job.Kind(p.rows[0].kind) != job.Opened || reserved(stream):
		return nil, fmt.Errorf("stream %s is no job", stream)
	case !jobStream.MatchString(stream):
		return nil, fmt.Errorf("the job's stream %q has a name that does not go into an address: it cannot be handed on", stream)
	}
	return p, nil
}

// take adds the content that an event pins.
func (p *Parcel) take(ctx context.Context, tx *sql.Tx, e *stored) error {
	sum, pins, err := pin(job.Kind(e.kind), e.body)
	if err != nil || !pins || p.contents[sum] != nil {
		return err
	}
	p.contents[sum], err = kept(ctx, tx, sum)
	return err
}

// takeCustomer adds the customer whom the opening names, where he is known and
// was not erased.
func (p *Parcel) takeCustomer(ctx context.Context, tx *sql.Tx) error {
	id := p.customerID()
	if id == "" {
		return nil
	}
	c, err := customer(ctx, tx, id)
	if err == nil && !c.Erased {
		p.Customer = &c
	}
	if errors.Is(err, ErrUnknown) {
		err = nil
	}
	return err
}

// customerID is the customer that the opening names; "" when it names none.
func (p *Parcel) customerID() string {
	var b job.OpenedBody
	if len(p.rows) == 0 || p.rows[0] == nil || json.Unmarshal(p.rows[0].body, &b) != nil {
		return ""
	}
	return b.Customer
}

// Events are the job's events.
func (p *Parcel) Events() ([]job.Event, error) {
	var out []job.Event
	for _, row := range p.rows {
		e, err := checked(row)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	return out, nil
}

// Content returns bytes that the job pins; nil when it pins none of that hash.
func (p *Parcel) Content(sum Sum) []byte { return p.contents[sum] }

// Last is the hash of the job's last event. It fixes the whole job.
func (p *Parcel) Last() Sum {
	var sum Sum
	copy(sum[:], p.rows[len(p.rows)-1].hash)
	return sum
}

// The lines of a parcel's file (docs/journal-format.md). Bytes stand as text
// where they are text.
type (
	headLine struct {
		Is      string `json:"chargewright"` // job
		Format  int    `json:"format"`
		Stream  string `json:"stream"`
		Events  int    `json:"events"`
		Hash    string `json:"hash"` // of the last event
		Written string `json:"written"`
		Engine  string `json:"engine"`
	}
	contentLine struct {
		SHA256 string  `json:"content"`
		Text   *string `json:"text,omitempty"`
		Base64 []byte  `json:"base64,omitempty"`
	}
	eventLine struct {
		Seq      int64   `json:"event"`
		ID       string  `json:"id"`
		Kind     string  `json:"kind"`
		V        int64   `json:"v"`
		Body     *string `json:"body,omitempty"`
		Base64   []byte  `json:"base64,omitempty"`
		At       string  `json:"at"`
		Recorded string  `json:"recorded"`
		Device   string  `json:"device"`
		Person   string  `json:"person"`
		Seen     int64   `json:"seen"`
		Engine   string  `json:"engine"`
		Prev     string  `json:"prev"`
		Hash     string  `json:"hash"`
	}
	customerLine struct {
		ID      string `json:"customer"`
		Name    string `json:"name"`
		Plate   string `json:"plate"`
		Contact string `json:"contact"`
	}
)

const (
	parcelIs     = "job"
	parcelFormat = 1
)

// Write writes the parcel as a file: a line of JSON for the job, then one for
// each content, each event and the customer.
func (p *Parcel) Write(w io.Writer) error {
	out := bufio.NewWriter(w)
	lines := json.NewEncoder(out)
	lines.SetEscapeHTML(false)
	var all []error
	put := func(line any) { all = append(all, lines.Encode(line)) }
	put(headLine{parcelIs, parcelFormat, p.Stream, len(p.rows), p.Last().String(), stamp(p.Written), p.Engine})
	sums := make([]Sum, 0, len(p.contents))
	for sum := range p.contents {
		sums = append(sums, sum)
	}
	slices.SortFunc(sums, func(a, b Sum) int { return slices.Compare(a[:], b[:]) })
	for _, sum := range sums {
		text, raw := asText(p.contents[sum])
		put(contentLine{sum.String(), text, raw})
	}
	for _, e := range p.rows {
		text, raw := asText(e.body)
		put(eventLine{
			Seq: e.seq, ID: e.id, Kind: e.kind, V: e.v, Body: text, Base64: raw, At: e.at, Recorded: e.recorded, Device: e.device,
			Person: e.person, Seen: e.seen, Engine: e.engine, Prev: Sum(e.prev).String(), Hash: Sum(e.hash).String(),
		})
	}
	if c := p.Customer; c != nil {
		put(customerLine{c.ID, c.Name, c.Plate, c.Contact})
	}
	return errors.Join(errors.Join(all...), out.Flush())
}

// asText is bytes as a text, or as they are where they are none.
func asText(b []byte) (*string, []byte) {
	if !utf8.Valid(b) {
		return nil, b
	}
	s := string(b)
	return &s, nil
}
