package web

import (
	"bufio"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"chargewright/job"
)

// TestAWholeJob goes from intake to the signed report by forms alone, as a
// device without script does.
func TestAWholeJob(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "job", "A 17", "note", "Saloon", "words", "always low", "customer", "Someone", "plate", "AB 12")
	s.get(t, at).want(t, 200, "Saloon · job A 17", "always low")

	// The hook-up is ticked line by line, then the reading is looked at and entered.
	key := at + "?key=do:drop-feed"
	page := s.get(t, key).want(t, 200, "Parking brake on", "Red lead")
	s.ask(t, http.MethodPost, at+"/hook-up", page.form(t, at+"/hook-up", "line", "1", "line", "2")).want(t, 303)
	page = s.get(t, key).want(t, 200, "brake on, out of gear, wheels chocked", "of the hook-up done")
	form := page.form(t, at+"/readings", "v0", "1,98", "u0", "V", "v1", "24.6")
	s.ask(t, http.MethodPost, at+"/preview", form).want(t, 200, "Over the limit", "If this is entered")
	if n := len(s.events(t, at)); n != 2 {
		t.Fatalf("%d events after a preview, want the opening and one hook-up", n)
	}
	said := s.ask(t, http.MethodPost, at+"/readings", form).want(t, 303)
	s.get(t, said.Get("Location")).want(t, 200, "1.980", "Over the limit", "What it did to the causes", "Take it back")

	// Further readings, one of them corrected.
	s.read(t, at, "walk-bulkhead-a", "1569", "25.2").want(t, 422, "Nobody expects", "1.569")
	f := s.get(t, at+"?key=do:walk-bulkhead-a").form(t, at+"/readings", "v0", "1.659", "v1", "25.2")
	r := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	c := s.get(t, r+"/correct").want(t, 200, "1.659").form(t, "", "v0", "1.569 V", "v1", "25.2 A", "why", "misread")
	s.ask(t, http.MethodPost, r+"/correct", c).want(t, 303)
	s.get(t, r).want(t, 200, "1.569")

	// Repair, proof, signature.
	f = s.get(t, at+"/repair?mend=mend-bulkhead").want(t, 200).form(t, "", "repair", "mend-bulkhead", "what", "pin A was green", "cured", "yes")
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 303)
	s.get(t, at+"/proof").want(t, 200, "Before", "1.980", "0 of 6 taken")
	s.read(t, at, "charge-volts", "14.1 V", "8.0 A").want(t, 303)
	after := s.read(t, at, "drop-feed", "0.31", "24").want(t, 303).Get("Location")
	s.get(t, after).want(t, 200, "Back to the proof", "2 of 6 readings of it are taken")
	s.get(t, at+"/proof").want(t, 200, "2 of 6 taken", "310")
	f = s.get(t, at+"/proof").form(t, "", "covers", "yes", "leads", "yes", "note", "battery is old")
	s.ask(t, http.MethodPost, at+"/proof", f).want(t, 303)
	f = s.get(t, at+"/report").want(t, 200, "Someone", "AB 12", "pin A was green", "found and mended").form(t, at+"/sign", "gone", "yes", "note", "thank you")
	s.ask(t, http.MethodPost, at+"/sign", f).want(t, 303)
	s.get(t, at+"/report").want(t, 200, "Signed", "thank you")
	s.get(t, "/?q=A+17").want(t, 200, "Signed", "A 17")

	events := s.events(t, at)
	for _, e := range events {
		for _, private := range []string{"Someone", "AB 12"} {
			if strings.Contains(string(e.Body), private) {
				t.Errorf("event %d (%s) holds %q: names and plates stand outside the journal", e.Seq, e.Kind, private)
			}
		}
	}
	if last := events[len(events)-1]; last.Kind != job.Signed || !strings.Contains(string(last.Body), `"report":{"format":1`) {
		t.Errorf("the last event is %s: %.200s", last.Kind, last.Body)
	}
	// A signature is not taken back; whoever goes on says why.
	f.Set("seen", "99")
	if a := s.get(t, at+"/log"); strings.Contains(a.body, "Take back the last") {
		t.Error("a signature could be taken back")
	}
	s.reopen(t, at, "the customer asked for another look", "not-said")
	s.read(t, at, "idle-volts", "13.9", "5").want(t, 303)
	s.get(t, at+"/report").want(t, 200, "Sign it off")
}

