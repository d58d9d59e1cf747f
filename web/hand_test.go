package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
)

var firstLine = regexp.MustCompile(`(?s)name="line" value="(\d+)">.*?</label>`)

// TestLineByLine: whoever ticks one line at a time comes to the reading; a lead
// that was ticked is not asked for again, and the engine is not stopped for it.
func TestLineByLine(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	key := at + "?key=do:stud-volts"
	page := s.get(t, key).want(t, 200, "stop the engine, move the leads", "Rings, watch and bracelet off")
	for range 12 {
		line := firstLine.FindStringSubmatch(page.body)
		if line == nil {
			break
		}
		if strings.Contains(line[0], "Stop the engine") {
			t.Fatalf("the engine is stopped on the way: %s", line[0])
		}
		f := page.form(t, at+"/hook-up", "line", line[1])
		s.ask(t, http.MethodPost, at+"/hook-up", f).want(t, 303)
		page = s.get(t, key).want(t, 200)
	}
	page.want(t, 200, "Hooked up.", "of the hook-up done since the last reading", "Engine ", "The meter&#39;s leads on")
	s.get(t, at+"/log").want(t, 200, "leads on")
}

// TestMendBeforePutBack: with the earth cable off the repair comes first, and
// what puts the cable on comes after it, on both pages that show a repair.
func TestMendBeforePutBack(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	put := "earth cable on the battery last of all"
	for _, page := range []string{at + "/repair?mend=mend-bulkhead", at + "?key=mend:mend-bulkhead"} {
		if b := s.get(t, page).want(t, 200).body; strings.Contains(b, "Mend it first") {
			t.Errorf("%s: nothing is off, and it is to be mended first", page)
		}
	}
	f := s.get(t, at+"/stands").form(t, "", "p-earth-cable", "off")
	s.ask(t, http.MethodPost, at+"/stands", f).want(t, 303)
	for _, page := range []string{at + "/repair?mend=mend-bulkhead", at + "?key=mend:mend-bulkhead"} {
		b := s.get(t, page).want(t, 200, "Mend it first", put).body
		if strings.Index(b, "Mend it first") > strings.Index(b, put) || strings.Index(b, "Then put it back") > strings.Index(b, put) {
			t.Errorf("%s: the earth cable goes on before the repair", page)
		}
	}
}

// TestListWords: the list speaks as the driver's form does, counts nothing that
// is not there, and says of a cured job what is next.
func TestListWords(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "note", "Van of the words")
	b := s.get(t, "/?q=Van+of+the+words").want(t, 200, "Charges too little").body
	for _, no := range []string{"0 readings", "0 repairs", "low charge"} {
		if strings.Contains(b, no) {
			t.Errorf("the list says %q", no)
		}
	}
	f := s.get(t, at+"/repair?mend=mend-bulkhead").form(t, "", "repair", "mend-bulkhead", "cured", "yes")
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 303)
	s.get(t, "/?q=Van+of+the+words").want(t, 200, "Next: prove it and sign", "1 repair")
}

// TestNotYetSaysWhy: a voltage that is not to be called yet says why, and not
// how likely it is within the limit.
func TestNotYetSaysWhy(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.1 V").want(t, 303)
	s.read(t, at, "charge-volts", "14.1 V", "12").want(t, 303)
	for _, page := range []string{at + "/log", at + "/proof"} {
		b := s.get(t, page).want(t, 200).body
		_, after, found := strings.Cut(b, "Not to be called yet: ")
		if !found || strings.HasPrefix(after, "over 99") || len(after) < 20 || after[0] == '<' {
			t.Errorf("%s: %.120s", page, after)
		}
	}
}
