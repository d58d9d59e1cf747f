package drawing

import (
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Picture is a hook-up as SVG, with what a page wants to lay over it.
type Picture struct {
	SVG    string
	W, H   float64
	Points []Spot
}

// Picture draws a hook-up as Draw and SVG do, the same to the letter. It keeps what all
// jobs at this hook-up share, all but the letters of their causes, and the latest
// pictures as they were finished: a page is asked for again and again between readings.
func (s *Sheet) Picture(o Options) (Picture, error) {
	if err := s.known(o); err != nil {
		return Picture{}, err
	}
	key := o.hookUp()
	whole := key + fmt.Sprintf("%q%#v", o.Name, o.Causes)
	if p, ok := s.finished.get(whole); ok {
		return p, nil
	}
	kept, ok := s.laid.get(key)
	if !ok {
		kept = s.laidOut(o)
		kept.write()
		s.laid.put(key, kept)
	}
	sc := kept.again(o).finish()
	var b strings.Builder
	if err := sc.SVG(&b); err != nil {
		return Picture{}, err
	}
	p := Picture{b.String(), sc.W, sc.H, sc.Points}
	s.finished.put(whole, p)
	return p, nil
}

// hookUp is everything that a picture follows from on its sheet, but its name and the
// causes.
func (o Options) hookUp() string {
	now := Now{Stage: -1} // none
	if o.Now != nil {
		now = *o.Now
	}
	return fmt.Sprintf("%#v", []any{o.Rig, o.Leads, o.InTurn, o.Clamps, o.Series, now, o.Close})
}

// latest keeps what was wanted last, so many things and no more.
type latest[T any] struct {
	most int
	mu   sync.Mutex
	by   map[string]T
	used []string // the latest last
}

// mostLaid and mostFinished bound what is kept of one sheet: 66 kB each of what is laid
// out, up to 50 kB each of what is finished (measured).
const (
	mostLaid     = 64
	mostFinished = 16
)

func newLatest[T any](most int) *latest[T] { return &latest[T]{most: most, by: map[string]T{}} }

func (m *latest[T]) get(key string) (x T, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if x, ok = m.by[key]; ok {
		i := slices.Index(m.used, key)
		m.used = append(slices.Delete(m.used, i, i+1), key)
	}
	return x, ok
}

func (m *latest[T]) put(key string, x T) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if _, there := m.by[key]; !there { // two may have drawn the same at once
		m.used = append(m.used, key)
	}
	m.by[key] = x
	if len(m.used) > m.most {
		delete(m.by, m.used[0])
		m.used = slices.Delete(m.used, 0, 1)
	}
}

// write turns what was painted so far into SVG, which takes a tenth of the room.
func (o *overlay) write() {
	for _, g := range o.sc.Groups {
		var b strings.Builder
		for _, it := range g.Items {
			it.svg(&b)
		}
		g.written, g.Items = g.written+b.String(), nil
	}
}

// again is the same laid out for another job: what is added to it leaves the kept one
// as it is.
func (o *overlay) again(as Options) *overlay {
	out, sc, f := *o, *o.sc, *o.f
	out.sc, out.f, out.o = &sc, &f, as
	sc.Name = orElse(as.Name, "drawing")
	sc.Groups = nil
	for _, g := range o.sc.Groups {
		twin := *g
		twin.Items = slices.Clone(g.Items)
		sc.Groups = append(sc.Groups, &twin)
	}
	sc.Labels = slices.Clip(sc.Labels)
	f.boxes, f.lines, f.cables = slices.Clone(f.boxes), slices.Clip(f.lines), slices.Clip(f.cables)
	out.labels = slices.Clone(o.labels)
	return &out
}
