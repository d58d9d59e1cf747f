package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"sync"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/question"
	"chargewright/truth"
)

// stressCases are the vehicles of the other physics, from their stored ngspice
// runs.
func (w *world) stressCases(path string) ([]*hiddenCase, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	f, err := truth.ParseFixture(data)
	if err != nil {
		return nil, err
	}
	var out []*hiddenCase
	for k := range f.Vehicles {
		s, err := f.Stored(w.model, k)
		if err != nil {
			return nil, err
		}
		c := &hiddenCase{number: k, seed: 7_000_000 + uint64(k), vehicle: s.Vehicle, cache: map[string][]question.Value{}}
		s.Looks = truth.Looks{Procedures: w.procs, Seed: c.seed}
		c.answer, c.fixed = s, true
		for _, i := range s.Vehicle.Fault.Faults {
			if w.sys.Faults[i].Outside {
				c.outside = true
				continue
			}
			if r := w.sys.Faults[i].Repair; !slices.Contains(c.repairs, r) {
				c.repairs = append(c.repairs, r)
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// look takes readings that the planner asks for, without repairing, until it
// would stop or the number is reached, and returns where that left the belief.
func (w *world) look(c *hiddenCase, p *planning.Planner, most int) (diagnosis.Belief, error) {
	b, err := diagnosis.Begin(w.prior)
	if err != nil {
		return b, err
	}
	st := planning.State{Belief: b, Rig: w.sys.Rig.Rest, Done: map[string]int{}, Barred: w.barred()}
	var o outcome
	for range most {
		plan, err := p.Next(st)
		if err != nil {
			return b, err
		}
		if plan.Stop != nil || plan.Next[0].Procedure == nil {
			break
		}
		if err := w.take(c, &st, plan.Next[0], &o, true); err != nil {
			return b, err
		}
	}
	return st.Belief, nil
}

// special makes a case with given faults that show.
func (w *world) special(faults []int, seed uint64) *hiddenCase {
	rng := rand.New(rand.NewPCG(seed, 99))
	v := truth.Figures(rng, w.model, faults, truth.DrawOptions{})
	c := &hiddenCase{seed: seed, vehicle: v, cache: map[string][]question.Value{}}
	for _, f := range faults {
		c.outside = c.outside || w.sys.Faults[f].Outside
	}
	c.answer = w.vehicle(c)
	return c
}

// outsideFaults looks at vehicles whose fault is not on the list.
func (w *world) outsideFaults(out io.Writer, each int) error {
	var faults []int
	for i, f := range w.sys.Faults {
		if f.Outside {
			faults = append(faults, i)
		}
	}
	res := make([]told, len(faults))
	p := planning.NewPlanner(w.board)
	err := inPairs(len(faults)*each, func(k int) error {
		i, s := k/each, k%each
		b, err := w.look(w.special([]int{faults[i]}, uint64(500+s*100+i)), p, 12)
		if err != nil {
			return err
		}
		class, share := planning.Leading(&b)
		mu.Lock()
		defer mu.Unlock()
		res[i].tell(w.sys.Faults[faults[i]].ID, class, share, class == planning.BeyondClass || class == "")
		return nil
	})
	if err != nil {
		return err
	}
	var all told
	fmt.Fprintln(out, "| fault outside the list | vehicles | none-of-these, nothing found, or under a half | a cure that mends it | another, under 0.9 | a wrong cure above 0.9 |\n|---|---|---|---|---|---|")
	for i, r := range res {
		fmt.Fprintf(out, "| %s | %d | %d | %d | %d | %d |\n", w.sys.Faults[faults[i]].ID, each, r.open, r.mends, r.other, r.wrong)
		all.open, all.mends, all.other, all.wrong = all.open+r.open, all.mends+r.mends, all.other+r.other, all.wrong+r.wrong
	}
	n := float64(len(faults)*each) / 100
	fmt.Fprintf(out, "| **all** | %d | %.0f %% (bar 80 %%) | %.0f %% | %.0f %% | %.1f %% (bar 3 %%) |\n\n", len(faults)*each, float64(all.open)/n, float64(all.mends)/n, float64(all.other)/n, float64(all.wrong)/n)
	return nil
}

// randomPairs draws pairs of different faults of the list by their rates.
func (w *world) randomPairs(n int) (pairs [][]int, err error) {
	rng := rand.New(rand.NewPCG(20, 20))
	for len(pairs) < n {
		a, err := truth.Draw(rng, w.model, w.prac, truth.DrawOptions{})
		if err != nil {
			return nil, err
		}
		b, err := truth.Draw(rng, w.model, w.prac, truth.DrawOptions{})
		if err != nil {
			return nil, err
		}
		fa, fb := a.Fault.Faults, b.Fault.Faults
		if len(fa) == 1 && len(fb) == 1 && fa[0] != fb[0] && !w.sys.Faults[fa[0]].Outside && !w.sys.Faults[fb[0]].Outside {
			pairs = append(pairs, []int{min(fa[0], fb[0]), max(fa[0], fb[0])})
		}
	}
	return pairs, nil
}

// doubleFaults looks at vehicles with two independent faults.
func (w *world) doubleFaults(out io.Writer, n int) error {
	pairs, err := w.randomPairs(n)
	if err != nil {
		return err
	}
	p := planning.NewPlanner(w.board)
	var found, sure, both, one, astray, possible int
	lines := make([]string, n)
	err = inPairs(n, func(k int) error {
		b, err := w.walkedThrough(w.special(pairs[k], uint64(900+k)), p)
		if err != nil {
			return err
		}
		rank, single := pairRank(w, &b, pairs[k])
		asked := b.Considering(pairs[k][0], pairs[k][1])
		could, _ := pairRank(w, &asked, pairs[k])
		mu.Lock()
		defer mu.Unlock()
		if could > 0 && could <= 3 {
			possible++
		}
		if rank > 0 && rank <= 3 {
			found++
		} else if single > 0.9 {
			sure++
		}
		class, share := planning.Leading(&b)
		named := w.named(pairs[k], class)
		switch {
		case named == "both":
			both++
		case named == "one":
			one++
		case share > 0.9:
			astray++
		}
		lines[k] = fmt.Sprintf("| %s + %s | %s | %s | %.2g | %.2f | %s | %.2f |", w.sys.Faults[pairs[k][0]].ID, w.sys.Faults[pairs[k][1]].ID, rankWord(rank), rankWord(could), shareOf(w, &asked, pairs[k]), single, named, share)
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintln(out, "| two faults at once | rank of the pair among pairs | its rank when it is weighed in any case | its share then | likeliest single | of the two cures the leading one names | its share |\n|---|---|---|---|---|---|---|")
	fmt.Fprintln(out, strings.Join(lines, "\n"))
	fmt.Fprintf(out, "\nThe cure in front is that of both in %d, of one of the two and nothing else in %d, of something else above 0.9 in %d of %d.\n", both, one, astray, n)
	fmt.Fprintf(out, "\nWeighed in any case, the true pair would be among the first three in %d of %d: in the others the readings themselves speak for something else.\n", possible, n)
	fmt.Fprintf(out, "\nThe true pair is among the first three pairs in %d of %d (bar 70 %%); a single above 0.9 in %d of the others (bar none).\n\n", found, n, sure)
	return nil
}

// named says which of a pair's cures a class names: both, one and nothing else,
// or something else.
func (w *world) named(pair []int, class string) string {
	want := map[string]bool{}
	for _, f := range pair {
		want[w.sys.Faults[f].Repair] = true
	}
	hits, others := 0, 0
	for _, r := range planning.SplitClass(class) {
		if want[r] {
			hits++
		} else {
			others++
		}
	}
	switch {
	case others > 0 || hits == 0:
		return "something else"
	case hits == len(want):
		return "both"
	}
	return "one"
}

func rankWord(r int) string {
	if r == 0 {
		return "not weighed"
	}
	return fmt.Sprint(r)
}

// pairSteps is how many steps of the clamp order are read on a vehicle with two
// faults: all that need no bypass lead and no walk along the joints.
const pairSteps = 20

// walkedThrough takes the first steps of the clamp order whatever they say and
// weighs them together: a planner would stop at the first fault, have it mended
// and find the second in the proof.
func (w *world) walkedThrough(c *hiddenCase, p *planning.Planner) (diagnosis.Belief, error) {
	b, err := diagnosis.Begin(w.prior)
	if err != nil {
		return b, err
	}
	st := planning.State{Belief: b, Rig: w.sys.Rig.Rest, Done: map[string]int{}, Barred: w.barred()}
	order := p.Ordered(w.prac.Orders["clamp"].Steps[:pairSteps], 2) // no share stops it
	var o outcome
	for range pairSteps {
		s, err := order(st)
		if err != nil || s.Procedure == nil {
			break
		}
		if err := w.take(c, &st, s, &o, false); err != nil {
			return b, err
		}
	}
	return b.WithAll(context.Background(), st.Belief.Readings)
}

// pairShares is the share of each pair by name.
func pairShares(b *diagnosis.Belief) map[string]float64 {
	share := map[string]float64{}
	for i, h := range b.Hyps {
		if len(h.Faults) == 2 {
			share[b.Name(i)] += b.Posterior(i)
		}
	}
	return share
}

// shareOf is the share of a pair, in whichever order it stands.
func shareOf(w *world, b *diagnosis.Belief, pair []int) float64 {
	share := pairShares(b)
	x, y := w.sys.Faults[pair[0]].ID, w.sys.Faults[pair[1]].ID
	return max(share[x+"+"+y], share[y+"+"+x])
}

// pairRank is the place of a pair among all pairs, 0 where it was not weighed,
// and the likeliest single's share.
func pairRank(w *world, b *diagnosis.Belief, pair []int) (rank int, single float64) {
	for i, h := range b.Hyps {
		if len(h.Faults) == 1 {
			single = max(single, b.Posterior(i))
		}
	}
	share := pairShares(b)
	x, y := w.sys.Faults[pair[0]].ID, w.sys.Faults[pair[1]].ID
	if _, ok := share[x+"+"+y]; !ok {
		if _, ok := share[y+"+"+x]; !ok {
			return 0, single
		}
	}
	mine := shareOf(w, b, pair)
	rank = 1
	for _, v := range share {
		if v > mine {
			rank++
		}
	}
	return rank, single
}

var mu sync.Mutex

// inPairs runs do for 0..n-1 on two goroutines and returns the first problem.
func inPairs(n int, do func(int) error) error {
	next := make(chan int)
	errs := make(chan error, 2)
	for range 2 {
		go func() {
			var first error
			for k := range next {
				if err := do(k); err != nil && first == nil {
					first = err
				}
			}
			errs <- first
		}()
	}
	for k := range n {
		next <- k
	}
	close(next)
	a, b := <-errs, <-errs
	if a != nil {
		return a
	}
	return b
}
