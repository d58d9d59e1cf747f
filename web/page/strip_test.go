package page_test // from outside: tests within page have all templates compiled once more, 5 s

import (
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/web/page"
)

// TestZoneWords: the name of a stretch is never longer than the stretch, and says
// so with dots where letters are left out.
func TestZoneWords(t *testing.T) {
	letters := []string{"J", "K", "H2", "T+Z"}
	for _, c := range []struct {
		width float64
		zone  advice.Zone
		want  string
	}{
		{1, advice.Zone{Letters: letters}, "J K H2 T+Z"},
		{0.2, advice.Zone{Letters: letters}, "J K …"},
		{0.12, advice.Zone{Letters: letters}, "J …"},
		{0.05, advice.Zone{Letters: letters}, ""},
		{0.05, advice.Zone{Letters: letters[:1]}, "J"},
		{0.5, advice.Zone{Text: "undecided"}, "undecided"},
		{0.1, advice.Zone{Text: "undecided"}, ""},
		{0.3, advice.Zone{Text: "bulkhead pin A poor"}, ""},
	} {
		c.zone.Width = c.width
		got := page.ZoneWords(c.zone, page.LaneNarrow)
		if got != c.want {
			t.Errorf("%v in %g is %q, want %q", c.zone, c.width, got, c.want)
		}
		if n := len([]rune(got)); float64(n*page.SignWidth) > c.width*page.LaneNarrow {
			t.Errorf("%q has no room in %g", got, c.width)
		}
	}
}

// TestUnbroken: a number and its unit stay on one line; other words do not stick.
func TestUnbroken(t *testing.T) {
	for text, want := range map[string]string{
		"takes 8 A, read": "takes 8~A, read", "200 mV at most": "200~mV at most", "at 22 °C": "at 22~°C", "under 1 % likely": "under 1~% likely", "5 Ω": "5~Ω",
		"1 Answer": "1 Answer", "2 months": "2 months", "about 3 Volts": "about 3 Volts", "": "",
	} {
		if got := page.Unbroken(text); got != strings.ReplaceAll(want, "~", "\u00a0") {
			t.Errorf("%q becomes %q", text, got)
		}
	}
}
