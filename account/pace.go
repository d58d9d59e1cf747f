package account

import (
	"fmt"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
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
	mostKeys     = 20_000
)

// pace limits sign-ins. It stands in memory: starting the program anew is not in
// a guesser's hand.
type pace struct {
	mu   *sync.Mutex
	keys map[string]*rate.Limiter
}

func newPace() pace { return pace{&sync.Mutex{}, map[string]*rate.Limiter{}} }

// allow takes one try of a name from an address, or from a device that is known
// for it; nil or a *Wait.
func (p pace) allow(now time.Time, name, address, device string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if device != "" {
		return p.take(now, "d"+device, deviceEvery, deviceBurst)
	}
	// The tightest comes first: what it refuses takes nothing from the others.
	if err := p.take(now, pair(name, address), pairEvery, pairBurst); err != nil {
		return err
	}
	if err := p.take(now, "a"+network(address), addressEvery, addressBurst); err != nil {
		return err
	}
	return p.take(now, "n"+string(tokenHash(name)), nameEvery, nameBurst)
}

func pair(name, address string) string { return "p" + network(address) + " " + string(tokenHash(name)) }

// forget lets a device and a name begin anew, after a sign-in that was right.
func (p pace) forget(name, address, device string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.keys, "d"+device)
	delete(p.keys, pair(name, address))
	delete(p.keys, "n"+string(tokenHash(name)))
}

func (p pace) take(now time.Time, key string, every time.Duration, burst int) error {
	l := p.keys[key]
	if l == nil {
		p.makeRoom(now)
		l = rate.NewLimiter(rate.Every(every), burst)
		p.keys[key] = l
	}
	r := l.ReserveN(now, 1)
	if wait := r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
		return &Wait{For: wait}
	}
	return nil
}

// makeRoom bounds the memory: first go those that limit nobody, then, when that
// is not enough, any.
func (p pace) makeRoom(now time.Time) {
	if len(p.keys) < mostKeys {
		return
	}
	for key, l := range p.keys {
		if l.TokensAt(now) >= float64(l.Burst()) {
			delete(p.keys, key)
		}
	}
	for key := range p.keys { // a quarter at a time, since looking at all of them is work
		if len(p.keys) < mostKeys/4*3 {
			return
		}
		delete(p.keys, key)
	}
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
