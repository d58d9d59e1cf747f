package drawing

import (
	"crypto/sha256"
	"encoding/binary"
	"slices"
	"sync"
)

// Where a meter and its leads go takes most of the time of a picture, and follows
// from the room that is left and the points alone: the same on every job that comes
// to the same hook-up. A sheet remembers it.
type foundLeads struct {
	mu sync.Mutex
	by map[[sha256.Size]byte]*meterPlace
}

// mostFound bounds what is remembered: hook-ups times widths, and then some.
const mostFound = 2048

// meterPlace is where a meter stands and its leads lie. It does not change.
type meterPlace struct {
	at    Pt
	free  bool // there was room
	leads []reached
}

func (m *foundLeads) get(key [sha256.Size]byte) *meterPlace {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.by[key]
}

func (m *foundLeads) put(key [sha256.Size]byte, p *meterPlace) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.by == nil || len(m.by) >= mostFound {
		m.by = map[[sha256.Size]byte]*meterPlace{}
	}
	m.by[key] = p
}

// key is everything that a meter's place follows from. What takes room counts
// whatever the order in which it came.
func (f *field) key(w, h float64, tips []Pt) [sha256.Size]byte {
	taking := make([]string, 0, len(f.boxes)+len(f.lines))
	for _, b := range f.boxes {
		taking = append(taking, string(bytesOf(b.mark, b.box)))
	}
	for _, l := range f.lines {
		taking = append(taking, string(bytesOf(l.weak, l.solid, l.a, l.b, l.half)))
	}
	slices.Sort(taking)
	sum := sha256.New()
	write := func(b []byte) { _, _ = sum.Write(b) } // a hash takes everything
	write(bytesOf(f.bounds, f.overEdges, w, h, int64(len(taking)), int64(len(f.cables)), tips))
	for _, x := range taking {
		write([]byte(x))
	}
	for _, c := range f.cables {
		write(bytesOf(int64(len(c)), c))
	}
	return [sha256.Size]byte(sum.Sum(nil))
}

func bytesOf(list ...any) []byte {
	var out []byte
	for _, x := range list {
		var err error
		if out, err = binary.Append(out, binary.LittleEndian, x); err != nil {
			panic(err) // every one of them has a fixed size
		}
	}
	return out
}
