package drawing

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
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
	taking := make([]roomTaken, 0, len(f.boxes)+len(f.lines))
	for _, b := range f.boxes {
		taking = append(taking, roomTaken{'b', flag(b.mark), 0, b.box.X0, b.box.Y0, b.box.X1, b.box.Y1, 0})
	}
	for _, l := range f.lines {
		taking = append(taking, roomTaken{'l', flag(l.weak), flag(l.solid), l.a.X, l.a.Y, l.b.X, l.b.Y, l.half})
	}
	slices.SortFunc(taking, func(a, b roomTaken) int { return slices.Compare(a[:], b[:]) })
	bytes := make([]byte, 0, 64*(len(taking)+4))
	write := func(list ...float64) {
		for _, x := range list {
			bytes = binary.LittleEndian.AppendUint64(bytes, math.Float64bits(x))
		}
	}
	write(f.bounds.X0, f.bounds.Y0, f.bounds.X1, f.bounds.Y1, flag(f.overEdges), w, h, float64(len(taking)), float64(len(f.cables)), float64(len(tips)))
	for _, p := range tips {
		write(p.X, p.Y)
	}
	for i := range taking {
		write(taking[i][:]...)
	}
	for _, c := range f.cables {
		write(float64(len(c)))
		for _, p := range c {
			write(p.X, p.Y)
		}
	}
	return sha256.Sum256(bytes)
}

// roomTaken is a box or a line in numbers.
type roomTaken [8]float64

func flag(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
