package advice

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"chargewright/planning"
	"chargewright/question"
	"chargewright/rig"
)

// Cost is what a job has taken and what it will take on average.
type Cost struct {
	Spent, ToGo       float64 // minutes
	SpentWords        string
	ToGoWords         string
	Money             string // spent so far, in the workshop's own currency
	MoneyToGo         string
	SpentBar, ToGoBar string  // lengths on an axis to End
	End               float64 // of the axis [min]
	EndWords          string
	Sentence          string
}

// Cost adds up the minutes of the readings, of the changes between their
// hook-ups and of the repairs, from the practice figures. What is to go is the
// readings that the planner's best step would take at its own pace until the
// repair is known, and the repair that is then due, on average. Both are
// estimates, and said to be.
func (s *Standing) Cost() Cost {
	c := Cost{}
	minutes, parts := s.spent()
	c.Spent = minutes
	find, mend, money := s.toGo()
	c.ToGo = find + mend
	labour := s.Practice.Labour.Amount
	c.Money, c.MoneyToGo = MoneyWords(parts+minutes/60*labour), MoneyWords(money+c.ToGo/60*labour)
	c.SpentWords, c.ToGoWords = MinutesWords(c.Spent), MinutesWords(c.ToGo)
	const step = 30
	c.End = math.Max(step, math.Ceil((c.Spent+c.ToGo)/step)*step)
	c.SpentBar, c.ToGoBar = length(c.Spent/c.End), length(c.ToGo/c.End)
	c.EndWords = MinutesWords(c.End)
	c.Sentence = fmt.Sprintf("To go, on average: %s to find it, %s to mend and prove it; %s with parts. So far %s, at %s an hour.",
		MinutesWords(find), MinutesWords(mend), c.MoneyToGo, c.Money, MoneyWords(labour))
	if len(s.In.Repairs) > 0 && s.Advice.Mended > 0.9 {
		c.Sentence = fmt.Sprintf("So far %s with parts, at %s an hour.", c.Money, MoneyWords(labour))
		c.ToGo, c.ToGoBar, c.ToGoWords = 0, length(0), MinutesWords(0)
	}
	return c
}

func (s *Standing) spent() (minutes, parts float64) {
	at := s.System.Rig.Rest
	to := func(state rig.State) {
		if state == at {
			return
		}
		if plan, err := s.System.Rig.Path(at, exactly(&s.System.Rig, state)); err == nil {
			minutes += plan.Minutes
		}
		at = state
	}
	repair := func(epoch int) {
		for i, r := range s.In.Repairs {
			if i != epoch {
				continue
			}
			for _, one := range strings.Split(r.Repair, "+") {
				minutes += s.Practice.Repairs[one].Attended
				parts += s.Practice.Repairs[one].Parts
			}
			at = s.System.Rig.Rest
		}
	}
	epoch := 0
	for _, r := range s.inOrder() {
		for ; epoch < r.Epoch; epoch++ {
			repair(epoch)
		}
		to(r.Question.Setup.Rig)
		minutes += s.work(r.Question.Procedure)
	}
	for ; epoch < len(s.In.Repairs); epoch++ {
		repair(epoch)
	}
	to(s.In.Rig)
	return minutes, parts
}

// inOrder are the readings as they were taken: a late one may stand after the
// repair that it was taken before.
func (s *Standing) inOrder() []question.Reading {
	return slices.SortedStableFunc(slices.Values(s.In.Readings), func(a, b question.Reading) int { return cmp.Compare(a.Epoch, b.Epoch) })
}

// exactly is the target of one state.
func exactly(r *rig.Rig, s rig.State) rig.Target {
	var t rig.Target
	for i := range r.Places {
		t.Positions[i] = 1 << s.At(i)
	}
	return t
}

// toGo is how long it takes on average until the cure is known, and the cure
// with its proof.
func (s *Standing) toGo() (find, mend, money float64) {
	classes := map[string]float64{}
	for i := range s.Belief.Hyps {
		classes[planning.Remaining(&s.Belief, i)] += s.Belief.Posterior(i)
	}
	entropy := 0.0
	for class, p := range classes {
		if p > 0 {
			entropy -= p * math.Log2(p)
		}
		for _, r := range planning.SplitClass(class) {
			mend += p * s.Practice.Repairs[r].Attended
			money += p * s.Practice.Repairs[r].Parts
		}
		if class != "" {
			mend += p * s.Practice.Proof.Attended
		}
	}
	if len(s.Advice.Next) == 0 {
		return 0, mend, money
	}
	first := s.Advice.Next[0]
	if first.Body.Procedure == "" { // the repair itself is next
		return 0, mend + first.Minutes.Hookup, money
	}
	const least, most = 0.1, 12 // [bit]; steps that a job takes at most
	pace := first.Minutes.Work + first.Minutes.Hookup
	return pace * math.Min(most, math.Max(1, entropy/math.Max(first.Bits, least))), mend, money
}
