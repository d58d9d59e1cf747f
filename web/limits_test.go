package web

import (
	"net/http"
	"strings"
	"testing"
)

// TestLetters: a field counts what people count, whatever bytes a device sends.
func TestLetters(t *testing.T) {
	for text, want := range map[string]int{
		"": 0, "volt": 4, "Düse": 4, "Du\u0308se": 4, "Ω": 1, "電圧": 2, "\u1112\u1161\u11ab": 1, "👍🏽": 1, "👩\u200d🔧": 1, "🇩🇪🇫🇷": 2, "e\u0301\u0323": 1, "a b": 3,
	} {
		if got := letters(text); got != want {
			t.Errorf("%q has %d, want %d", text, got, want)
		}
	}
}

// TestLongTexts: every field with a limit takes 500 letters of three bytes each,
// and says of one more what the limit is, keeping what was typed.
func TestLongTexts(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.4").want(t, 303)
	fits, long := strings.Repeat("電", longestText), strings.Repeat("電", longestText+1)
	const says = "501 characters, and 500 is the most that is kept. Leave out 1"
	for _, c := range []struct {
		page, action, field string
		more                []string
	}{
		{at + "/readings/r1/correct", at + "/readings/r1/correct", "why", []string{"v0", "12.5 V"}},
		{at + "/could-not?key=do:drop-feed", at + "/could-not", "own", nil},
		{at + "/log", at + "/wait", "what", []string{"for", "part"}},
		{at + "/repair", at + "/repair", "what", []string{"cured", "yes"}},
		{at + "/proof", at + "/proof", "note", []string{"covers", "yes", "leads", "yes"}},
		{at + "/report", at + "/sign", "note", []string{"gone", "yes"}},
		{"/jobs/new", "/jobs", "words", []string{"kind", "other", "system", theSystem, "meter", "dmm"}},
	} {
		f := s.get(t, c.page).want(t, 200).form(t, c.action, c.more...)
		f.Set(c.field, long)
		a := s.ask(t, http.MethodPost, c.action, f).want(t, 422, says)
		if !strings.Contains(a.body, `value="`+long+`"`) {
			t.Errorf("%s: what was typed into %s is gone", c.action, c.field)
		}
		f = s.get(t, c.page).form(t, c.action, c.more...)
		f.Set(c.field, fits)
		s.ask(t, http.MethodPost, c.action, f).want(t, 303)
	}
}
