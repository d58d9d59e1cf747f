package planning_test

import (
	"context"
	"fmt"
	"testing"

	"chargewright/diagnosis"
	"chargewright/question"
)

// TestWorkOfAReading counts what five readings of a low output cost, and what the
// next step's forecast after each does. Counts are the same on every machine;
// times hang on it. The bars are a tenth above what was measured: 175 fits, 730
// solves and 4189 Newton iterations; 1950 solves and 11374 iterations.
func TestWorkOfAReading(t *testing.T) {
	s := newShop(t)
	v := s.vehicle(t, "diode-open", 3)
	b, err := diagnosis.Begin(s.prior)
	if err != nil {
		t.Fatal(err)
	}
	asked, err := s.board.Ask(question.Setup{})
	if err != nil {
		t.Fatal(err)
	}
	var update, next diagnosis.Work
	ids := []string{"battery-rest-volts", "charge-volts", "loaded-output", "ac-volts", "drop-feed"}
	for k, id := range ids {
		i := -1
		for n, p := range s.board.Procs {
			if p.ID == id {
				i = n
			}
		}
		if i < 0 {
			t.Fatalf("no procedure %s", id)
		}
		q := s.board.Question(i, question.Setup{})
		values, err := v.Answer(q)
		if err != nil {
			t.Fatal(err)
		}
		r := question.Reading{ID: fmt.Sprint("r", k+1), Question: q, Values: values}
		if b, err = b.WithAll(context.Background(), []question.Reading{r}); err != nil {
			t.Fatal(err)
		}
		update = sum(update, b.Work)
		twin := b
		twin.Work = diagnosis.Work{}
		twin.Forecast(asked, s.board.Settings.Least)
		next = sum(next, twin.Work)
	}
	n := len(ids)
	t.Logf("each of %d updates: %d fits, %d solves, %d Newton iterations; each next step: %d solves, %d Newton iterations",
		n, update.Fits/n, update.Solves/n, update.Newton/n, next.Solves/n, next.Newton/n)
	for _, c := range []struct {
		what      string
		got, most int
	}{
		{"fits an update", update.Fits / n, 249},
		{"solves an update", update.Solves / n, 862},
		{"Newton iterations an update", update.Newton / n, 6076},
		{"solves a next step", next.Solves / n, 2125},
		{"Newton iterations a next step", next.Newton / n, 12020},
	} {
		if c.got > c.most {
			t.Errorf("%s: %d, at most %d", c.what, c.got, c.most)
		}
	}
}

func sum(a, b diagnosis.Work) diagnosis.Work {
	a.Fits += b.Fits
	a.Solves += b.Solves
	a.Newton += b.Newton
	return a
}
