package rig

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
)

// lines are a plan's moves as place and position, in order.
func (v vehicle) lines(p Plan) []string {
	var out []string
	for _, s := range p.Steps {
		out = append(out, v.Places[s.Place].ID+" "+v.Places[s.Place].Positions[s.Move.To].ID)
	}
	return out
}

func (v vehicle) want(t testing.TB, positions map[string]string) Target {
	t.Helper()
	want, err := v.Target(positions)
	if err != nil {
		t.Fatal(err)
	}
	return want
}

var fullField = map[string]string{
	"engine": "fast", "ignition": "on", "regulator-plug": "off", "field-jumper": "pressed",
	"load-bank": "drawing", "watch-meter": "battery",
}

// TestFullFieldOrder is the run that must come out in the right order. Source of
// the order: rules R14-R17 and R19 in docs/models/safety.md; NAVEDTRA 14050
// p. 4-5 (time and voltage limited); the rest common practice.
func TestFullFieldOrder(t *testing.T) { each(t, fullFieldOrder) }

func fullFieldOrder(t *testing.T, v vehicle) {
	if !v.has("field-jumper") {
		t.Log("no field is jumped on it")
		return
	}
	in, err := v.Path(v.Rest, v.want(t, fullField))
	if err != nil {
		t.Fatal(err)
	}
	lines := v.lines(in)
	t.Log(strings.Join(lines, " > "), in.Minutes)
	inOrder(t, lines, "regulator-plug off", "field-jumper fitted", "ignition on", "engine idle", "field-jumper pressed", "engine fast")
	inOrder(t, lines, "brake held", "exhaust extracted", "engine idle")
	inOrder(t, lines, "load-bank clipped", "engine idle")
	inOrder(t, lines, "engine idle", "load-bank drawing", "field-jumper pressed")
	inOrder(t, lines, "watch-meter battery", "field-jumper pressed")

	out, err := v.Park(in.Final)
	if err != nil {
		t.Fatal(err)
	}
	lines = v.lines(out)
	t.Log(strings.Join(lines, " > "), out.Minutes)
	inOrder(t, lines, "field-jumper fitted", "engine idle") // nothing before the field is let go
	inOrder(t, lines, "field-jumper fitted", "engine off", "ignition off", "field-jumper absent", "regulator-plug on")
	inOrder(t, lines, "engine off", "load-bank absent")
	inOrder(t, lines, "field-jumper fitted", "load-bank clipped", "engine idle", "engine off", "ignition off", "load-bank absent")
	inOrder(t, lines, "field-jumper fitted", "watch-meter absent")
}

// TestSeriesAmmeterOrder: earth cable off first and on last, whatever the
// ammeter in the output lead needs besides (R4-R8).
func TestSeriesAmmeterOrder(t *testing.T) { each(t, seriesAmmeterOrder) }

func seriesAmmeterOrder(t *testing.T, v vehicle) {
	running, err := v.Path(v.Rest, v.want(t, map[string]string{"engine": "fast", "ignition": "on"}))
	if err != nil {
		t.Fatal(err)
	}
	p, err := v.Path(running.Final, v.want(t, map[string]string{"engine": "fast", "ignition": "on", "output-lead": "ammeter"}))
	if err != nil {
		t.Fatal(err)
	}
	got := strings.Join(v.lines(p), " > ")
	want := "engine idle > engine off > ignition off > earth-cable off > output-lead ammeter > earth-cable on > ignition on > engine idle > engine fast"
	if v.has("engine/blip") {
		want = strings.TrimPrefix(want, "engine idle > ") // it comes down only by being stopped
	}
	if got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
}

// TestLoadIsNamed: the line that turns the load tester up names the amps that the
// prediction counts with where the step names none.
func TestLoadIsNamed(t *testing.T) { each(t, loadIsNamed) }

func loadIsNamed(t *testing.T, v vehicle) {
	named := 0
	for _, p := range v.Places {
		for _, m := range p.Moves {
			for _, s := range p.Positions[m.To].Sets {
				if s.Element != "bank.amps" {
					continue
				}
				if named++; !strings.Contains(m.Say, fmt.Sprintf("%g A", s.Value)) {
					t.Errorf("%q: the load tester is counted with %g A", m.Say, s.Value)
				}
			}
		}
	}
	if named == 0 {
		t.Error("nothing turns the load tester up")
	}
}

// inOrder checks that the lines stand in the plan, each after the one before.
func inOrder(t *testing.T, lines []string, want ...string) {
	t.Helper()
	at := -1
	for _, w := range want {
		k := slices.Index(lines, w)
		if k <= at {
			t.Errorf("%q is missing or not after %q in %v", w, want[max(0, slices.Index(want, w)-1)], lines)
		}
		at = k
	}
}

// TestOutOfReachNamesTheRule: what cannot be had names the rule in the way.
func TestOutOfReachNamesTheRule(t *testing.T) { each(t, outOfReachNamesTheRule) }

