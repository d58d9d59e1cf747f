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

// How fast sign-ins may come. A name's own are few, an address may stand for a
// whole workshop.
const (
	nameBurst    = 5
	nameEvery    = 30 * time.Second
	addressBurst = 20
	addressEvery = 10 * time.Second
	mostKeys     = 20_000
)

// pace limits sign-ins by name and by address. It stands in memory: starting the
// program anew is not in a guesser's hand.
type pace struct {
	mu   *sync.Mutex
	keys map[string]*rate.Limiter
}

func newPace() pace { return pace{&sync.Mutex{}, map[string]*rate.Limiter{}} }

// allow takes one try of a name from an address; nil or a *Wait.
func (p pace) allow(now time.Time, name, address string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.take(now, "a"+network(address), addressEvery, addressBurst); err != nil {
		return err
	}
	return p.take(now, "n"+string(tokenHash(name)), nameEvery, nameBurst)
}

// forget lets a name begin anew, after a sign-in that was right.
func (p pace) forget(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
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