// TestProblemsAtTheField: a form that cannot be meant is answered with every
// problem at once, with what was typed, and records nothing.
func TestProblemsAtTheField(t *testing.T) {
	s := theShop(t)
	f := s.get(t, "/jobs/new").form(t, "/jobs", "volts", "twelve", "ambient", "900", "note", strings.Repeat("x", 501), "system", "none")
	a := s.ask(t, http.MethodPost, "/jobs", f).want(t, 422, "Choose what the driver says", "Choose the charging system", "Tick at least one meter", "twelve", "Nobody works at", "501 characters, and 500 is the most", "Nothing was recorded")
	if n := strings.Count(a.body, `aria-invalid="true"`); n != 3 {
		t.Errorf("%d boxes are marked, want 3", n)
	}
	f = s.get(t, "/jobs/new").form(t, "/jobs", "volts", "420 V", "system", "isolated-earth-side")
	s.ask(t, http.MethodPost, "/jobs", f).want(t, 422, "The vehicle has 420", "the system chosen is for 12")
	at := s.newJob(t)
	a = s.read(t, at, "charge-volts", "lots", "").want(t, 422, "“lots”", "Output amps is missing")
	if n := strings.Count(a.body, `class="wrong" id="v`); n != 2 {
		t.Errorf("%d problems stand at their boxes, want 2", n)
	}
	if len(s.events(t, at)) != 1 {
		t.Error("something was recorded")
	}
}

// TestOddValues: a value that nobody expects is asked about; it can be put
// right with one tap, or kept.
func TestOddValues(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12400", "u0", "V")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 422, "Nobody expects more than", "Keep it as it is")
	f.Set("is0", "12.4 V")
	to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	s.get(t, to).want(t, 200, "12.40")

	other := s.newJob(t)
	f = s.get(t, other+"?key=do:battery-rest-volts").form(t, other+"/readings", "v0", "1240", "u0", "V")
	s.ask(t, http.MethodPost, other+"/readings", f).want(t, 422, "ends at 600 V", "Probably a slip of the point", `value="12.4`)
	f.Set("sure", "yes")
	s.ask(t, http.MethodPost, other+"/readings", f).want(t, 303)
}

// TestSlipIsPutRightWithOneTap: a reading that was kept with the wrong sign says what it
// probably was, is corrected with one press, and is the first thing to do until then.
func TestSlipIsPutRightWithOneTap(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "-12.21", "u0", "V")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 422, "Probably the leads the other way round", "Keep it as it is")
	f.Set("sure", "yes")
	to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	said := s.get(t, to).want(t, 200, "Next: Battery voltage, engine off", "probably 12.21", "Correct it to 12.21")
	s.get(t, at).want(t, 200, "take it again with the leads re-seated")
	mend := said.form(t, to+"/correct")
	if v := mend.Get("v0"); v != "12.21 V" {
		t.Errorf("it would be corrected to %q", v)
	}
	s.ask(t, http.MethodPost, to+"/correct", mend).want(t, 303)
	if a := s.get(t, to).want(t, 200, "12.21"); strings.Contains(a.body, "Correct it to") || strings.Contains(a.body, "Next: Battery voltage, engine off") {
		t.Error("a reading that was put right is doubted still")
	}
}

