package account

import (
	"database/sql"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// TestMorning: forty people behind one proxy, none of whom has signed in there
// before and all of whom slip once, come in within a minute. Without what a right
// one gives back the address lets through its burst and six a minute.
func TestMorning(t *testing.T) {
	p := freshPace(t)
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	for i := range 2 * addressBurst {
		name := fmt.Sprint("person ", i)
		is(t, name+" slips", p.allow(t.Context(), now, name, home, ""), nil)
		is(t, name, p.allow(t.Context(), now.Add(time.Second), name, home, ""), nil)
		is(t, name+" is in", p.forget(t.Context(), now.Add(time.Second), name, home, ""), nil)
		now = now.Add(1500 * time.Millisecond)
	}
}

// TestOwnAccountClearsNothing: somebody with an account who signs in rightly between
// guesses at others has not one guess more.
func TestOwnAccountClearsNothing(t *testing.T) {
	guesses := func(between bool) (let int) {
		p := freshPace(t)
		now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
		for i := range 10 * addressBurst { // half a minute each
			if p.allow(t.Context(), now, fmt.Sprint("victim ", i), home, "") == nil {
				let++
			}
			if between && p.allow(t.Context(), now, "mine", home, "") == nil {
				is(t, "the guesser's own", p.forget(t.Context(), now, "mine", home, ""), nil)
			}
			now = now.Add(500 * time.Millisecond)
		}
		return let
	}
	without, with := guesses(false), guesses(true)
	if most := addressBurst + int((10*addressBurst-1)*500*time.Millisecond/addressEvery); without != most || with > without {
		t.Errorf("%d guesses with right sign-ins between, %d without, want %d at most", with, without, most)
	}
}

// TestShares: whatever comes, an address is as far ahead of its pace as the tries
// that no right sign-in has taken back would have it by themselves, or further. The
// other way round: who comes in rightly, alone, leaves no trace.
func TestShares(t *testing.T) {
	p := freshPace(t)
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	chance := rand.New(rand.NewPCG(6, 3))
	type try struct {
		at   time.Time
		name string
	}
	var stand []try // tries that count still
	ahead := func() (d time.Duration) {
		last := now
		for i, s := range stand {
			if i > 0 {
				d = max(0, d-s.at.Sub(last))
			}
			d, last = d+addressEvery, s.at
		}
		return max(0, d-now.Sub(last))
	}
	is60 := 0
	for range 400 {
		now = now.Add(time.Duration(chance.IntN(9)) * time.Second)
		name := string(rune('a' + chance.IntN(12)))
		if p.allow(t.Context(), now, name, home, "") == nil {
			stand = append(stand, try{now, name})
		}
		if chance.IntN(8) == 0 {
			is(t, "a right one", p.forget(t.Context(), now, name, home, ""), nil)
			kept := stand[:0]
			for _, s := range stand {
				if s.name != name {
					kept = append(kept, s)
				}
			}
			stand = kept
		}
		var got time.Duration
		if err := p.db.Read(t.Context(), func(tx *sql.Tx) (err error) {
			got, err = aheadOf(t.Context(), tx, now, newLimit("address", network(home), addressEvery, addressBurst))
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if want := ahead(); got < want {
			t.Fatalf("%v: %v ahead, and the tries that count still are %v", now, got, want)
		} else if want > time.Minute {
			is60++
		}
	}
	if is60 < 40 {
		t.Errorf("the address was more than a minute ahead %d times: the test has seen little", is60)
	}
	if p.allow(t.Context(), now.Add(time.Hour), "z", home, "") != nil || p.forget(t.Context(), now.Add(time.Hour), "z", home, "") != nil {
		t.Error("a right one after an hour")
	}
}
