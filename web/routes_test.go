package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// row is what a test asks of one route.
type row struct {
	path  string
	form  func(t *testing.T, s *shop) url.Values // of a POST
	code  int
	texts []string
}

// rows has one row for each route. J stands for the address of a job with a
// reading r1.
var rows = map[string]row{
	"GET /healthz":                                {"/healthz", nil, 200, []string{"answers"}},
	"GET /metrics":                                {"/metrics", nil, 404, nil}, // nothing is counted there; TestMetrics
	"GET /static/":                                {"/static/any/app.js", nil, 200, []string{"EventSource"}},
	"GET /favicon.ico":                            {"/favicon.ico", nil, 301, nil},
	"GET /worker.js":                              {"/worker.js", nil, 200, []string{"const version = ", "offline.js", "respondWith"}},
	"POST /jobs/{job}/waiting":                    {"J/waiting", plainForm("event", "e-12345678", "seen", "1", "taken", "1", "at", "2026-11-25T14:05:00+01:00", "key", "do:battery-rest-volts", "v0", "lots"), 422, []string{"Write instead"}},
	"GET /sign-in":                                {"/sign-in", nil, 303, nil},
	"POST /sign-in":                               {"/sign-in", plainForm(), 303, nil},
	"POST /sign-in/passkey/ask":                   {"/sign-in/passkey/ask", plainForm(), 404, nil}, // nobody signs in there: TestPasskeys
	"POST /sign-in/passkey":                       {"/sign-in/passkey", plainForm(), 303, nil},
	"POST /account/passkeys/ask":                  {"/account/passkeys/ask", plainForm(), 404, nil},
	"POST /account/passkeys":                      {"/account/passkeys", plainForm(), 404, nil},
	"POST /account/passkeys/{passkey}/name":       {"/account/passkeys/x/name", plainForm(), 404, nil},
	"POST /account/passkeys/{passkey}/remove":     {"/account/passkeys/x/remove", plainForm(), 404, nil},
	"POST /people/{person}/no-passkeys":           {"/people/x/no-passkeys", plainForm(), 404, nil},
	"GET /owner/{token}":                          {"/owner/x", nil, 404, nil},
	"POST /owner/{token}":                         {"/owner/x", plainForm(), 404, nil},
	"GET /join/{token}":                           {"/join/x", nil, 404, nil}, // nobody signs in there, as on the pages of people: TestPeople
	"POST /join/{token}":                          {"/join/x", plainForm(), 404, nil},
	"GET /account":                                {"/account", nil, 404, nil},
	"POST /account/password":                      {"/account/password", plainForm(), 404, nil},
	"POST /account/sign-out-everywhere":           {"/account/sign-out-everywhere", plainForm(), 404, nil},
	"GET /instruments":                            {"/instruments", nil, 200, []string{"Enter another one"}},
	"POST /instruments/here":                      {"/instruments/here", plainForm(), 303, nil},
	"GET /instruments/new":                        {"/instruments/new?meter=dmm", nil, 200, []string{"Its own accuracy"}},
	"POST /instruments":                           {"/instruments", plainForm("event", "e-24681357", "seen", "0", "meter", "dmm"), 422, []string{"Write what it is called here"}},
	"GET /instruments/{instrument}":               {"/instruments/none", nil, 404, []string{"no such instrument"}},
	"POST /instruments/{instrument}":              {"/instruments/none", plainForm(), 404, []string{"no such instrument"}},
	"GET /people":                                 {"/people", nil, 404, nil},
	"POST /people":                                {"/people", plainForm(), 404, nil},
	"GET /people/{person}":                        {"/people/x", nil, 404, nil},
	"POST /people/{person}/role":                  {"/people/x/role", plainForm(), 404, nil},
	"POST /people/{person}/link":                  {"/people/x/link", plainForm(), 404, nil},
	"POST /people/{person}/uninvite":              {"/people/x/uninvite", plainForm(), 404, nil},
	"POST /people/{person}/withdraw":              {"/people/x/withdraw", plainForm(), 404, nil},
	"POST /sign-out":                              {"/sign-out", plainForm(), 303, nil},
	"POST /views":                                 {"/views", plainForm("theme", "sun", "to", "/keys"), 303, nil},
	"GET /keys":                                   {"/keys", nil, 200, []string{"Turn single keys off"}},
	"GET /{$}":                                    {"/", nil, 200, []string{"New job"}},
	"GET /jobs/new":                               {"/jobs/new", nil, 200, []string{"What the driver says", "Meters to hand"}},
	"POST /jobs":                                  {"/jobs", plainForm("event", "e-12345678", "seen", "0"), 422, []string{"Choose what the driver says", "Choose the charging system", "Tick at least one meter"}},
	"GET /jobs/{job}":                             {"J", nil, 200, []string{"Hook-up now", "What to expect", "Likely causes", "Minutes and money"}},
	"POST /jobs/{job}/hook-up":                    {"J/hook-up", on("J?key=do:drop-feed", "J/hook-up", "line", "2"), 303, nil},
	"GET /jobs/{job}/stands":                      {"J/stands", nil, 200, []string{"Regulator plug"}},
	"POST /jobs/{job}/stands":                     {"J/stands", on("J/stands", "", "p-ignition", "off"), 303, nil},
	"POST /jobs/{job}/preview":                    {"J/preview", on("J?key=do:battery-rest-volts", "J/readings", "v0", "12.1", "u0", "V"), 200, []string{"If this is entered"}},
	"POST /jobs/{job}/readings":                   {"J/readings", on("J?key=do:battery-rest-volts", "J/readings", "v0", ""), 422, []string{"is missing"}},
	"GET /jobs/{job}/readings/{reading}":          {"J/readings/r1", nil, 200, []string{"What it did to the causes", "12.20"}},
	"GET /jobs/{job}/readings/{reading}/correct":  {"J/readings/r1/correct", nil, 200, []string{"stays in the journal"}},
	"POST /jobs/{job}/readings/{reading}/correct": {"J/readings/r1/correct", on("J/readings/r1/correct", "", "v0", "x"), 422, []string{"Say why", "Write instead"}},
	"GET /jobs/{job}/could-not":                   {"J/could-not?key=do:drop-feed", nil, 200, []string{"Cannot reach the point", "It would not hold still"}},
	"POST /jobs/{job}/could-not":                  {"J/could-not?key=do:drop-feed", on("J/could-not?key=do:drop-feed", "", "why", "cannot reach the point"), 303, nil},
	"GET /jobs/{job}/else":                        {"J/else", nil, 200, []string{"On the bench", "Read between two points"}},
	"GET /jobs/{job}/free":                        {"J/free?red=stud&black=batp", nil, 200, []string{"Enter"}},
	"GET /jobs/{job}/log":                         {"J/log", nil, 200, []string{"nothing is ever rubbed out", "Journal head"}},
	"POST /jobs/{job}/undo":                       {"J/undo", on("J/log", "J/undo"), 303, nil},
	"POST /jobs/{job}/wait":                       {"J/wait", on("J/log", "J/wait", "for", "part", "what", "brushes"), 303, nil},
	"GET /jobs/{job}/repair":                      {"J/repair?mend=clean-clamps", nil, 200, []string{"Is the complaint gone?"}},
	"POST /jobs/{job}/repair":                     {"J/repair", on("J/repair", ""), 422, []string{"Choose what was done", "Say whether the complaint is gone"}},
	"GET /jobs/{job}/proof":                       {"J/proof", nil, 200, []string{"taken since the last repair", "Take it"}},
	"POST /jobs/{job}/proof":                      {"J/proof", on("J/proof", ""), 422, []string{"go back on", "come off"}},
	"GET /jobs/{job}/report":                      {"J/report", nil, 200, []string{"What was wrong", "Sign it off"}},
	"GET /jobs/{job}/report.pdf":                  {"J/report.pdf", nil, 200, []string{"%PDF-"}},
	"GET /jobs/{job}/report.json":                 {"J/report.json", nil, 200, []string{`"format": 1`}},
	"GET /jobs/{job}/record":                      {"J/record", nil, 200, []string{"Technician&#39;s record", "What happened, in order", "Content sha256"}},
	"GET /jobs/{job}/record.pdf":                  {"J/record.pdf", nil, 200, []string{"%PDF-"}},
	"GET /jobs/{job}/record.json":                 {"J/record.json", nil, 200, []string{`"events_sha256"`}},
	"GET /jobs/{job}/record.csv":                  {"J/record.csv", nil, 200, []string{"content sha256"}},
	"GET /jobs/{job}/card":                        {"J/card", nil, 200, []string{"Job card", "Hook-up", "Content sha256"}},
	"GET /jobs/{job}/card.pdf":                    {"J/card.pdf", nil, 200, []string{"%PDF-"}},
	"GET /jobs/{job}/card.json":                   {"J/card.json", nil, 200, []string{`"steps"`}},
	"GET /jobs/{job}/export":                      {"J/export", nil, 200, []string{`{"chargewright":"job"`}},
	"GET /jobs/{job}/export-with-customer":        {"J/export-with-customer", nil, 200, []string{`{"chargewright":"job"`}},
	"POST /jobs/{job}/unrecorded/{ticket}":        {"J/unrecorded/none", nil, 303, nil},
	"GET /later/{ticket}":                         {"/later/none", nil, 404, []string{"nothing more to show"}},
	"GET /jobs/{job}/signed/{event}":              {"J/signed/1", nil, 404, []string{"no such sheet"}},
	"GET /jobs/{job}/signed/{event}/report.pdf":   {"J/signed/none/report.pdf", nil, 404, []string{"no such sheet"}},
	"POST /jobs/{job}/sign":                       {"J/sign", on("J/report", "J/sign"), 422, []string{"Say whether the complaint is gone"}},
	"GET /jobs/{job}/reopen":                      {"J/reopen", nil, 200, []string{"The job is open", "nothing to reopen"}},
	"POST /jobs/{job}/reopen":                     {"J/reopen", plainForm("event", "e-13572468", "seen", "2", "why", " "), 422, []string{"The job is open"}}, // TestReopen
	"GET /jobs/{job}/identified":                  {"J/identified?terminals=two-blades&regulator=sealed", nil, 200, []string{"Is it what the job says?", "Write into the journal that it is", "Look next"}},
	"POST /jobs/{job}/identified":                 {"J/identified", plainForm("event", "e-13572469", "seen", "2", "look-terminals", "one-blade", "look-regulator", "contacts"), 422, []string{"speaks for another arrangement"}},
	"GET /fitted":                                 {"/fitted?terminals=one-blade&regulator=contacts", nil, 200, []string{"Field earthed inside, one blade", "Take system: supply-side-contact", "Look next"}},
	"POST /fitted":                                {"/fitted", plainForm("new-words", "dim at idle", "terminals", "one-blade", "regulator", "contacts"), 200, []string{"Take system: supply-side-contact", "dim at idle"}},
	"POST /jobs/new":                              {"/jobs/new", plainForm("new-event", "e-87654321", "new-seen", "0", "new-words", "dim at idle"), 200, []string{"New job", "dim at idle"}},
	"GET /systems":                                {"/systems", nil, 200, []string{"shipped"}},
	"GET /systems/fit":                            {"/systems/fit", nil, 200, []string{"Find the machine"}},
	"POST /systems/fit":                           {"/systems/fit", plainForm("template", "isolated-earth-side"), 422, []string{"outputs", "Write instead"}},
	"GET /systems/{system}":                       {"/systems/" + "isolated-earth-side", nil, 200, []string{"Limits", "Test points", "Faults"}},
	"GET /systems/{system}/edit":                  {"/systems/isolated-earth-side/edit", nil, 200, []string{"Check and keep"}},
	"POST /systems/check":                         {"/systems/check", plainForm("source", "format: 1\nid: x\n"), 422, []string{"a second look", "Line 1"}},
	"POST /systems":                               {"/systems", plainForm("event", "e-87654321", "seen", "0", "source", "format: 1\nname: [\n"), 422, []string{"second look"}},
	"GET /jobs/{job}/live":                        {}, // TestTwoDevices
}

