package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"chargewright/prediction"
)

// risk is the table of issue risk 1: operating points over prior draws of every
// fault in every hook-up, each started twice.
type risk struct {
	draws, failed, disagree, folds int
	newton, duty                   int
	byFault, bySetup               map[string]*riskRow
}

type riskRow struct{ draws, failed, disagree, folds int }

// solverRisk draws n operating points, spread evenly over faults and setups.
func solverRisk(w *world, n int, seed uint64) (*risk, error) {
	asked, names, err := w.setups()
	if err != nil {
		return nil, err
	}
	hyps := w.faultList()
	cells := len(hyps) * len(asked)
	each := max(1, n/cells)
	var mu sync.Mutex
	total := &risk{byFault: map[string]*riskRow{}, bySetup: map[string]*riskRow{}}
	var wg sync.WaitGroup
	cpus := runtime.GOMAXPROCS(0)
	for g := range cpus {
		wg.Go(func() {
			r := riskRun{w: w, asked: asked, names: names, a: w.model.NewWorker(), b: w.model.NewWorker(), out: risk{byFault: map[string]*riskRow{}, bySetup: map[string]*riskRow{}}}
			r.a.CountRoots()
			for hi := g; hi < len(hyps); hi += cpus {
				r.hypothesis(hyps[hi], each, seed)
			}
			mu.Lock()
			defer mu.Unlock()
			total.merge(&r.out)
		})
	}
	wg.Wait()
	return total, nil
}

func (w *world) faultList() [][]int {
	out := [][]int{nil}
	for i, f := range w.sys.Faults {
		if !f.Outside {
			out = append(out, []int{i})
		}
	}
	return out
}

type riskRun struct {
	w     *world
	asked []*prediction.Asked
	names []string
	a, b  *prediction.Worker
	out   risk
}

func (r *riskRun) hypothesis(faults []int, each int, seed uint64) {
	id := "no-fault"
	if len(faults) > 0 {
		id = r.w.sys.Faults[faults[0]].ID
	}
	z := make([]float64, r.w.model.Dims())
	for s, a := range r.asked {
		rng := rand.New(rand.NewPCG(seed, uint64(len(id))<<32^uint64(s)*7919^hash(id)))
		for range each {
			comp := r.w.draw(rng, faults, z)
			r.point(id, r.names[s], a, prediction.Hypothesis{Faults: faults}, comp, z)
		}
	}
}

// point solves once cold and once from where another draw ended.
func (r *riskRun) point(fault, setup string, a *prediction.Asked, h prediction.Hypothesis, comp prediction.Component, z []float64) {
	f, s := row(r.out.byFault, fault), row(r.out.bySetup, setup)
	r.a.Begin()
	r.a.Hold(h, comp, z)
	before := r.a.Work()
	errA := r.a.Solve(a)
	r.out.newton += r.a.Work().Newton - before.Newton
	r.out.duty += r.a.Work().DutyEvals - before.DutyEvals
	// The other start: warm, as in a fit, from another draw of the same fault.
	other := make([]float64, len(z))
	for i := range other {
		other[i] = 0.7 * z[(i+7)%len(z)]
	}
	r.b.Begin()
	r.b.Hold(h, comp, other)
	_ = r.b.Solve(a)
	r.b.Hold(h, comp, z)
	errB := r.b.Solve(a)
	r.out.draws++
	f.draws++
	s.draws++
	if errA != nil || errB != nil {
		r.out.failed++
		f.failed++
		s.failed++
		return
	}
	if sh := r.a.Sheet(); sh.Roots > 1 {
		r.out.folds++
		f.folds++
		s.folds++
	}
	worst := 0.0
	for i := range a.Probes {
		va, vb := r.a.Read(&a.Probes[i], nil), r.b.Read(&a.Probes[i], nil)
		worst = math.Max(worst, math.Abs(va-vb)/(1+math.Abs(va)))
	}
	if worst > 1e-6 {
		r.out.disagree++
		f.disagree++
		s.disagree++
	}
}

func hash(s string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(s) {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return h
}

func row(m map[string]*riskRow, k string) *riskRow {
	if m[k] == nil {
		m[k] = &riskRow{}
	}
	return m[k]
}

func (r *risk) merge(o *risk) {
	r.draws += o.draws
	r.failed += o.failed
	r.disagree += o.disagree
	r.folds += o.folds
	r.newton += o.newton
	r.duty += o.duty
	for _, p := range []struct{ to, from map[string]*riskRow }{{r.byFault, o.byFault}, {r.bySetup, o.bySetup}} {
		for k, v := range p.from {
			t := row(p.to, k)
			t.draws += v.draws
			t.failed += v.failed
			t.disagree += v.disagree
			t.folds += v.folds
		}
	}
}

func (r *risk) print(out io.Writer) {
	fmt.Fprintf(out, "%d operating points, two starts each: %d without solution, %d where the starts disagree: %.2g of all (bar 1e-3).\n",
		r.draws, r.failed, r.disagree, float64(r.failed+r.disagree)/float64(r.draws))
	fmt.Fprintf(out, "Several roots (fold) in %d; the largest duty is taken. Cold start: %.1f Newton iterations, %.1f duty values on average.\n\n",
		r.folds, float64(r.newton)/float64(r.draws), float64(r.duty)/float64(r.draws))
	for _, t := range []struct {
		name string
		m    map[string]*riskRow
	}{{"fault", r.byFault}, {"hook-up (named by a procedure)", r.bySetup}} {
		fmt.Fprintf(out, "| %s | draws | no solution | disagree | several roots |\n|---|---|---|---|---|\n", t.name)
		var keys []string
		for k, v := range t.m {
			if v.failed+v.disagree+v.folds > 0 {
				keys = append(keys, k)
			}
		}
		slices.Sort(keys)
		for _, k := range keys {
			v := t.m[k]
			fmt.Fprintf(out, "| %s | %d | %d | %d | %d |\n", k, v.draws, v.failed, v.disagree, v.folds)
		}
		fmt.Fprintf(out, "| the other %d | | 0 | 0 | 0 |\n\n", len(t.m)-len(keys))
	}
}
