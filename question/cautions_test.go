package question_test

import (
	"slices"
	"testing"

	"chargewright/question"
	"chargewright/system"
)

// TestLeadsCarryTheirCautions: whoever clips a lead on a vehicle whose earth cable
// is on takes rings and watch off first, and has eye protection on at the battery's
// posts and clamps. The caution stands with the procedure, which is where the leads
// go on. Source: docs/models/safety.md R41.
func TestLeadsCarryTheirCautions(t *testing.T) {
	const rings, eyes = "c14", "c08"
	procs, err := question.Library()
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, id := range system.Library() {
		s, err := system.ByID(id)
		if err != nil {
			t.Fatal(err)
		}
		battery := atBattery(s)
		for _, p := range procs {
			if ok, _ := p.Applies(s); !ok || p.Where != "vehicle" || dead(p) {
				continue
			}
			want, err := p.Target(s)
			if err != nil {
				t.Fatal(err)
			}
			way, err := s.Rig.Path(s.Rig.Rest, want)
			if err != nil {
				t.Fatal(err)
			}
			for _, o := range p.Measure {
				if o.Red == "" || question.OffWatchMeter(s, way.Final, o) {
					continue
				}
				looked++
				if !slices.Contains(p.Cautions, rings) {
					t.Errorf("%s on %s: leads go on live points without %s", p.ID, id, rings)
				}
				if (battery[o.Red] || battery[o.Black]) && !slices.Contains(p.Cautions, eyes) {
					t.Errorf("%s on %s: leads go on the battery without %s", p.ID, id, eyes)
				}
			}
		}
	}
	if looked < 50 {
		t.Errorf("only %d pairs of leads were looked at", looked)
	}
}

// atBattery are the battery's posts and what is clamped on them.
func atBattery(s *system.System) map[string]bool {
	out := map[string]bool{s.Battery.Positive: true, s.Battery.Negative: true}
	for _, e := range s.Elements {
		if e.Kind == system.Joint && (e.From == s.Battery.Positive || e.To == s.Battery.Positive || e.From == s.Battery.Negative || e.To == s.Battery.Negative) {
			out[e.From], out[e.To] = true, true
		}
	}
	return out
}

// dead says whether a procedure asks for the earth cable to be off.
func dead(p *question.Procedure) bool {
	return slices.ContainsFunc(p.Rig, func(d question.Demand) bool {
		return d.Place == "earth-cable" && slices.Contains(d.Positions, "off")
	})
}

// TestOffWatchMeter: only DC volts, only across the posts, the right way round, and
// only while the watch meter is on.
func TestOffWatchMeter(t *testing.T) {
	s, err := system.ByID("isolated-earth-side")
	if err != nil {
		t.Fatal(err)
	}
	rest := s.Rig.Rest
	on := rest
	for i, p := range s.Rig.Places {
		if p.Role == "watch-meter" {
			on = on.With(i, 1)
		}
	}
	battery := question.Observable{Kind: question.Volts, Red: "batp", Black: "batn", Meter: "dmm"}
	for _, c := range []struct {
		name string
		with func(*question.Observable)
		on   bool
		want bool
	}{
		{"battery volts", func(*question.Observable) {}, true, true},
		{"no watch meter", func(*question.Observable) {}, false, false},
		{"AC volts", func(o *question.Observable) { o.Kind = question.ACVolts }, true, false},
		{"the other way round", func(o *question.Observable) { o.Red, o.Black = o.Black, o.Red }, true, false},
		{"another point", func(o *question.Observable) { o.Red = "stud" }, true, false},
	} {
		o, at := battery, rest
		c.with(&o)
		if c.on {
			at = on
		}
		if got := question.OffWatchMeter(s, at, o); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}
