package planning

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"sync"
	"sync/atomic"

	"chargewright/diagnosis"
	"chargewright/prediction"
	"chargewright/question"
)

// Planner proposes steps for the jobs of one day on one system.
type Planner struct {
	Board *Board
	draws *draws
}

// maxValues is how many values one question may have in a forecast.
const maxValues = 8

// NewPlanner makes a planner for a board.
func NewPlanner(b *Board) *Planner {
	return &Planner{Board: b, draws: newDraws(b.Settings.Samples)}
}

// Scores is what every procedure would say of a belief: the part of a plan that
// does not hang on how the vehicle stands, and nearly all of its work.
type Scores struct {
	day     question.Setup
	barred  map[string]bool
	classes classes
	worths  []worth
	work    int
	Spent   diagnosis.Work // what the forecasts cost

	foreseen *foreseen // nil where nothing is rolled out
}

// Score works out what every procedure that may be done would say.
func (p *Planner) Score(s State) (*Scores, error) {
	bd := p.Board
	asked, err := bd.Ask(s.Setup)
	if err != nil {
		return nil, err
	}
	for i, proc := range bd.Procs {
		if s.Barred[proc.ID] {
			asked[i] = nil
		}
	}
	out := &Scores{day: s.Setup, barred: maps.Clone(s.Barred), classes: classify(&s.Belief)}
	s.Belief.Work = diagnosis.Work{} // s is ours: whoever asks keeps his own count
	forecast := s.Belief.Forecast(asked, bd.Settings.Least)
	out.Spent = s.Belief.Work
	out.worths, out.work = p.worths(&s.Belief, &out.classes, asked, forecast), len(forecast)
	if bd.Settings.Rollouts > 0 {
		out.foreseen = &foreseen{asked, forecast}
	}
	return out, nil
}

// Serve says whether scores of a belief hold for the same belief in another state
// as well: on the same day, where nothing may be done that could not be then.
func (sc *Scores) Serve(s State) bool {
	for id, no := range sc.barred {
		if no && !s.Barred[id] {
			return false
		}
	}
	return reflect.DeepEqual(sc.day, s.Setup)
}

// Next ranks what can be done now.
func (p *Planner) Next(s State) (Plan, error) {
	sc, err := p.Score(s)
	if err != nil {
		return Plan{}, err
	}
	return p.Rank(s, sc), nil
}

// Rank is Next where the scores are known.
func (p *Planner) Rank(s State, sc *Scores) Plan {
	c := &sc.classes
	wrong := suspectReadings(&s.Belief)
	tests := p.tests(s, sc, wrong)
	plan := Plan{Next: tests, Work: sc.work}
	stop := p.stop(s, c, tests)
	if sc.foreseen != nil {
		stop = p.rollOut(s, c, sc.foreseen, tests, stop)
	}
	repairs := p.repairs(s, c)
	if i := wrongFirst(wrong, tests); i >= 0 {
		again := tests[i]
		plan.Next = slices.Concat([]Step{again}, tests[:i], tests[i+1:], repairs)
		return plan
	}
	if stop != nil {
		plan.Stop = stop
		plan.Next = append([]Step{*stop}, tests...)
		return plan
	}
	plan.Next = append(plan.Next, repairs...)
	if len(tests) == 0 && len(repairs) == 0 {
		plan.Stop = &Step{Do: Beyond, Why: "no test that can be done here would say more"}
		plan.Next = []Step{*plan.Stop}
	}
	return plan
}

// Policy is the planner as a policy.
func (p *Planner) Policy(s State) (Step, error) {
	plan, err := p.Next(s)
	if err != nil {
		return Step{}, err
	}
	if plan.Stop != nil {
		return *plan.Stop, nil
	}
	return plan.Next[0], nil
}

// foreseen is what the tests were scored by: the questions, and what every fit says
// to each.
type foreseen struct {
	asked    []*prediction.Asked
	forecast [][]diagnosis.Joint
}