// plainForm is a form that needs no page.
func plainForm(pairs ...string) func(*testing.T, *shop) url.Values {
	return func(*testing.T, *shop) url.Values {
		out := url.Values{}
		for i := 0; i+1 < len(pairs); i += 2 {
			out.Add(pairs[i], pairs[i+1])
		}
		return out
	}
}

// on is the form of a page, filled in.
func on(page, action string, pairs ...string) func(*testing.T, *shop) url.Values {
	return func(t *testing.T, s *shop) url.Values {
		at := rowJob(t, s)
		return s.get(t, strings.ReplaceAll(page, "J", at)).want(t, 200).form(t, strings.ReplaceAll(action, "J", at), pairs...)
	}
}

var rowJobs = map[*testing.T]string{}

// rowJob is the job of a row, opened once.
func rowJob(t *testing.T, s *shop) string {
	t.Helper()
	if rowJobs[t] == "" {
		rowJobs[t] = s.newJob(t)
		s.read(t, rowJobs[t], "charge-volts", "12.20 V", "0.0 A").want(t, 303)
	}
	return rowJobs[t]
}

// TestEveryRoute walks the router's own table: a route without a row fails, and
// so does a row without a route.
func TestEveryRoute(t *testing.T) {
	s := theShop(t)
	looked := rowJob(t, s)
	seen := map[string]bool{}
	for _, r := range s.routes {
		seen[r.pattern] = true
		want, ok := rows[r.pattern]
		if !ok {
			t.Errorf("no test asks for %s", r.pattern)
			continue
		}
		if want.path == "" {
			continue
		}
		t.Run(r.pattern, func(t *testing.T) {
			path := want.path
			method, _, _ := strings.Cut(r.pattern, " ")
			switch {
			case !strings.HasPrefix(path, "J"):
			case want.code != http.StatusSeeOther: // nothing is recorded
				rowJobs[t] = looked
				path = looked + path[1:]
			default:
				path = rowJob(t, s) + path[1:]
			}
			var form url.Values
			if want.form != nil {
				form = want.form(t, s)
			}
			a := s.ask(t, method, path, form).want(t, want.code, want.texts...)
			if a.Get("Content-Security-Policy") != policy || a.Get("X-Content-Type-Options") != "nosniff" {
				t.Error("the headers that keep a page to itself are missing")
			}
			if strings.HasPrefix(a.Get("Content-Type"), "text/html") && a.Get("Location") == "" {
				clean(t, a.body)
			}
		})
	}
	for pattern := range rows {
		if !seen[pattern] {
			t.Errorf("%s is tested and no route", pattern)
		}
	}
}

