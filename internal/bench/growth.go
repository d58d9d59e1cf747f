package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"time"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/system"
)

// grown is what an update and a next step take on a vehicle of some size.
type grown struct {
	size         int           // of what is grown
	update, next time.Duration // processor time
	newton       int           // iterations of the update
}

// Sizes of the three series. The smallest vehicle of the library has more nodes
// than the 20 that the smallest drawing would need.
var (
	nodeSizes       = []int{0, 80, 160, 320} // 0 is the vehicle as it is
	hypothesisSizes = []int{50, 100, 200, 400, 800, 1600}
	readingSizes    = []int{1, 2, 5, 10, 20, 40}
)

const (
	growthReadings = 2  // before an update, where readings are not what is grown
	growthSeed     = 31 // of the vehicle
	growthFault    = "feed-joint-bulkhead-a"
)

// growth measures how an update and the next step grow with nodes, hypotheses and
// readings. Vehicles are made longer by cutting the charge wire into pieces, and richer
// in hypotheses by giving faults twins of the same effect under other names, which
// share their rate.
func (w *world) growth(out io.Writer) error {
	series := []struct {
		name  string
		sizes []int
		of    func(size int) (*world, int, int, error) // world, size reached, readings
	}{
		{"nodes", nodeSizes, func(n int) (*world, int, int, error) {
			g, err := w.resized(func(s *system.System, _ *system.Practice) { lengthen(s, n) })
			if err != nil {
				return nil, 0, 0, err
			}
			return g, len(g.sys.Points), growthReadings, nil
		}},
		{"hypotheses", hypothesisSizes, func(n int) (*world, int, int, error) {
			g, err := w.resized(func(s *system.System, p *system.Practice) { multiply(s, p, n) })
			return g, n, growthReadings, err
		}},
		{"readings", readingSizes, func(n int) (*world, int, int, error) { return w, n, n, nil }},
	}
	for _, s := range series {
		fmt.Fprintf(out, "| %s | update, processor ms | next step, processor ms | Newton iterations of the update |\n|---|---|---|---|\n", s.name)
		var rows []grown
		for _, size := range s.sizes {
			g, reached, readings, err := s.of(size)
			if err != nil {
				return fmt.Errorf("%s %d: %w", s.name, size, err)
			}
			r, err := g.once(readings)
			if err != nil {
				return fmt.Errorf("%s %d: %w", s.name, size, err)
			}
			r.size = reached
			rows = append(rows, r)
			fmt.Fprintf(out, "| %d | %.0f | %.0f | %d |\n", r.size, millis(r.update), millis(r.next), r.newton)
		}
		fmt.Fprintf(out, "\nExponents over %s: update %.2f, next step %.2f.\n\n", s.name,
			exponent(rows, func(r grown) time.Duration { return r.update }), exponent(rows, func(r grown) time.Duration { return r.next }))
	}
	return nil
}

func millis(d time.Duration) float64 { return 1000 * d.Seconds() }

// exponent is the slope of the least squares line through the logarithms.
func exponent(rows []grown, of func(grown) time.Duration) float64 {
	var n, sx, sy, sxx, sxy float64
	for _, r := range rows {
		x, y := math.Log(float64(r.size)), math.Log(of(r).Seconds())
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx)
}

// once reads a vehicle and times the last update and the next step after it. The
// first of two rounds warms what a workshop's second job would find.
func (w *world) once(readings int) (r grown, err error) {
	fault := slices.IndexFunc(w.sys.Faults, func(f system.Fault) bool { return f.ID == growthFault })
	asked, err := w.growthSteps(readings)
	if err != nil {
		return r, err
	}
	for range 2 {
		c := w.special([]int{fault}, growthSeed)
		b, err := diagnosis.Begin(w.prior)
		if err != nil {
			return r, err
		}
		done := map[string]int{}
		var rig question.Setup
		for i, q := range asked {
			values, err := w.answer(c, q, 0, done[q.Procedure])
			if err != nil {
				return r, err
			}
			before := cpu()
			if b, err = b.With(question.Reading{ID: fmt.Sprint("r", i+1), Question: q, Values: values}); err != nil {
				return r, err
			}
			r.update, r.newton = cpu()-before, b.Work.Newton
			done[q.Procedure]++
			rig = q.Setup
		}
		before := cpu()
		if _, err := planning.NewPlanner(w.board).Next(planning.State{Belief: b, Rig: rig.Rig, Moved: true, Done: done, Barred: w.barred()}); err != nil {
			return r, err
		}
		r.next = cpu() - before
	}
	return r, nil
}