// TestNotSureKeepsWhatWasTyped: whoever looks up what is fitted from a new job's form
// comes back to it with everything that he had typed, and with the system that was found.
// None of it stands in an address.
func TestNotSureKeepsWhatWasTyped(t *testing.T) {
	s := theShop(t)
	typed := []string{"words", "dim at idle, she says", "kind", "low-charge", "note", "tipper", "plate", "AB 12", "volts", "12 V", "ambient", "18", "when", "always", "job", "B 44"}
	form := s.get(t, "/jobs/new").want(t, 200, `formaction="/fitted"`).form(t, "/jobs", typed...)
	form.Del("meter")
	form.Add("meter", "hydrometer")
	fitted := s.ask(t, http.MethodPost, "/fitted", form).want(t, 200, "Which arrangement is fitted", "Back to the new job")
	looked := fitted.form(t, "/fitted", "terminals", "one-blade", "regulator", "contacts")
	found := s.ask(t, http.MethodPost, "/fitted", looked).want(t, 200, "Take system: supply-side-contact")
	all := found.form(t, "/jobs/new")
	all.Set("system", "supply-side-contact") // the button that is pressed
	back := s.ask(t, http.MethodPost, "/jobs/new", all).want(t, 200)
	for _, x := range []string{
		`value="dim at idle, she says"`, `value="tipper"`, `value="AB 12"`, `value="12 V"`, `value="18"`, `value="B 44"`,
		`value="low-charge" checked`, `value="always" checked`, `value="supply-side-contact" checked`, `value="hydrometer" checked`,
	} {
		if !strings.Contains(back.body, x) {
			t.Errorf("the form does not say %s any more", x)
		}
	}
	if strings.Contains(back.body, `value="dmm" checked`) {
		t.Error("a meter is ticked that was not")
	}
	again := back.form(t, "/jobs", append(typed, "system", "supply-side-contact", "meter", "dmm")...)
	at := s.ask(t, http.MethodPost, "/jobs", again).want(t, 303).Get("Location")
	s.get(t, at).want(t, 200, "dim at idle, she says")
}

// TestRepairsAreGrouped: repairs stand by where they are done, and a word finds one
// without script; what was chosen before stays chosen.
func TestRepairsAreGrouped(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.get(t, at+"/repair").want(t, 200, `<optgroup label="Likely now">`, `<optgroup label="Earths">`, "Clean and bolt the engine earth")
	found := s.get(t, at+"/repair?q=BULKHEAD&mend=fit-belt").want(t, 200, "Mend the bulkhead connector", `value="fit-belt" selected`, "1 with these words")
	if strings.Contains(found.body, "Clean and bolt the engine earth") {
		t.Error("a repair without the word is listed")
	}
	s.get(t, at+"/repair?q=gearbox").want(t, 200, "None has these words")
}

// TestEntry: the ways in which a value may be typed.
func TestEntry(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	for _, c := range []struct {
		typed, symbol, shown string
	}{
		{"12.41", "V", "12.41"}, {"12,43 V", "mV", "12.43"}, {"12440", "mV", "12.44"}, {"again", "V", "12.44"}, {"12.3 to 12.5", "V", "12.3"}, {"under 12", "V", "under 12"},
	} {
		f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", c.typed, "u0", c.symbol)
		to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
		if a := s.get(t, to); !strings.Contains(a.body, c.shown) {
			t.Errorf("%q %s is shown as %s", c.typed, c.symbol, firstWords(a.body))
		}
	}
	// One that would not hold still.
	f := s.get(t, at+"/could-not?key=do:drop-feed").form(t, at+"/readings", "lo0", "0.3", "hi0", "0.5", "lo1", "20", "hi1", "22")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303)
}

// TestSentTwice: a form that is sent again records nothing again and leads to
// the same place; the same event with something else in it is a conflict.
func TestSentTwice(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.5")
	first := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	again := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	if first != again || len(s.events(t, at)) != 2 {
		t.Errorf("%s, then %s, %d events", first, again, len(s.events(t, at)))
	}
	f.Set("v0", "12.6")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 409, "sent before")

	intake := s.get(t, "/jobs/new").form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm", "plate", "ZZ 1")
	a := s.ask(t, http.MethodPost, "/jobs", intake).want(t, 303).Get("Location")
	if b := s.ask(t, http.MethodPost, "/jobs", intake).want(t, 303).Get("Location"); a != b {
		t.Errorf("opened %s and %s", a, b)
	}
	hook := s.get(t, at+"?key=do:drop-feed").form(t, at+"/hook-up", "line", "2")
	s.ask(t, http.MethodPost, at+"/hook-up", hook).want(t, 303)
	s.ask(t, http.MethodPost, at+"/hook-up", hook).want(t, 303)
	if n := len(s.events(t, at)); n != 3 {
		t.Errorf("%d events after a hook-up sent twice, want 3", n)
	}
}

