package journal

import (
	"bytes"
	"crypto/sha256"

	"chargewright/job"
)

// whole holds the lines against each other: the chain, what events pin, and what
// the first line says of all.
func (r *unpacking) whole() {
	p := r.p
	if len(p.rows) == 0 {
		r.say(1, "", "it holds no event: export the job again")
		return
	}
	if n := len(p.rows); n != r.top.Events {
		r.say(1, "", "it says that the job has %d events, and it has %d: lines are missing or were added; export the job again", r.top.Events, n)
	}
	pinned := map[Sum]bool{}
	before := &stored{hash: make([]byte, sha256.Size)}
	for i, row := range p.rows {
		if row == nil { // said; its neighbours cannot be held against it
			before = nil
			continue
		}
		r.follows(i, before, row)
		r.pin(i, row, pinned)
		before = row
	}
	if first := p.rows[0]; first != nil && job.Kind(first.kind) != job.Opened {
		r.say(r.numbers[0], "", "a job begins with its opening; its first event is a %s", first.kind)
	}
	if before != nil && Sum(before.hash).String() != r.top.Hash {
		r.say(1, "", "it says that the last event has the hash %s, and it has %v: export the job again", r.top.Hash, Sum(before.hash))
	}
	for sum, line := range r.at {
		if !pinned[sum] {
			r.say(line, "", "no event names the content %v", sum)
		}
	}
	if p.Customer != nil && p.Customer.ID != p.customerID() {
		r.say(r.customer, "", "customer %s is not the one that the opening names", p.Customer.ID)
	}
}

// follows holds an event against the one before it; before is nil where that
// could not be read.
func (r *unpacking) follows(i int, before, row *stored) {
	line := r.numbers[i]
	if row.seq != int64(i+1) {
		r.say(line, "", "event %d stands where event %d is wanted", row.seq, i+1)
	}
	if before != nil && !bytes.Equal(row.prev, before.hash) {
		r.say(line, "", "it does not follow the event before it as that stands")
	}
	if sum := row.sum(); !bytes.Equal(sum[:], row.hash) {
		r.say(line, "", "it was changed after it was recorded: its hash is %v, not %v; export the job again", sum, Sum(row.hash))
	}
}

func (r *unpacking) pin(i int, row *stored, pinned map[Sum]bool) {
	sum, pins, err := pin(job.Kind(row.kind), row.body)
	switch {
	case err != nil:
		r.say(r.numbers[i], "", "%v", err)
	case pins && r.at[sum] == 0:
		r.say(r.numbers[i], "", "the content %v that it names is not in the file", sum)
	case pins:
		pinned[sum] = true
	}
}
