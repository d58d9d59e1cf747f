package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"chargewright/job"
)

// identifiedIn is what an event says was identified.
func identifiedIn(t *testing.T, e job.Event) job.IdentifiedBody {
	t.Helper()
	var b job.IdentifiedBody
	if err := json.Unmarshal(e.Body, &b); err != nil || e.Kind != job.Identified {
		t.Fatalf("event %d is %s: %s (%v)", e.Seq, e.Kind, e.Body, err)
	}
	return b
}

// TestOpenedByLooks: what was seen before a job was opened travels with the form,
// through every way there is, and stands in the journal right behind the opening,
// in the log, the record and its table.
func TestOpenedByLooks(t *testing.T) {
	s := theShop(t)
	typed := []string{"kind", "low-charge", "words", "dim at idle", "meter", "dmm"}
	// From /fitted to a new job.
	found := s.get(t, "/fitted?terminals=two-blades&regulator=sealed").want(t, 200, "Take system: isolated-earth-side")
	to := "/jobs/new?system=isolated-earth-side&amp;look-regulator=sealed&amp;look-terminals=two-blades"
	if !strings.Contains(found.body, `href="`+to+`"`) {
		t.Fatalf("no way leads to %s", to)
	}
	form := s.get(t, strings.ReplaceAll(to, "&amp;", "&")).want(t, 200, "goes into the journal with the job", "Two field blades", "Look again at what is fitted")
	open := form.form(t, "/jobs", append(typed, "system", "isolated-earth-side")...)
	// Once more to the looks, another one answered, and back.
	again := s.ask(t, http.MethodPost, "/fitted", open).want(t, 200, `value="two-blades" checked`, `value="sealed" checked`)
	looked := again.form(t, "/fitted", "terminals", "two-blades", "regulator", "sealed", "number", "yes")
	back := s.ask(t, http.MethodPost, "/fitted", looked).want(t, 200).form(t, "/jobs/new", "system", "isolated-earth-side")
	full := s.ask(t, http.MethodPost, "/jobs/new", back).want(t, 200, "dim at idle", "goes into the journal with the job").form(t, "/jobs", append(typed, "system", "isolated-earth-side")...)
	if full.Get("look-number") != "yes" || full.Get("look-terminals") != "two-blades" {
		t.Fatalf("the form carries %v", full)
	}
	// A form with a problem keeps them.
	wrong := url.Values{}
	for k, v := range full {
		wrong[k] = v
	}
	wrong.Del("meter")
	if kept := s.ask(t, http.MethodPost, "/jobs", wrong).want(t, 422, "Tick at least one meter").form(t, "/jobs"); kept.Get("look-number") != "yes" {
		t.Error("with a problem in the form the looks are gone")
	}
	at := s.ask(t, http.MethodPost, "/jobs", full).want(t, 303).Get("Location")
	s.ask(t, http.MethodPost, "/jobs", full).want(t, 303) // sent twice is once
	events := s.events(t, at)
	if len(events) != 2 {
		t.Fatalf("%d events, want 2", len(events))
	}
	b := identifiedIn(t, events[1])
	if b.System != "isolated-earth-side" || len(b.Looks) != 3 || b.Other != nil || b.Probability < 0.5 {
		t.Errorf("%+v", b)
	}
	s.get(t, at+"/log").want(t, 200, "Identified by 3 looks", "Two field blades", "likely by what was seen")
	s.get(t, at+"/record").want(t, 200, "Identified by 3 looks", "Two field blades")
	s.get(t, at+"/record.json").want(t, 200, `"kind": "identified"`)
	s.get(t, at+"/record.csv").want(t, 200, "Identified by 3 looks", "two field blades")
	s.get(t, at+"/record.pdf").want(t, 200, "%PDF-")
	s.get(t, at+"/export").want(t, 200, `"kind":"identified"`)
	// Looks that are none are said to be, and the form goes on without them.
	full.Set("event", "e-44556677")
	full.Set("job", "LOOKS 2")
	full.Set("look-number", "perhaps")
	s.ask(t, http.MethodPost, "/jobs", full).want(t, 422, "cannot be read any more")
	// A job that nobody looked at has no such event.
	if n := len(s.events(t, s.newJob(t))); n != 1 {
		t.Errorf("without a look %d events", n)
	}
}