var (
	styleAttr  = regexp.MustCompile(`<[a-z][^>]*\sstyle\s*=`)
	handlers   = regexp.MustCompile(`<[a-z][^>]*\son[a-z]+\s*=`)
	inlineCode = regexp.MustCompile(`<script(?:\s+defer)?>|<style|javascript:`)
	elsewhere  = regexp.MustCompile(`(?:src|href|action)="(?:https?:)?//`)
	h1         = regexp.MustCompile(`<h1[ >]`)
	badWords   = regexp.MustCompile(`(?i)>[^<]*\b(error|invalid|failed|successful(ly)?)\b[^<]*<`)
)

// clean holds a page against what the policy forbids and what people should not
// read.
func clean(t *testing.T, body string) {
	t.Helper()
	for what, re := range map[string]*regexp.Regexp{"style attribute": styleAttr, "handler": handlers, "inline code": inlineCode, "foreign address": elsewhere, "word": badWords} {
		if m := re.FindString(body); m != "" {
			t.Errorf("%s in a page: %.200s", what, m)
		}
	}
	if n := len(h1.FindAllString(body, -1)); n != 1 {
		t.Errorf("%d headings of the first order, want 1", n)
	}
}

// TestCleanBites: the check of pages sees each offence.
func TestCleanBites(t *testing.T) {
	for body, re := range map[string]*regexp.Regexp{
		`<p style="x">`: styleAttr, `<p class="a" onclick="x">`: handlers, `<script>x</script>`: inlineCode, `<a href="//x.example">`: elsewhere, `<p>It failed.</p>`: badWords,
	} {
		if !re.MatchString(body) {
			t.Errorf("%s is not seen", body)
		}
	}
}

