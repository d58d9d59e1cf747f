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

// Picture draws a hook-up as Draw and SVG do, the same to the letter, and keeps what
// all jobs at this hook-up share: all but the letters of their causes.
func (s *Sheet) Picture(o Options) (Picture, error) {
	if err := s.known(o); err != nil {
		return Picture{}, err
	}
	key := o.hookUp()
	kept := s.laid.get(key)
	if kept == nil {
		kept = s.laidOut(o)
		kept.write()
		s.laid.put(key, kept)
	}
	sc := kept.again(o).finish()
	var b strings.Builder
	if err := sc.SVG(&b); err != nil {
		return Picture{}, err
	}
	return Picture{b.String(), sc.W, sc.H, sc.Points}, nil
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

// laidHookUps are the latest hook-ups that were laid out on a sheet.
type laidHookUps struct {
	mu   sync.Mutex
	by   map[string]*overlay
	used []string // the latest last
}

// mostLaid bounds what is kept of one sheet: 66 kB each (measured).
const mostLaid = 64

func (m *laidHookUps) get(key string) *overlay {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.by[key] == nil {
		return nil
	}
	i := slices.Index(m.used, key)
	m.used = append(slices.Delete(m.used, i, i+1), key)
	return m.by[key]
}

func (m *laidHookUps) put(key string, o *overlay) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.by == nil {
		m.by = map[string]*overlay{}
	}
	if m.by[key] == nil { // two may have drawn the same at once
		m.used = append(m.used, key)
	}
	m.by[key] = o
	if len(m.used) > mostLaid {
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