func outOfReachNamesTheRule(t *testing.T, v vehicle) {
	for _, c := range []struct {
		want map[string]string
		rule string
	}{
		{map[string]string{"engine": "idle", "ignition": "on", "output-lead": "off"}, "R4 "},
		{map[string]string{"engine": "idle", "ignition": "on", "earth-cable": "off"}, "R5 "},
		{map[string]string{"field-jumper": "pressed", "regulator-plug": "off"}, "R17 "},
		{map[string]string{"unit": "bench"}, "R32 "}, // the other places would have to be at rest
	} {
		if _, jumps := c.want["field-jumper"]; jumps && !v.has("field-jumper") {
			continue
		}
		_, err := v.Path(v.Rest, v.want(t, c.want))
		if err == nil || !strings.Contains(err.Error(), c.rule) {
			t.Errorf("%v: %v; must name %s", c.want, err, c.rule)
		}
	}
	bad := v.Rest.With(v.place["earth-cable"], 1).With(v.place["accessories"], 1)
	if _, err := v.Path(bad, Target{}); err == nil || !strings.Contains(err.Error(), "R7") || !strings.Contains(err.Error(), "Park") {
		t.Errorf("from a forbidden state: %v", err)
	}
	if _, err := v.Target(map[string]string{"engin": "idle", "belt": "off"}); err == nil ||
		!strings.Contains(err.Error(), `"engin"`) || !strings.Contains(err.Error(), `"off"`) {
		t.Errorf("unknown ids: %v", err)
	}
}

// TestMovesSayWhy: a refused move carries its rule and words.
func TestMovesSayWhy(t *testing.T) { each(t, movesSayWhy) }

func movesSayWhy(t *testing.T, v vehicle) {
	var refused []string
	for _, o := range v.Moves(v.Rest) {
		for _, why := range o.Refused {
			if why.Why == "" {
				t.Errorf("%s: refused without words", o.Move.Say)
			}
			refused = append(refused, v.Places[o.Place].ID+" "+why.Rule)
		}
	}
	for _, want := range []string{"engine P1", "engine R1", "engine R2", "output-lead R6", "unit R32", "field-jumper R14", "bypass R6"} {
		if !slices.Contains(refused, want) && (v.has("field-jumper") || !strings.HasPrefix(want, "field-jumper")) {
			t.Errorf("%s is not among %v", want, refused)
		}
	}
}

// TestTableRemembers: the table says what Path says, also to many at once.
func TestTableRemembers(t *testing.T) {
	v := load(t)
	targets := wanted(t, v)
	table := v.NewTable(targets)
	var all sync.WaitGroup
	for range 2 {
		all.Go(func() {
			for a := range table.Len() {
				first, err := table.To(v.Rest, a)
				if err != nil {
					t.Error(err)
					continue
				}
				for b, want := range targets {
					got, err1 := table.To(first.Final, b)
					plain, err2 := v.Path(first.Final, want)
					if err1 != nil || err2 != nil || got.Final != plain.Final || !slices.Equal(got.Steps, plain.Steps) {
						t.Errorf("%d to %d: %v %v", a, b, err1, err2)
					}
				}
			}
		})
	}
	all.Wait()
}

// wanted are hook-ups such as a catalogue asks for.
func wanted(t testing.TB, v vehicle) []Target {
	run := func(speed string, more ...string) map[string]string {
		m := map[string]string{"engine": speed, "ignition": "on"}
		for k := 0; k < len(more); k += 2 {
			m[more[k]] = more[k+1]
		}
		return m
	}
	dead := map[string]string{"earth-cable": "off", "output-lead": "off", "belt": "slack", "field-leads": "off"}
	bench := func(unit string) map[string]string {
		m := map[string]string{"unit": unit}
		for k, x := range dead {
			m[k] = x
		}
		return m
	}
	var out []Target
	for _, m := range []map[string]string{
		{},
		{"ignition": "on"},
		{"belt": "slack"},
		{"earth-cable": "off", "regulator-plug": "off"},
		{"load-bank": "drawing", "watch-meter": "battery"},
		{"earth-cable": "off", "field-leads": "off"},
		run("crank"),
		run("idle"), run("fast"), run("quick"), run("fast", "accessories", "on", "clamp", "on"),
		run("quick", "accessories", "on", "clamp", "on"), run("fast", "bypass", "earth"), run("fast", "bypass", "feed"),
		run("fast", "bypass", "field-feed"), run("fast", "bypass", "reg-earth"), run("idle", "field-leads", "ammeter"),
		run("fast", "output-lead", "ammeter"), run("fast", "load-bank", "drawing", "clamp", "on"), fullField,
		bench("bench"), bench("stripped"),
	} {
		out = append(out, v.want(t, m))
	}
	return out
}

// BenchmarkPath goes between all pairs of the hook-ups that a catalogue wants.
func BenchmarkPath(b *testing.B) {
	v := load(b)
	targets := wanted(b, v)
	var froms []State
	for _, want := range targets {
		p, err := v.Path(v.Rest, want)
		if err != nil {
			b.Fatal(err)
		}
		froms = append(froms, p.Final)
	}
	work, k := 0, 0
	for b.Loop() {
		p, err := v.Path(froms[k/len(targets)%len(froms)], targets[k%len(targets)])
		if err != nil {
			b.Fatal(err)
		}
		work += p.Work
		k++
	}
	b.ReportMetric(float64(work)/float64(b.N), "states/op")
}