func TestNowhere(t *testing.T) {
	s := theShop(t)
	for _, path := range []string{"/nowhere", "/jobs/none", "/jobs/none/log", "/jobs/none/report.pdf", "/systems/none", "/jobs/systems"} {
		s.get(t, path).want(t, 404)
	}
	at := s.newJob(t)
	s.get(t, at+"/readings/r9").want(t, 404, "no such reading")
	s.get(t, at+"?key=do:none").want(t, 422, "cannot be done now")
	s.get(t, "/static/x/none.css").want(t, 404)
	s.ask(t, http.MethodDelete, at, nil).want(t, 404)
}

// TestFirstLoad: the page of a job with everything it loads stays under 150 KB
// on the wire.
func TestFirstLoad(t *testing.T) {
	s := theShop(t)
	packed := func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip") }
	page := s.ask(t, http.MethodGet, rowJob(t, s)+"?key=do:drop-feed", nil, packed).want(t, 200)
	if page.Get("Content-Encoding") != "gzip" {
		t.Fatal("the page is not compressed")
	}
	total := len(page.body)
	for name := range s.assets.files {
		if strings.HasSuffix(name, ".txt") {
			continue
		}
		a := s.ask(t, http.MethodGet, s.assets.base+name, nil, packed).want(t, 200)
		if !strings.Contains(a.Get("Cache-Control"), "immutable") {
			t.Errorf("%s is loaded anew each time", name)
		}
		total += len(a.body)
	}
	t.Logf("%d bytes, %d of them the page", total, len(page.body))
	if total > 150_000 {
		t.Errorf("%d bytes are loaded first, want under 150000", total)
	}
}
