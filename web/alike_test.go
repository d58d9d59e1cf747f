package web

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"chargewright/advice"
	"chargewright/question"
)

// Most tests open the same job and enter the same few readings: what such a job means,
// and what comes next, is worked out for the first of them. Only a job that goes
// forward takes it over: what was taken back or corrected, and what is made anew, is
// worked out by itself, and so is whatever a shop without a prepared system is asked.

// alikes are jobs that were weighed, by all that their meaning hangs on.
type alikes struct {
	mu    sync.Mutex
	by    map[string]*advice.Standing
	taken int // over from another job
}

var weighed = &alikes{by: map[string]*advice.Standing{}}

func (a *alikes) weigh(ctx context.Context, before *advice.Standing, in advice.Input) (*advice.Standing, error) {
	if !forward(before, in) {
		return weigh(ctx, before, in)
	}
	key := fmt.Sprintf("%p %+v %+v %+v %+v %+v %+v", in.Prepared, in.Complaint, in.Told, in.Vehicle, in.Day, in.Readings, in.Repairs)
	a.mu.Lock()
	like := a.by[key]
	if like != nil {
		a.taken++
	}
	a.mu.Unlock()
	if like != nil && like.Quick(in) {
		return like.Consider(ctx, in)
	}
	out, err := weigh(ctx, before, in)
	if err == nil {
		a.mu.Lock()
		a.by[key] = out
		a.mu.Unlock()
	}
	return out, err
}

// forward says whether a job was just opened, or has readings and repairs more than
// before, and none that are others.
func forward(before *advice.Standing, in advice.Input) bool {
	if before == nil {
		return len(in.Readings) == 0 && len(in.Repairs) == 0
	}
	was := before.In
	n, m := len(was.Readings), len(was.Repairs)
	return len(in.Readings) >= n && len(in.Repairs) >= m && len(in.Readings)+len(in.Repairs) > n+m &&
		slices.Equal(in.Repairs[:m], was.Repairs) &&
		slices.EqualFunc(in.Readings[:n], was.Readings, func(x, y question.Reading) bool { return reflect.DeepEqual(x, y) })
}

// TestAlikeIsWeighedOnce: of two jobs alike the second takes over what the first means,
// which is what it means made anew; one that is not alike takes nothing over.
func TestAlikeIsWeighedOnce(t *testing.T) {
	s := theShop(t)
	next := func(at string) string {
		t.Helper()
		x, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
		if err != nil {
			t.Fatal(err)
		}
		return x.stand.Advice.Next[0].Name
	}
	var took [3]int
	var steps [3]string
	for i, volts := range []string{"12.37", "12.37", "12.38"} {
		at := s.newJob(t)
		s.get(t, at).want(t, 200)
		before := weighed.taken
		s.read(t, at, "battery-rest-volts", volts).want(t, 303)
		if i < 2 {
			steps[i] = next(at)
		}
		took[i] = weighed.taken - before
		if took[i] > 0 {
			s.asMadeAnew(t, at)
		}
	}
	if took != [3]int{0, 1, 0} || steps[0] != steps[1] {
		t.Errorf("taken over %v times, want 0, 1 and 0; then %q", took, steps)
	}
}
