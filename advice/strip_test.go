package advice

import (
	"strings"
	"testing"

	"chargewright/diagnosis"
	"chargewright/unit"
)

// TestNothingBelowZero: a meter on AC volts or ohms shows nothing below zero, and
// no axis goes there; one on DC volts may.
func TestNothingBelowZero(t *testing.T) {
	for _, positive := range []bool{true, false} {
		wide := func(id string, mean float64) StripRow {
			return StripRow{Letters: []string{id}, Name: id, share: 0.4, mix: []diagnosis.Normal{{Weight: 0.4, Mean: mean, SD: 0.08}}}
		}
		s := Strip{axis: axis{dim: unit.Volt, positive: positive}, Rows: []StripRow{wide("J", 0.02), wide("K", 0.5)}}
		s.fit(nil)
		s.finish(0.01)
		below := s.axis.low < 0
		for _, k := range s.Ticks {
			below = below || strings.HasPrefix(k.Text, "−") || strings.HasPrefix(k.Text, "-")
		}
		if below == positive {
			t.Errorf("positive %v: the axis begins at %v, its ticks are %v", positive, s.axis.low, s.Ticks)
		}
		if positive && strings.ContainsAny(s.Leads, "-−") {
			t.Errorf("words speak of less than nothing: %s", s.Leads)
		}
	}
}

// TestFiguresOfStretches: the figures of a stretch differ, and are no finer than
// the stretch is wide.
func TestFiguresOfStretches(t *testing.T) {
	s := Strip{axis: axis{dim: unit.Volt, low: 12, top: 18, res: 0.01}, Rows: []StripRow{{Letters: []string{"J"}}}}
	s.Zones = []Zone{{From: 0.3619, To: 0.4877, Letters: []string{"J"}}, {From: 0.5, To: 1, Letters: []string{"K"}}}
	if got, want := strings.ReplaceAll(s.words(), "\u00a0", " "), "14.2 V to 14.9 V: J · over 15 V: K"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