// TestTwoWriters: who did not know the last event is shown it, and may enter
// theirs on top.
func TestTwoWriters(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	mine := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.41", "u0", "V")
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	a := s.ask(t, http.MethodPost, at+"/readings", mine).want(t, 409, "Somebody else was here", "Belt", "Show it", "Enter mine on top")
	if len(s.events(t, at)) != 2 {
		t.Fatal("it was recorded all the same")
	}
	f := a.form(t, at+"/readings")
	for _, m := range hiddenField.FindAllStringSubmatch(a.body, -1) {
		if m[1] == "key" || m[1] == "reading" {
			f.Set(m[1], m[2])
		}
	}
	f.Set("v0", "12.41")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303)
	if len(s.events(t, at)) != 3 {
		t.Error("it was not recorded on top")
	}
}

// TestUndo: the last entry is taken back; nothing is rubbed out.
func TestUndo(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	f := s.get(t, at+"/log").want(t, 200, "Take back the last: a reading").form(t, at+"/undo")
	s.ask(t, http.MethodPost, at+"/undo", f).want(t, 303)
	s.get(t, at).want(t, 200, "before any reading")
	s.get(t, at+"/log").want(t, 200, `class="back"`, "The last entry taken back")
	s.get(t, at+"/readings/r1").want(t, 410, "It was taken back", "12.41", "Enter it again")
	if n := len(s.events(t, at)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
	s.read(t, at, "battery-rest-volts", "12.5").want(t, 303)
	s.get(t, at+"/readings/r2").want(t, 200, "12.50")
}

// TestFree: two taps make a reading; what cannot be read or would hurt is
// refused with its reason.
func TestFree(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.get(t, at+"/free").want(t, 200, "Tap where the red lead goes", "red=stud")
	s.get(t, at+"/free?kind=volts&red=stud").want(t, 200, "Tap where the black lead goes", "black=batp")
	a := s.get(t, at+"/free?kind=volts&red=stud&black=batp").want(t, 200, "Enter")
	f := a.form(t, at+"/readings", "v0", "0.02", "u0", "V")
	to := s.ask(t, http.MethodPost, at+"/readings", f).want(t, 303).Get("Location")
	s.get(t, to).want(t, 200, "20.0")
	for query, why := range map[string]string{
		"kind=volts&red=stud&black=stud":   "same point",
		"kind=volts&red=stud&black=moon":   "no point called moon",
		"kind=volts&red=ring-a&black=batn": "inside the alternator",
		"kind=amps&through=none":           "no wire called none",
		"kind=amps&red=stud&black=batp":    "Choose the wire",
	} {
		s.get(t, at+"/free?"+query).want(t, 422, "Not like this.", why)
	}
	// Ohms lead to a dead circuit first.
	s.get(t, at+"/free?kind=ohms&red=f1&black=f2").want(t, 200, "Earth cable off the battery first of all", "Ohms only with the circuit dead")
	s.get(t, at+"/free?kind=amps&through=w-charge").want(t, 200, "Enter")
}

// TestRefusedVehicle: a vehicle that the system cannot stand for is refused with
// words, and its log can still be read.
func TestRefusedVehicle(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "note", "hybrid saloon")
	s.get(t, at).want(t, 200, "Not on this vehicle", "high voltage")
	s.get(t, at+"/log").want(t, 200, "Log")
	s.get(t, at+"/proof").want(t, 422, "high voltage")
}

