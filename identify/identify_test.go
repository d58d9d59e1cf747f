package identify_test

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"chargewright/identify"
	"chargewright/internal/badfile"
	"chargewright/internal/near"
	"chargewright/system"
)

func library(t testing.TB) *identify.Catalogue {
	t.Helper()
	c, err := identify.Library()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestClosedForm: two kinds, equally common, one look that shows a on the first
// in 0.9 and on the second in 0.2 of cases, a hundredth none of these.
func TestClosedForm(t *testing.T) {
	data, err := os.ReadFile("testdata/good/two.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := identify.Parse("two.yaml", data)
	if err != nil {
		t.Fatal(err)
	}
	// Before: 0.49, 0.49 and none 0.02; no mismatch. None shows each of two answers alike.
	first, second, none := 0.49*0.9, 0.49*0.2, 0.02*0.5
	w := c.Weigh(map[string]string{"blade": "a"})
	const source = "closed form: Bayes' rule"
	near.Check(t, "first", w.Findings[0].Probability, first/(first+second+none), near.Tol{Abs: 1e-12}, source)
	near.Check(t, "none", w.None, none/(first+second+none), near.Tol{Abs: 1e-12}, source)

	// Mutual information as entropy of the answer less its mean entropy when known.
	h := func(p float64) float64 { return -p*math.Log2(p) - (1-p)*math.Log2(1-p) }
	a := first + second + none
	want := h(a) - 0.49*h(0.9) - 0.49*h(0.2) - 0.02*h(0.5)
	near.Check(t, "bits", c.Weigh(nil).Next[0].Bits, want, near.Tol{Abs: 1e-12}, "closed form: I(X;Y) = H(Y) - H(Y|X)")
}

// TestEverySystem: every system of the library is one of the kinds, and what such
// a vehicle typically shows names it with more than 0.8; the same for what the
// library does not do, which ends in words and never in a system.
func TestEverySystem(t *testing.T) {
	c := library(t)
	var there []string
	for _, p := range c.Pairs {
		there = append(there, p.System)
		w := c.Weigh(typical(c, p.Alternator, p.Wiring))
		f := w.Findings[0]
		if f.Pair == nil || f.Pair.Alternator != p.Alternator || f.Pair.Wiring != p.Wiring || f.Probability < 0.8 {
			t.Errorf("%s on %s is taken for %s on %s at %.2f", p.Alternator, p.Wiring, f.Alternator.ID, f.Wiring.ID, f.Probability)
		}
		if sum := total(w); math.Abs(sum-1) > 1e-12 {
			t.Errorf("shares sum to %g", sum)
		}
	}
	for _, id := range system.Library() {
		if !slices.Contains(there, id) {
			t.Errorf("no pair is system %s", id)
		}
	}
}

// TestOtherVolts: a system of the library is named for vehicles of its own volts
// only. What is built alike at other volts ends in words.
func TestOtherVolts(t *testing.T) {
	c := library(t)
	for _, p := range c.Pairs {
		if p.System == "" {
			continue
		}
		s, err := system.ByID(p.System)
		if err != nil {
			t.Fatal(err)
		}
		for _, volts := range []string{"6", "12", "24"} {
			seen := typical(c, p.Alternator, p.Wiring)
			seen["volts"] = volts
			f, ok := c.Weigh(seen).Of(p.System)
			if !ok {
				t.Fatalf("%s is no finding", p.System)
			}
			if named := f.System() == p.System; named != (volts == strconv.Itoa(int(s.Volts))) {
				t.Errorf("%s, a system of %g V, is named for a vehicle of %s V: %v", p.System, s.Volts, volts, named)
			}
		}
	}
	seen := typical(c, "commanded", "command")
	seen["volts"] = "24"
	if v := c.Weigh(seen).Verdict(); strings.Contains(v, "Take system") || !strings.Contains(v, "at other volts") {
		t.Errorf("24 V: %s", v)
	}
}

// TestKeyOut: a look that says "key out" has the caution that says why.
func TestKeyOut(t *testing.T) {
	for _, l := range library(t).Looks {
		if strings.Contains(strings.Join(l.Do, " "), "Key out") && !slices.Contains(l.Cautions, "key") {
			t.Errorf("%s has the key out and no caution", l.ID)
		}
	}
}

// TestStrangers: an alternator on another's wiring is found to be no pair, once
// the numbers say so; without them it is at least not hidden.
func TestStrangers(t *testing.T) {
	c := library(t)
	for _, s := range c.Strangers {
		shows := typical(c, s.Alternator, s.Wiring)
		w := c.Weigh(shows)
		if at := slices.IndexFunc(w.Findings, func(f identify.Finding) bool { return f.Alternator.ID == s.Alternator && f.Wiring.ID == s.Wiring }); w.Findings[at].Probability < 0.02 {
			t.Errorf("%s on %s counts %.4f before the numbers are read", s.Alternator, s.Wiring, w.Findings[at].Probability)
		}
		shows["number"] = "no"
		w = c.Weigh(shows)
		f := w.Findings[0]
		if f.Pair != nil || f.Alternator.ID != s.Alternator || f.Wiring.ID != s.Wiring || f.Probability < 0.5 {
			t.Errorf("%s on %s is taken for %s on %s at %.2f", s.Alternator, s.Wiring, f.Alternator.ID, f.Wiring.ID, f.Probability)
		}
	}
}

// typical is what a vehicle of two kinds shows most often, to the looks that are
// asked of it.
func typical(c *identify.Catalogue, alternator, wiring string) map[string]string {
	out := map[string]string{}
	for _, l := range c.Looks {
		for _, k := range slices.Concat(c.Alternators, c.Wirings) {
			if k.ID != alternator && k.ID != wiring || l.After != "" && !slices.Contains(l.Is, out[l.After]) {
				continue
			}
			best := 0.0
			for _, a := range l.Answers {
				if p := k.Shows[l.ID][a.ID]; p > best {
					best, out[l.ID] = p, a.ID
				}
			}
		}
	}
	return out
}

func total(w identify.Weighed) float64 {
	sum := w.None
	for _, f := range w.Findings {
		sum += f.Probability
	}
	return sum
}

// TestLooksSettle: taking the look that is proposed, again and again, names the
// arrangement of every typical vehicle within six looks.
func TestLooksSettle(t *testing.T) {
	c := library(t)
	for _, p := range c.Pairs {
		shows, seen := typical(c, p.Alternator, p.Wiring), map[string]string{}
		w := c.Weigh(seen)
		for w.Findings[0].Probability < 0.9 && len(w.Next) > 0 && len(seen) < 9 {
			l := w.Next[0].Look
			seen[l.ID] = shows[l.ID]
			if seen[l.ID] == "" {
				seen[l.ID] = l.Answers[len(l.Answers)-1].ID
				if l.Of == "pair" {
					seen[l.ID] = "yes"
				}
			}
			w = c.Weigh(seen)
		}
		f := w.Findings[0]
		if f.Alternator.ID != p.Alternator || f.Wiring.ID != p.Wiring || len(seen) > 6 {
			t.Errorf("%s on %s: %s on %s after %d looks %v", p.Alternator, p.Wiring, f.Alternator.ID, f.Wiring.ID, len(seen), seen)
		}
	}
}

// TestStrangersAreComputed holds what mismatched pairs are said to do against the
// table that package prediction computes.
func TestStrangersAreComputed(t *testing.T) {
	page, err := os.ReadFile("../docs/models/pairs.md")
	if err != nil {
		t.Fatal(err)
	}
	wirings := map[string]string{
		"earth-side regulator, field fed from the ignition": "earth-side", "contact regulator on the supply side": "contacts",
		"earth-side regulator with a sense wire": "sense-wire",
	}
	alternators := map[string]string{
		"isolated field, two blades": "isolated", "isolated field, second blade earthed by a jumper": "isolated-earthed",
		"field earthed inside, one blade": "earthed-inside", "field fed inside from the output, one blade": "output-fed",
	}
	c := library(t)
	told := map[string]bool{}
	for line := range strings.SplitSeq(string(page), "\n") {
		cells := strings.Split(line, "|")
		if len(cells) != 10 {
			continue
		}
		w, a := wirings[strings.TrimSpace(cells[1])], alternators[strings.TrimSpace(cells[2])]
		outcome := strings.TrimSpace(cells[8])
		if w == "" || a == "" || outcome == "charges as it should" {
			continue
		}
		told[a+" "+w] = true
		if would := c.Would(a, w); !strings.Contains(would, outcome) {
			t.Errorf("%s on %s: the table says %q, the catalogue %q", a, w, outcome, would)
		}
	}
	for _, s := range c.Strangers {
		if !told[s.Alternator+" "+s.Wiring] {
			t.Errorf("%s on %s is not in the table", s.Alternator, s.Wiring)
		}
	}
}

// TestCheck: every wrong answer at once, each with what to write instead.
func TestCheck(t *testing.T) {
	err := library(t).Check(map[string]string{"terminal": "one-blade", "regulator": "sealt", "ways": "two", "dash": "lamp"})
	want := []string{"no look is called terminal; write instead: terminals", "regulator: sealt is none of its answers; write instead: one of contacts, control-box, finned, inside, sealed"}
	if err == nil {
		t.Fatal("nothing is wrong")
	}
	for _, w := range want {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%v lacks %s", err, w)
		}
	}
	if err := library(t).Check(map[string]string{"regulator": "inside", "ways": "two"}); err == nil {
		t.Error("a plug was counted that is not there")
	}
}

func TestBadFiles(t *testing.T) {
	badfile.Run(t, "testdata/bad", func(file string, data []byte) error {
		_, err := identify.Parse(file, data)
		return err
	})
}

func FuzzParse(f *testing.F) {
	for _, pattern := range []string{"kinds.yaml", "testdata/*/*.yaml"} {
		names, err := filepath.Glob(pattern)
		if err != nil || len(names) == 0 {
			f.Fatal("no seeds", err)
		}
		for _, name := range names {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := identify.Parse("f", data)
		if (c == nil) == (err == nil) {
			t.Error("a catalogue and a problem, or neither")
		}
		if c != nil && len(c.Pairs) > 0 {
			c.Weigh(nil)
		}
	})
}