// TestIdentifiedAfterwards: what a job is on is confirmed by looks later; where
// they speak for something else, nothing is recorded, and the page says what to do.
func TestIdentifiedAfterwards(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	s.get(t, at).want(t, 200, `href="`+at+`/identified"`)
	s.get(t, at+"/identified").want(t, 200, "Look next")
	page := s.get(t, at+"/identified?terminals=two-blades&regulator=sealed").want(t, 200, "likely by what was seen")
	form := page.form(t, at+"/identified")
	s.ask(t, http.MethodPost, at+"/identified", form).want(t, 303)
	s.ask(t, http.MethodPost, at+"/identified", form).want(t, 303)
	events := s.events(t, at)
	if b := identifiedIn(t, events[1]); len(events) != 2 || len(b.Looks) != 2 {
		t.Errorf("%d events, %+v", len(events), b)
	}
	s.get(t, at+"/identified").want(t, 200, "Identified by 2 looks")
	other := s.get(t, at+"/identified?terminals=one-blade&regulator=contacts&number=yes").want(t, 200,
		"it speaks more for: field earthed inside", "A job stays on the arrangement that it was opened with", "New job on supply-side-contact", "look-terminals=one-blade", "Put the vehicle back as it rolled in first")
	if strings.Contains(other.body, "Write into the journal") {
		t.Error("what is not so can be confirmed")
	}
	f := url.Values{"event": {"e-66778899"}, "seen": {"2"}, "look-terminals": {"one-blade"}, "look-regulator": {"contacts"}}
	s.ask(t, http.MethodPost, at+"/identified", f).want(t, 422, "Nothing was recorded", "speaks for another arrangement")
	f.Set("look-terminals", "moon")
	s.ask(t, http.MethodPost, at+"/identified", f).want(t, 422, "none of its answers")
	s.get(t, at+"/identified?terminals=moon").want(t, 422, "none of its answers")
	f = url.Values{"event": {"e-66778899"}, "seen": {"2"}}
	s.ask(t, http.MethodPost, at+"/identified", f).want(t, 422, "Say what was seen first")
	if n := len(s.events(t, at)); n != 2 {
		t.Errorf("%d events, want 2", n)
	}
	s.undoLast(t, at)
	s.asMadeAnew(t, at)
}