// TestHostileText: whatever is written comes back as text.
func TestHostileText(t *testing.T) {
	s := theShop(t)
	const evil = `"><script>alert(1)</script><img src=x onerror=alert(2)>'`
	at := s.newJob(t, "job", evil, "note", evil, "words", evil, "customer", evil, "plate", evil, "contact", evil)
	s.read(t, at, "battery-rest-volts", "12.4").want(t, 303)
	f := s.get(t, at+"/readings/r1/correct").form(t, "", "v0", "12.5 V", "why", evil)
	s.ask(t, http.MethodPost, at+"/readings/r1/correct", f).want(t, 303)
	f = s.get(t, at+"/could-not?key=do:drop-feed").form(t, "", "procedure", "drop-feed", "own", evil)
	s.ask(t, http.MethodPost, at+"/could-not", f).want(t, 303)
	f = s.get(t, at+"/repair").form(t, "", "what", evil, "cured", "unknown")
	s.ask(t, http.MethodPost, at+"/repair", f).want(t, 303)
	f = s.get(t, at+"/log").form(t, at+"/wait", "for", "part", "what", evil)
	s.ask(t, http.MethodPost, at+"/wait", f).want(t, 303)
	wrong := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", evil)
	pages := []answer{s.ask(t, http.MethodPost, at+"/readings", wrong), s.ask(t, http.MethodPost, "/systems/check", url.Values{"source": {evil}, "id": {evil}})}
	for _, p := range []string{"", "/log", "/proof", "/report", "/else", "/repair", "/stands", "/readings/r1", "/readings/r1/correct", "/could-not?key=do:drop-feed", "/free?red=" + url.QueryEscape(evil), "?key=" + url.QueryEscape("do:"+evil)} {
		pages = append(pages, s.get(t, at+p))
	}
	pages = append(pages, s.get(t, "/"), s.get(t, "/?q="+url.QueryEscape(evil)), s.get(t, "/sign-in?to="+url.QueryEscape(evil)), s.get(t, "/jobs/"+url.PathEscape(evil)))
	seen := false
	for _, a := range pages {
		if strings.Contains(a.body, "<script>alert") || strings.Contains(a.body, "<img") {
			t.Errorf("it came back as code:\n%s", a.body[:min(len(a.body), 400)])
		}
		seen = seen || strings.Contains(a.body, "&lt;script&gt;alert")
	}
	if !seen {
		t.Error("the text is on no page at all: this test looks at the wrong thing")
	}
	s.get(t, at+"/report.pdf").want(t, 200, "%PDF-")
}

// TestFromElsewhere: a form from another origin records nothing.
func TestFromElsewhere(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.5")
	for name, set := range map[string]func(*http.Request){
		"fetch metadata": func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"origin":         func(r *http.Request) { r.Header.Set("Origin", "http://other.example") },
	} {
		s.ask(t, http.MethodPost, at+"/readings", f, set).want(t, 403, "came from elsewhere")
		if len(s.events(t, at)) != 1 {
			t.Fatalf("%s: it was recorded", name)
		}
	}
	s.ask(t, http.MethodPost, at+"/readings", f, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-origin") }).want(t, 303)
}

// TestCannotFollow: what does not fit the job is not recorded, whoever made the
// form.
func TestCannotFollow(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	f := s.get(t, at+"/stands").form(t, "", "p-ignition", "sideways")
	s.ask(t, http.MethodPost, at+"/stands", f).want(t, 422, "cannot follow what stands", "no position sideways", "It stands so")
	f = s.get(t, at+"?key=do:battery-rest-volts").form(t, at+"/readings", "v0", "12.5")
	f.Set("reading", "../x")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 422, "not whole")
	f.Set("event", "x")
	s.ask(t, http.MethodPost, at+"/readings", f).want(t, 400, "not whole")
	if n := len(s.events(t, at)); n != 1 {
		t.Errorf("%d events, want the opening alone", n)
	}
}

// TestTooLarge: more than a form can hold is not read.
func TestTooLarge(t *testing.T) {
	s := theShop(t)
	s.ask(t, http.MethodPost, "/jobs", url.Values{"note": {strings.Repeat("x", mostBody)}}).want(t, 413)
}

// TestTwoDevices: a device sees within a second what another one entered, and
// the stream ends when the server does.
func TestTwoDevices(t *testing.T) {
	s := theShop(t)
	server := httptest.NewServer(s)
	defer server.Close()
	at := s.newJob(t)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+at+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if a.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("type %s", a.Header.Get("Content-Type"))
	}
	lines := make(chan string)
	go func() {
		defer close(lines)
		for in := bufio.NewScanner(a.Body); in.Scan(); {
			if data, ok := strings.CutPrefix(in.Text(), "data: "); ok {
				lines <- data
			}
		}
	}()
	wait := func(want string) {
		t.Helper()
		began := time.Now()
		select {
		case got := <-lines:
			if got != want {
				t.Errorf("told %s, want %s", got, want)
			}
			// The bar is a second; a loaded machine is no reason to fail.
			t.Logf("told %s after %v", got, time.Since(began).Round(time.Millisecond))
		case <-time.After(time.Minute):
			t.Fatalf("nothing was told; want %s", want)
		}
	}
	wait("1")
	s.read(t, at, "look-belt", "sound and tight").want(t, 303)
	wait("2")
}
