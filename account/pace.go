package account

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/netip"
	"time"

	"chargewright/store"
)

// Wait is the refusal of a sign-in that comes too soon after others.
type Wait struct{ For time.Duration }

func (w *Wait) Error() string {
	return fmt.Sprintf("too many sign-ins were tried: wait %v, then try again", (w.For + time.Second - 1).Truncate(time.Second))
}

// How fast sign-ins may come (common practice; nobody mistypes a password more
// often in a row).
//
// A workshop signs in under one name, and behind a proxy from one address: a
// limit on either alone would let one device that guesses, or a wet thumb on
// one phone, lock out all the others. So a device that has signed in before has
// a pace of its own, which no other can use up: it shows a proof of that (see
// device.go). Strangers are held three ways at once. A name from one address is
// held tightest. A name from everywhere, and an address for all names, are held
// wider: what one address may try of one name, 120 an hour, never uses up the
// 360 an hour of the name, so that a stranger elsewhere shuts out nobody who
// comes from another address.
//
// A right sign-in gives back to its address what its own name has taken from it,
// slips of the thumb and all, so that a workshop of forty behind one proxy may come in
// at once in the morning. It never gives back what other names took: who has an
// account cannot clear the way for guesses at others by signing in between them.
// A share keeps the tries of a name from an address at the pace of the address;
// two buckets that leak each by themselves never hold more than one that takes
// both streams and leaks once, so an address less a share is never less than the
// other names alone would have left. What a guesser at the same address gains is
// the few tries at a name (pairBurst) whose holder then comes in from there
// without a proof, which that name's own pace forgets, too.
//
// What is left to a guesser with addresses without number is 20 tries and 360
// an hour on a name, three million a year, against passwords of 12 characters
// and more; each costs this machine a hash besides. What is left to lock: a
// device that has never signed in waits behind the same proxy as one that
// guesses.
const (
	pairBurst    = 5
	pairEvery    = 30 * time.Second
	nameBurst    = 20
	nameEvery    = 10 * time.Second
	addressBurst = 20
	addressEvery = 10 * time.Second
	deviceBurst  = 5
	deviceEvery  = 30 * time.Second

	// Asking for what a passkey signs is no try: this only bounds what one address
	// can have written down.
	askBurst = 20
	askEvery = 3 * time.Second
)

// pace limits sign-ins. It stands in the database, so that a guesser has no more
// tries with ten servers than with one, and none for starting the program anew.
type pace struct{ db *store.DB }

// limit is one way in which tries are held.
type limit struct {
	key   []byte
	every time.Duration
	burst int
}

func newLimit(kind, of string, every time.Duration, burst int) limit {
	return limit{tokenHash(kind + "\n" + of), every, burst}
}

func limits(name, address, device string) []limit {
	if device != "" {
		return []limit{newLimit("device", device, deviceEvery, deviceBurst)}
	}
	return []limit{
		newLimit("pair", network(address)+"\n"+name, pairEvery, pairBurst),
		newLimit("address", network(address), addressEvery, addressBurst),
		newLimit("name", name, nameEvery, nameBurst),
		share(name, address),
	}
}

// share is what a name has taken of its address. It holds nobody by itself: the
// address is never freer.
func share(name, address string) limit {
	return newLimit("share", network(address)+"\n"+name, addressEvery, addressBurst)
}

// allow takes one try of a name from an address, or from a device that is known
// for it; nil, a *Wait, or what is wrong with the database. A try that is refused
// takes nothing, and is refused without a write.
func (p pace) allow(ctx context.Context, now time.Time, name, address, device string) error {
	return p.take(ctx, now, limits(name, address, device))
}

// take takes one try of every limit.
func (p pace) take(ctx context.Context, now time.Time, all []limit) error {
	if err := p.db.Read(ctx, func(tx *sql.Tx) error { return taken(ctx, tx, now, all, nil) }); err != nil {
		return err
	}
	return p.db.Write(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM pace WHERE free <= $1", now.UnixMilli()); err != nil {
			return err
		}
		return taken(ctx, tx, now, all, func(l limit, free time.Time) error {
			_, err := tx.ExecContext(ctx, "INSERT INTO pace (key, free) VALUES ($1, $2) ON CONFLICT (key) DO UPDATE SET free = excluded.free", l.key, free.UnixMilli())
			return err
		})
	})
}

// taken says whether all limits let a try through, and writes what each is then.
// What is stored of a limit is when it would be free again: a row that is not
// there is free (a leaky bucket as ITU-T I.371 has it, virtual scheduling: memory).
func taken(ctx context.Context, tx *sql.Tx, now time.Time, all []limit, write func(limit, time.Time) error) error {
	then := make([]time.Time, len(all))
	for i, l := range all {
		ahead, err := aheadOf(ctx, tx, now, l)
		if err != nil {
			return err
		}
		if wait := ahead - time.Duration(l.burst-1)*l.every; wait > 0 {
			return &Wait{For: wait}
		}
		then[i] = now.Add(ahead + l.every)
	}
	if write == nil {
		return nil
	}
	for i, l := range all {
		if err := write(l, then[i]); err != nil {
			return err
		}
	}
	return nil
}

// aheadOf is how far the tries of a limit are ahead of its pace.
func aheadOf(ctx context.Context, tx *sql.Tx, now time.Time, l limit) (time.Duration, error) {
	var free int64
	err := tx.QueryRowContext(ctx, "SELECT free FROM pace WHERE key = $1", l.key).Scan(&free)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return max(0, time.UnixMilli(free).Sub(now)), err
}

// forget lets a device and a name begin anew, after a sign-in that was right, and
// gives the address back what the name took.
func (p pace) forget(ctx context.Context, now time.Time, name, address, device string) error {
	from, own := newLimit("address", network(address), addressEvery, addressBurst), share(name, address)
	return p.db.Write(ctx, func(tx *sql.Tx) error {
		all, err := aheadOf(ctx, tx, now, from)
		if err != nil {
			return err
		}
		taken, err := aheadOf(ctx, tx, now, own)
		if err != nil {
			return err
		}
		if taken > 0 {
			if _, err := tx.ExecContext(ctx, "UPDATE pace SET free = $2 WHERE key = $1", from.key, now.Add(all-taken).UnixMilli()); err != nil {
				return err
			}
		}
		for _, l := range []limit{newLimit("device", device, 0, 0), newLimit("pair", network(address)+"\n"+name, 0, 0), newLimit("name", name, 0, 0), own} {
			if _, err := tx.ExecContext(ctx, "DELETE FROM pace WHERE key = $1", l.key); err != nil {
				return err
			}
		}
		return nil
	})
}

// network is what counts as one address: of IPv6 the first 64 bits, since one
// device has them all to itself.
func network(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil {
		if ap, err := netip.ParseAddrPort(address); err == nil {
			a = ap.Addr()
		} else {
			return address
		}
	}
	a = a.Unmap().WithZone("")
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}
