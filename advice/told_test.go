package advice

import (
	"context"
	"math"
	"slices"
	"testing"

	"chargewright/internal/near"
	"chargewright/planning"
	"chargewright/system"
)

// Every fault and part that the table speaks of is one of some shipped system.
func TestToldTableIsOfTheLibrary(t *testing.T) {
	table, err := toldTable()
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range sys.Faults {
			there[f.ID], there[f.Part] = true, true
		}
	}
	for g, group := range table.groups {
		for _, x := range group {
			for key := range x.given {
				if !there[key] {
					t.Errorf("%s, %s: no shipped system has a fault or part %q", toldGroups[g], x.word, key)
				}
			}
		}
	}
}

// All that can be told in a group, and nothing told, add up to one.
func TestStoriesAddUp(t *testing.T) {
	p := ready(t)
	for _, fault := range []string{"earth-cable-off", "belt-slip", "diode-short"} {
		at, _ := p.model.FaultIndex(fault)
		f := &p.System.Faults[at]
		for g := range p.told.groups {
			sum := 1.0 // of nothing told: the group counts as not asked, whose share is what is left
			for k := range p.told.groups[g] {
				sum *= 1 - p.told.chance(g, &p.told.groups[g][k], f, doesNothing)
			}
			for set := 1; set < 1<<len(p.told.groups[g]); set++ {
				told := Told{}
				for k, x := range p.told.groups[g] {
					if set>>k&1 == 1 {
						told = told.with(g, x.word)
					}
				}
				sum += p.told.story(told, "", f, doesNothing)
			}
			near.Check(t, fault+", "+toldGroups[g], sum, 1, near.Tol{Rel: 1e-9}, "closed form: the shares of all stories")
		}
	}
}

// Over all who complain of the same a story moves nothing: its factors average 1.
func TestToldFactorsAverageOne(t *testing.T) {
	p := ready(t)
	for _, complaint := range []string{"", "no-charge", "overcharge"} {
		factors := p.factors(Told{When: []string{"hot"}, Noticed: []string{"dim-lights", "squeal"}}, "", complaint)
		sum, total := 0.0, 0.0
		for i, x := range factors {
			rate := p.Practice.NoFault.Rate
			if i < len(p.System.Faults) {
				rate = p.Practice.Rates[p.System.Faults[i].ID].Rate
				if p.System.Faults[i].Outside {
					continue
				}
			}
			if complaint != "" {
				rate *= p.heard.chance(complaint, p.does[i])
			}
			sum += rate * x
			total += rate
		}
		near.Check(t, "mean factor, "+complaint, sum/total, 1, near.Tol{Rel: 1e-9}, "closed form: Bayes")
	}
}

// What a driver says of what the vehicle does says hardly more than the kind of
// complaint did: lamps that are dim on a vehicle that does not charge.
func TestToldTwiceCountsOnce(t *testing.T) {
	p := ready(t)
	at, _ := p.model.FaultIndex("rotor-open")
	alone := p.factors(Told{Noticed: []string{"ammeter-discharge"}}, "", "")[at]
	after := p.factors(Told{Noticed: []string{"ammeter-discharge"}}, "", "no-charge")[at]
	if alone < 2 {
		t.Errorf("a needle on discharge speaks %.2f to 1 for an open rotor", alone)
	}
	if gain := math.Log(after) / math.Log(alone); gain > 0.6 {
		t.Errorf("after a complaint of no charge the same still says %.0f %% of it", 100*gain)
	}
}

// What was done just before puts the look first that settles it, and no story
// counts for more than the table allows.
func TestToldMovesTheFirstStep(t *testing.T) {
	p := ready(t)
	ask := func(told Told) Advice {
		t.Helper()
		a, err := Ask(context.Background(), Input{Prepared: p, Settings: p.setting, Complaint: "no-charge", Told: told, Day: day})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	share := func(a Advice, part ...string) float64 {
		sum := 0.0
		for _, s := range a.Suspects {
			for _, f := range s.Faults {
				i, _ := p.model.FaultIndex(f.Fault)
				for _, x := range part {
					if i >= 0 && p.System.Faults[i].Part == x {
						sum += f.Share
					}
				}
			}
		}
		return sum
	}
	clutch := ask(Told{Before: []string{"engine-out"}, Noticed: []string{"hot-cable"}})
	if before, now := share(ask(Told{}), "earth-cable", "body-strap"), share(clutch, "earth-cable", "body-strap"); now < 0.5 || before > 0.2 {
		t.Errorf("earths %.2f of it, and %.2f when the engine was out and a cable got hot", before, now)
	}
	if got := clutch.Next[0].Body.Procedure; got != "look-earths" {
		t.Errorf("the first step is %s", got)
	}
	if len(clutch.Told) != 2 || clutch.Told[0].Word != "engine-out" {
		t.Errorf("told: %+v", clutch.Told)
	}
	d, err := p.Shared("no-charge")
	if err != nil {
		t.Fatal(err)
	}
	own, err := d.Hearing(Told{Before: []string{"engine-out"}, Noticed: []string{"hot-cable"}})
	if err != nil {
		t.Fatal(err)
	}
	highest := 0.0
	for f, x := range own.Prior.Told {
		highest = max(highest, math.Abs(x))
		if math.Abs(x) > math.Log(p.told.most)+1e-9 {
			t.Errorf("fault %d counts %.3g times as much", f, math.Exp(x))
		}
	}
	if highest < math.Log(p.told.most)-1e-9 {
		t.Errorf("the bound was not tried: at most %.3g", math.Exp(highest))
	}
	if _, err := d.Hearing(Told{Noticed: []string{"ghosts"}}); err == nil {
		t.Error("a word that is not in the table was taken")
	}
}

// Where nothing is wrong the way it is used is told back.
func TestUseIsToldBack(t *testing.T) {
	p := ready(t)
	d, err := p.Shared("flat-battery")
	if err != nil {
		t.Fatal(err)
	}
	for use, want := range map[string]bool{"short-trips": true, "ordinary": false} {
		var s Step
		if err := d.act(&s, Input{Told: Told{Use: []string{use}}, Rig: p.System.Rig.Rest}, planning.Step{Do: planning.Sound, Chance: 0.9}); err != nil {
			t.Fatal(err)
		}
		if got := slices.Contains(s.Body.Lines, useLines["short-trips"]); got != want {
			t.Errorf("%s: %q", use, s.Body.Lines)
		}
	}
}