// tests are the procedures that can be done and would say something.
func (p *Planner) tests(s State, sc *Scores, wrong map[string]float64) []Step {
	bd, worths := p.Board, sc.worths
	var out []Step
	for i, proc := range bd.Procs {
		if s.Barred[proc.ID] {
			continue
		}
		st := Step{Do: Test, Procedure: proc}
		st.Bits = worths[i].bits
		if bd.looks[i] != nil {
			st.Do = Look
		}
		n := s.Done[proc.ID]
		if st.Bits < bd.Settings.Useful && (n != 1 || wrong[proc.ID] < surelyWrong) || !p.price(&st, s, i) {
			continue
		}
		if n > 0 {
			if n >= mostTimes || bd.looks[i] != nil {
				continue
			}
			if wrong[proc.ID] > doubtful && n == 1 {
				st.Do = Repeat
			} else {
				st.Rank *= math.Pow(bd.Settings.Again, float64(n))
			}
		}
		st.Separates = worths[i].separates
		st.Why = p.why(&st)
		out = append(out, st)
	}
	sortSteps(out)
	return out
}

// worth is what a procedure would say, in bits, and which two cures it would tell
// apart best.
type worth struct {
	bits      float64
	separates []string
}

// worths looks at all procedures, on the configured number of goroutines; each
// depends on its own procedure alone.
func (p *Planner) worths(b *diagnosis.Belief, c *classes, asked []*prediction.Asked, forecast [][]diagnosis.Joint) []worth {
	out := make([]worth, len(asked))
	var wg sync.WaitGroup
	var taken atomic.Int64
	for range max(1, b.Prior().Settings.Workers) {
		wg.Go(func() {
			for i := int(taken.Add(1)) - 1; i < len(out); i = int(taken.Add(1)) - 1 {
				switch look := p.Board.looks[i]; {
				case look != nil:
					out[i].bits = lookGain(b, c, look)
				case asked[i] != nil && len(asked[i].Probes) <= maxValues:
					g := prepare(b, c, asked[i], forecast[i])
					out[i].bits = numericGain(b, c, asked[i], g, p.draws)
					if out[i].bits >= p.Board.Settings.Useful {
						out[i].separates = separates(c, g)
					}
				}
			}
		})
	}
	wg.Wait()
	return out
}

// mostTimes is how often one procedure is offered between two repairs: a
// reading that does not settle it in three goes will not in the fourth.
const mostTimes = 3

// price adds the way and the minutes; false when the hook-up cannot be reached.
func (p *Planner) price(st *Step, s State, i int) bool {
	way, err := p.Board.Way(s.Rig, i)
	if err != nil {
		return false
	}
	st.Question = p.Board.Question(i, s.Setup)
	st.Question.Setup.Rig = way.Final
	st.Hookup, st.To = way.Steps, way.Final
	st.Minutes, st.Rigging, st.Waiting = p.Board.takes(st.Procedure.ID, way)
	if len(way.Steps) > 0 && !s.Moved {
		st.Rigging += p.Board.Practice.Overhead.FirstRigChange
	}
	st.Rank = st.Bits / math.Max(0.25, st.Minutes+st.Rigging+p.Board.Settings.Waiting*st.Waiting)
	return true
}

// A reading that is likelier wrong than doubtful is repeated rather than done again.
// From surelyWrong on it is repeated before anything else is done or decided: nobody
// stands behind a job with a reading in it that he knows to be wrong (invented figures).
const (
	doubtful    = 0.4
	surelyWrong = 0.9
)

// suspectReadings are the procedures whose reading since the last repair is probably
// wrong, with how probably.
func suspectReadings(b *diagnosis.Belief) map[string]float64 {
	out := map[string]float64{}
	for i, w := range b.PWrong() {
		if r := b.Readings[i]; w > doubtful && r.Epoch == len(b.Repairs()) {
			out[r.Question.Procedure] = max(out[r.Question.Procedure], w)
		}
	}
	return out
}

// wrongFirst is which of the tests repeats a reading that is nearly certainly wrong, the
// likeliest first; -1 when none does.
func wrongFirst(wrong map[string]float64, tests []Step) int {
	best := -1
	for i, t := range tests {
		if t.Do != Repeat || wrong[t.Procedure.ID] < surelyWrong {
			continue
		}
		if best < 0 || wrong[t.Procedure.ID] > wrong[tests[best].Procedure.ID] {
			best = i
		}
	}
	return best
}

