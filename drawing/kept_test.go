package drawing

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"chargewright/question"
	"chargewright/system"
)

// optionsOf are hook-ups of a system, each with several sets of causes and names: what
// two jobs at the same hook-up ask for.
func optionsOf(t *testing.T, sys *system.System, closeUp bool) (out []Options) {
	t.Helper()
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"charge-volts", "drop-feed", "battery-rest-volts"} {
		p := procs[id]
		if p == nil {
			t.Fatalf("there is no procedure %s", id)
		}
		o := ForProcedure(sys, p, sys.Rig.Rest, 0)
		o.Close = closeUp
		for k := range 3 {
			again := o
			again.Name = fmt.Sprintf("picture-%d", k)
			for i := range 2 * k { // none, two, four
				again.Causes = append(again.Causes, Cause{string(rune('A' + i)), []string{sys.Faults[(5*i+k)%len(sys.Faults)].ID}})
			}
			out = append(out, again)
		}
		staged := o
		staged.Now = &Now{Place: sys.Rig.Places[0].ID, Stage: 2}
		out = append(out, staged)
	}
	return out
}

// TestKeptPictures: a picture of a hook-up that was drawn for another job is the same to
// the letter as one that is drawn anew, whoever draws at the same time, and what is kept
// of it is not written on.
func TestKeptPictures(t *testing.T) {
	sys, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	for width, layOut := range map[int]func(*system.System, int) (*Sheet, error){640: New, Phone: CloseUp} {
		sheet, err := layOut(sys, width)
		if err != nil {
			t.Fatal(err)
		}
		all := optionsOf(t, sys, sheet.close > 0)
		var want []string
		for _, o := range all {
			sc, err := sheet.Draw(o)
			if err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			if err := sc.SVG(&b); err != nil {
				t.Fatal(err)
			}
			want = append(want, b.String())
		}
		var wait sync.WaitGroup
		for g := range 4 {
			wait.Go(func() {
				for k := range all {
					k = (k + 5*g) % len(all)
					p, err := sheet.Picture(all[k])
					if err != nil || p.SVG != want[k] {
						t.Errorf("%d px, %+v: drawn otherwise for another job (%v)", width, all[k], err)
					}
				}
			})
		}
		wait.Wait()
		if n := len(sheet.laid.by); n != 6 { // three procedures, each with and without a ring
			t.Errorf("%d hook-ups are kept, want 6", n)
		}
		if n := len(sheet.finished.by); n != len(all) {
			t.Errorf("%d finished pictures are kept, want %d: each name and each set of causes has its own", n, len(all))
		}
	}
}

// TestKeptPicturesAreBounded: what was wanted longest ago goes first.
func TestKeptPicturesAreBounded(t *testing.T) {
	m := newLatest[*overlay](mostLaid)
	has := func(key string) bool { _, ok := m.get(key); return ok }
	for i := range mostLaid + 3 {
		m.put(fmt.Sprint(i), &overlay{})
		if !has("0") {
			t.Fatal("the one that is wanted again and again has gone")
		}
	}
	if len(m.by) != mostLaid || len(m.used) != mostLaid || has("1") || !has(fmt.Sprint(mostLaid+2)) {
		t.Errorf("%d are kept: %v", len(m.by), m.used)
	}
}

// TestAnotherHookUpIsAnotherPicture: nothing that a picture follows from is left out of
// what it is kept by.
func TestAnotherHookUpIsAnotherPicture(t *testing.T) {
	seen := map[string]int{}
	for i, o := range []Options{
		{},
		{Rig: 1},
		{Leads: []Lead{{Red: "a", Black: "b"}}},
		{Leads: []Lead{{Red: "a", Black: "b", Watch: true}}},
		{Leads: []Lead{{Red: "a", Black: "b", Box: 1}}},
		{InTurn: true},
		{Clamps: []Clamp{{Element: "w"}}},
		{Clamps: []Clamp{{Element: "w", Box: 1}}},
		{Series: []int{1}},
		{Now: &Now{}},
		{Now: &Now{Stage: 1}},
		{Now: &Now{Place: "p"}},
		{Now: &Now{Point: "p"}},
		{Now: &Now{Element: "p"}},
		{Now: &Now{Place: "p", To: "off"}},
		{Close: true},
	} {
		if k, there := seen[o.hookUp()]; there {
			t.Errorf("%d and %d are taken for the same", i, k)
		}
		seen[o.hookUp()] = i
	}
	one, other := Options{Name: "a", Causes: []Cause{{Letter: "A"}}}, Options{Name: "b"}
	if one.hookUp() != other.hookUp() {
		t.Error("a name or a cause's letter makes it another hook-up")
	}
}