// growthSteps are the first measuring steps of the clamp order, over and over.
func (w *world) growthSteps(n int) ([]question.Question, error) {
	var steps []question.Question
	for _, id := range w.prac.Orders["clamp"].Steps {
		i := slices.IndexFunc(w.board.Procs, func(p *question.Procedure) bool { return p.ID == id })
		if i < 0 || w.board.Procs[i].Look != nil || w.barred()[id] {
			continue
		}
		way, err := w.board.Way(w.sys.Rig.Rest, i)
		if err != nil {
			return nil, err
		}
		q := w.board.Question(i, question.Setup{})
		q.Setup.Rig = way.Final
		steps = append(steps, q)
	}
	out := make([]question.Question, n)
	for i := range out {
		out[i] = steps[i%len(steps)]
	}
	return out, nil
}

// resized is a world whose vehicle was changed.
func (w *world) resized(change func(*system.System, *system.Practice)) (*world, error) {
	s, p := *w.sys, *w.prac
	s.Points, s.Elements, s.Faults = slices.Clone(s.Points), slices.Clone(s.Elements), slices.Clone(s.Faults)
	p.Rates = maps.Clone(p.Rates)
	change(&s, &p)
	return worldOf(&s, &p)
}

// lengthen cuts the charge wire until the vehicle has so many points: wires and the
// joints between them in turn.
func lengthen(s *system.System, points int) {
	i := slices.IndexFunc(s.Elements, func(e system.Element) bool { return e.ID == "w-charge" })
	joint := s.Elements[slices.IndexFunc(s.Elements, func(e system.Element) bool { return e.ID == "j-stud" })]
	extra := points - len(s.Points)
	if extra <= 0 {
		return
	}
	wire := s.Elements[i]
	last := wire.To
	wire.Median /= float64(1 + extra/2)
	wire.Length /= float64(1 + extra/2)
	s.Elements[i] = wire
	at := &s.Elements[i].To
	for k := range extra {
		p := fmt.Sprint("cut-", k+1)
		s.Points = append(s.Points, system.Point{ID: p, Name: p})
		*at = p
		next := joint
		if k%2 == 1 {
			next = wire
		}
		next.ID, next.From, next.To = fmt.Sprint("piece-", k+1), p, last
		s.Elements = append(s.Elements, next)
		at = &s.Elements[len(s.Elements)-1].To
	}
}

// multiply leaves so many faults on the list, or gives them twins until there are so
// many.
func multiply(s *system.System, p *system.Practice, n int) {
	var list, outside []system.Fault
	for _, f := range s.Faults {
		if f.Outside {
			outside = append(outside, f)
			continue
		}
		list = append(list, f)
	}
	base := len(list)
	at := slices.IndexFunc(list, func(f system.Fault) bool { return f.ID == growthFault })
	list[0], list[at] = list[at], list[0] // it stays however few are left
	twins := float64(max(1, n/base))
	for k := base; k < n; k++ {
		f := list[k%base]
		f.ID = fmt.Sprint(f.ID, "-", k/base)
		list = append(list, f)
		r := p.Rates[list[k%base].ID]
		r.Rate /= twins
		p.Rates[f.ID] = r
	}
	for _, f := range list[:min(base, n)] {
		r := p.Rates[f.ID]
		r.Rate /= twins
		p.Rates[f.ID] = r
	}
	s.Faults = append(list[:n:n], outside...)
}