// TestReopen: on a signed job nothing is offered but to open it again, with a
// reason; then the sheet that was signed stays, and another proof and signature
// are asked for.
func TestReopen(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t, "note", "Van that came back")
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	s.signOff(t, at)
	for _, p := range []string{"/stands", "/could-not?key=do:drop-feed", "/else", "/free", "/repair", "/identified", "/readings/r1/correct", "?key=do:drop-feed"} {
		s.get(t, at+p).want(t, 409, "The job is signed", "reopen it first", "Reopen it")
	}
	for _, p := range []string{"", "/log", "/proof", "/report", "/readings/r1"} {
		body := s.get(t, at+p).want(t, 200).body
		for _, way := range []string{"/repair", "/else", "/stands", "/correct", "/identified", "/readings\"", "/hook-up", at + `/proof" class`, "?key="} {
			if strings.Contains(body, at+way) {
				t.Errorf("%s: the page of a signed job leads to %s", p, way)
			}
		}
	}
	s.get(t, at).want(t, 200, "Signed off", `href="`+at+`/reopen"`)
	empty := s.get(t, at+"/reopen").want(t, 200, "None was recorded here").form(t, at+"/reopen", "why", "  ", "complaint", "not-said")
	s.ask(t, http.MethodPost, at+"/reopen", empty).want(t, 422, "Say why it is reopened")
	empty.Set("why", strings.Repeat("x", 501))
	s.ask(t, http.MethodPost, at+"/reopen", empty).want(t, 422, "500 is the most")
	if n := len(s.events(t, at)); n != 3 || s.stateIn(t, at) != stateSigned {
		t.Fatalf("%d events", n)
	}
	for _, complaint := range []string{"", "again"} {
		empty.Set("why", "came back")
		empty.Set("complaint", complaint)
		s.ask(t, http.MethodPost, at+"/reopen", empty).want(t, 422, "Say what the complaint does now", `value="came back"`)
	}
	sheet, _, _ := strings.Cut(s.get(t, at+"/signed/3").want(t, 200).body, `id="signed"`)
	stale := s.get(t, at+"/reopen").form(t, at+"/reopen", "why", "the other desk", "complaint", "back")
	s.reopen(t, at, "came back, same complaint", "not-said")
	s.ask(t, http.MethodPost, at+"/reopen", stale).want(t, 409, "Somebody else was here", "came back, same complaint")
	if last := s.events(t, at)[3]; last.Kind != job.Reopened || s.stateIn(t, at) != stateReady {
		t.Errorf("the last event is %s", last.Kind)
	}
	s.get(t, at+"/log").want(t, 200, "Reopened", "came back, same complaint")
	s.get(t, at+"/record").want(t, 200, "Reopened", "came back, same complaint", "Signed off")
	s.get(t, at+"/report").want(t, 200, "It was signed before", "It was reopened: Came back, same complaint.", "Sign it off", "Sheet 1, signed")
	if now, _, _ := strings.Cut(s.get(t, at+"/signed/3").want(t, 200, "12.41").body, `id="signed"`); paperOf(now) != paperOf(sheet) {
		t.Error("the signed sheet is not what it was")
	}
	s.asMadeAnew(t, at)
	s.read(t, at, "battery-rest-volts", "12.55").want(t, 303)
	s.signOff(t, at)
	s.get(t, at+"/report").want(t, 200, "Sheet 2, signed")
	// Taken back, the signature before it stands again.
	other := s.newJob(t)
	fix := s.get(t, other+"/repair").form(t, other+"/repair", "what", "cleaned it", "cured", "yes")
	s.ask(t, http.MethodPost, other+"/repair", fix).want(t, 303)
	s.signOff(t, other)
	s.reopen(t, other, "a slip", "not-back")
	if got := s.stateIn(t, other); got != stateReady {
		t.Errorf("mended, signed and reopened it stands under %q", stateNames[got])
	}
	s.get(t, other+"/proof").want(t, 200, "complaint gone: yes.")
	s.read(t, other, "battery-rest-volts", "12.55").want(t, 303)
	if got := s.stateIn(t, other); got != stateReady {
		t.Errorf("with a reading since it stands under %q", stateNames[got])
	}
	s.undoLast(t, other)
	s.undoLast(t, other)
	if s.stateIn(t, other) != stateSigned {
		t.Error("with the reopening taken back it is not signed")
	}
	s.get(t, other+"/report").want(t, 200, "Reopen the job")
}

// paperOf is the sheet on a page, without what stands around it.
func paperOf(body string) string {
	_, paper, _ := strings.Cut(body, "What was wrong")
	return paper
}

// TestWhoReopens: whoever may sign may reopen; others are told who does, and take
// back no reopening.
func TestWhoReopens(t *testing.T) {
	s, cookies := staffed(t)
	s.readyFrom(t, theShop(t))
	owner, apprentice := with(cookies["o"]), with(cookies["p"])
	get := func(path string, as func(*http.Request)) answer { return s.ask(t, http.MethodGet, path, nil, as) }
	f := get("/jobs/new", owner).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, owner).want(t, 303).Get("Location")
	f = get(at+"/report", owner).form(t, at+"/sign", "gone", "yes")
	s.ask(t, http.MethodPost, at+"/sign", f, owner).want(t, 303)
	told := get(at+"/else", apprentice).want(t, 409, "Whoever proves and signs jobs here reopens it")
	if strings.Contains(told.body, at+"/reopen") {
		t.Error("the apprentice is shown a way to reopen")
	}
	f = url.Values{"event": {"e-99887766"}, "seen": {"2"}, "why": {"mine"}}
	s.ask(t, http.MethodPost, at+"/reopen", f, apprentice).want(t, 403)
	f = get(at+"/reopen", with(cookies["t"])).want(t, 200, "by Owner").form(t, at+"/reopen", "why", "came back", "complaint", "back")
	s.ask(t, http.MethodPost, at+"/reopen", f, with(cookies["t"])).want(t, 303)
	undo := get(at+"/log", owner).want(t, 200, "the reopening").form(t, at+"/undo")
	s.ask(t, http.MethodPost, at+"/undo", undo, apprentice).want(t, 403, "For proving and signing ask")
}