func (p *Planner) why(st *Step) string {
	what := fmt.Sprintf("%.2f bits in %.1f min", st.Bits, st.Minutes+st.Rigging)
	if len(st.Separates) == 2 {
		return fmt.Sprintf("tells %s from %s: %s", p.className(st.Separates[0]), p.className(st.Separates[1]), what)
	}
	if st.Procedure != nil && st.Procedure.Settles != "" {
		return st.Procedure.Settles + ": " + what
	}
	return what
}

func (p *Planner) className(class string) string {
	switch class {
	case "":
		return "nothing wrong"
	case beyond:
		return "something not on the list"
	}
	out := ""
	for k, r := range splitClass(class) {
		if k > 0 {
			out += " and "
		}
		n := p.Board.Practice.Repairs[r].Name
		if n == "" {
			n = r
		}
		out += "«" + n + "»"
	}
	return out
}

// stop decides whether it is time to repair, or to stop looking.
func (p *Planner) stop(s State, c *classes, tests []Step) *Step {
	set := p.Board.Settings
	best, cheapest := leading(c), math.Inf(1)
	for _, t := range tests {
		cheapest = math.Min(cheapest, toSettle(t.Minutes+t.Rigging+set.Waiting*t.Waiting, t.Bits, c.bits))
	}
	share := c.share[best]
	switch c.names[best] {
	case "":
		// A wrong "nothing wrong" costs a comeback.
		if (1-share)*comeback < set.Patience*cheapest && share > soundLeast || len(tests) == 0 {
			return &Step{Do: Sound, Chance: share, To: s.Rig, Why: fmt.Sprintf("nothing on the list is wrong: %.0f %%", 100*share)}
		}
		return nil
	case beyond:
		if share > set.Sure && len(s.Belief.Readings) >= strangeAfter || len(tests) == 0 {
			return &Step{Do: Beyond, Chance: share, To: s.Rig, Why: fmt.Sprintf("no fault on the list explains the readings: %.0f %%", 100*share)}
		}
		return nil
	}
	minutes, money, all := p.Board.repairCost(c.names[best])
	all += p.Board.Practice.Proof.Attended
	// Being wrong costs the repair and its proof; another test costs its
	// minutes, counted up to what it takes to settle the rest.
	if (1-share)*all > set.Patience*cheapest && len(tests) > 0 || share < repairLeast && len(tests) > 0 {
		return nil
	}
	return &Step{
		Do: Repair, Repair: c.names[best], Minutes: minutes, Money: money, Chance: share, To: s.Rig,
		Why: fmt.Sprintf("%.0f %% that this cures it; being wrong would cost less than another test", 100*share),
	}
}

const (
	// strangeAfter is how many readings it takes before the search is given up
	// for something that is not on the list: a single wrong value looks
	// strange too.
	strangeAfter = 6
	// comeback is what sending a faulty vehicle away costs [min], and
	// soundLeast the least share at which it may be sent (invented).
	comeback   = 600
	soundLeast = 0.85
	// repairLeast is the least share at which a repair is proposed while there
	// is something left to measure.
	repairLeast = 0.8
)

// toSettle is what it would take to settle all that is left with tests of such minutes
// and bits.
func toSettle(minutes, bits, left float64) float64 {
	return minutes / math.Max(0.05, math.Min(1, bits/math.Max(left, 0.05)))
}

func leading(c *classes) int { return most(c.share) }

// most is where a share is largest, the first of equals.
func most(share []float64) int {
	best := 0
	for k := range share {
		if share[k] > share[best] {
			best = k
		}
	}
	return best
}

// repairs lists the leading cures after the tests, for a technician who would
// rather do one than measure on.
func (p *Planner) repairs(s State, c *classes) []Step {
	var out []Step
	for k, name := range c.names {
		if name == "" || name == beyond || c.share[k] < 0.1 {
			continue
		}
		minutes, money, all := p.Board.repairCost(name)
		out = append(out, Step{
			Do: Repair, Repair: name, Minutes: minutes, Money: money, Chance: c.share[k], To: s.Rig,
			Rank: c.share[k] / all, Why: fmt.Sprintf("%.0f %% that this cures it", 100*c.share[k]),
		})
	}
	sortSteps(out)
	return out
}
