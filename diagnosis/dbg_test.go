package diagnosis_test

import (
	"fmt"
	"testing"
	"chargewright/diagnosis"
)

func TestDbg(t *testing.T) {
	s := study(t)
	start, _ := diagnosis.Begin(s.Prior)
	var prior []float64
	for i := range start.Hyps { prior = append(prior, start.Posterior(i)) }
	s.Debug = func(b *diagnosis.Belief, q []float64) {
		fmt.Println(q)
		for _, r := range b.Readings { fmt.Println(r.ID, r.Question.Procedure, r.Values) }
		fmt.Println("pwrong", b.PWrong())
		diagnosis.Show(b, 1e-13)
		diagnosis.InFull(b)
		fmt.Println("full")
		diagnosis.Show(b, 1e-13)
	}
	old := s.Debug
	s.Debug = func(b *diagnosis.Belief, q []float64) { diagnosis.FromTruth(b, 13, q); for i := range b.Hyps { fmt.Print(i, diagnosis.Nm(b, i), " ") }; _ = old }
	s.One(start, prior, 161)
}
