package web

import (
	"bufio"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"chargewright/account"
	"chargewright/job"
	"chargewright/journal"
)

// whoMay says by letters who may ask for a route, written down from decision note
// 017 and not from the table: o owner, t technician, a adviser, i instructor,
// p apprentice, n nobody signed in.
var whoMay = map[string]string{
	"GET /healthz": "otaipn", "GET /static/": "otaipn", "GET /favicon.ico": "otaipn", "GET /worker.js": "otaipn", "GET /sign-in": "otaipn", "POST /sign-in": "otaipn", "POST /sign-in/passkey/ask": "otaipn", "POST /sign-in/passkey": "otaipn",
	"GET /owner/{token}": "otaipn", "POST /owner/{token}": "otaipn", "GET /join/{token}": "otaipn", "POST /join/{token}": "otaipn",
	"GET /metrics": "o",
	"GET /account": "otaip", "POST /account/password": "otaip", "POST /account/sign-out-everywhere": "otaip",
	"POST /account/passkeys/ask": "otaip", "POST /account/passkeys": "otaip", "POST /account/passkeys/{passkey}/name": "otaip", "POST /account/passkeys/{passkey}/remove": "otaip",
	"POST /sign-out": "otaip", "POST /views": "otaip", "GET /keys": "otaip", "GET /later/{ticket}": "otaip", "POST /jobs/{job}/unrecorded/{ticket}": "otaip",
	"GET /{$}": "otaip", "GET /jobs/{job}": "otaip", "GET /jobs/{job}/live": "otaip", "GET /jobs/{job}/log": "otaip", "GET /jobs/{job}/proof": "otaip",
	"GET /jobs/{job}/readings/{reading}": "otaip", "GET /jobs/{job}/report": "otaip", "GET /jobs/{job}/report.pdf": "otaip", "GET /jobs/{job}/report.json": "otaip",
	"GET /jobs/{job}/record": "otaip", "GET /jobs/{job}/record.pdf": "otaip", "GET /jobs/{job}/record.json": "otaip", "GET /jobs/{job}/record.csv": "otaip",
	"GET /jobs/{job}/card": "otaip", "GET /jobs/{job}/card.pdf": "otaip", "GET /jobs/{job}/card.json": "otaip", "GET /jobs/{job}/export": "otaip",
	"GET /jobs/{job}/signed/{event}": "otaip", "GET /jobs/{job}/signed/{event}/report.pdf": "otaip", "GET /systems": "otaip", "GET /fitted": "otaip", "POST /fitted": "otaip", "GET /systems/{system}": "otaip",
	"GET /jobs/new": "ota", "POST /jobs/new": "ota", "POST /jobs": "ota", "POST /jobs/{job}/wait": "ota", "GET /jobs/{job}/export-with-customer": "ota",
	"POST /jobs/{job}/hook-up": "otp", "GET /jobs/{job}/stands": "otp", "POST /jobs/{job}/stands": "otp", "POST /jobs/{job}/preview": "otp", "POST /jobs/{job}/readings": "otp", "POST /jobs/{job}/waiting": "otp",
	"GET /jobs/{job}/readings/{reading}/correct": "otp", "POST /jobs/{job}/readings/{reading}/correct": "otp", "GET /jobs/{job}/could-not": "otp", "POST /jobs/{job}/could-not": "otp",
	"GET /jobs/{job}/else": "otp", "GET /jobs/{job}/free": "otp", "POST /jobs/{job}/undo": "otp", "GET /jobs/{job}/identified": "otp", "POST /jobs/{job}/identified": "otp",
	"GET /jobs/{job}/repair": "ot", "POST /jobs/{job}/repair": "ot", "POST /jobs/{job}/proof": "ot", "POST /jobs/{job}/sign": "ot", "GET /jobs/{job}/reopen": "ot", "POST /jobs/{job}/reopen": "ot",
	"GET /systems/{system}/edit": "o", "POST /systems/check": "o", "GET /systems/fit": "o", "POST /systems/fit": "o", "POST /systems": "o",
	"GET /instruments": "otaip", "GET /instruments/{instrument}": "otaip", "POST /instruments/here": "otp", "GET /instruments/new": "o", "POST /instruments": "o", "POST /instruments/{instrument}": "o",
	"GET /people": "o", "POST /people": "o", "GET /people/{person}": "o", "POST /people/{person}/role": "o", "POST /people/{person}/link": "o",
	"POST /people/{person}/uninvite": "o", "POST /people/{person}/withdraw": "o", "POST /people/{person}/no-passkeys": "o",
}

const wingLamp = "a lamp on the wing"

var roleOf = map[string]account.Role{"o": account.Owner, "t": account.Technician, "a": account.Adviser, "i": account.Instructor, "p": account.Apprentice}

// staffed is a workshop with somebody of every role, and their cookies by letter.
func staffed(t *testing.T) (*shop, map[string]string) {
	t.Helper()
	s, _ := signedShop(t)
	cookies := map[string]string{"o": session(s.ask(t, http.MethodPost, "/sign-in", enter(wingLamp)).want(t, 303)), "n": ""}
	for letter, role := range roleOf {
		if role == account.Owner {
			continue
		}
		token, _, err := s.accounts.Invite(t.Context(), "", "New one", role)
		if err == nil {
			_, err = s.accounts.Claim(t.Context(), token, "The "+string(role), "a lamp on the bench "+letter)
		}
		if err != nil {
			t.Fatal(err)
		}
		f := url.Values{"name": {"The " + string(role)}, "password": {"a lamp on the bench " + letter}}
		cookies[letter] = session(s.ask(t, http.MethodPost, "/sign-in", f).want(t, 303))
	}
	return s, cookies
}

// TestEveryRouteEveryRole walks the router's own table: each route is asked for by
// somebody of each role and by nobody signed in, through everything that a
// request goes through, and answers those alone that the note allows.
func TestEveryRouteEveryRole(t *testing.T) {
	s, cookies := staffed(t)
	table := s.table()
	for i := range table { // what is behind the door does not matter here
		table[i].do = func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTeapot) }
	}
	handler, err := s.wire(table)
	if err != nil {
		t.Fatal(err)
	}
	s.handler = handler
	asked := 0
	for _, r := range table {
		allowed, known := whoMay[r.pattern]
		if !known {
			t.Errorf("%s: nobody has said who may ask for it", r.pattern)
			continue
		}
		method, path := pathOf(r.pattern)
		for who, cookie := range cookies {
			a := s.ask(t, method, path, nil, with(cookie))
			asked++
			in := strings.Contains(allowed, who)
			sent := a.code == http.StatusSeeOther && strings.HasPrefix(a.Get("Location"), "/sign-in")
			switch {
			case in && a.code != http.StatusTeapot:
				t.Errorf("%s, %s: answered %d, and it is allowed", r.pattern, who, a.code)
			case !in && who == "n" && !sent, !in && who != "n" && a.code != http.StatusForbidden:
				t.Errorf("%s, %s: answered %d, and it is not allowed", r.pattern, who, a.code)
			}
		}
	}
	if want := len(table) * (len(roleOf) + 1); asked != want || len(whoMay) != len(table) {
		t.Errorf("asked %d times, want %d; %d routes are said of, %d there", asked, want, len(whoMay), len(table))
	}
	if _, err := s.wire([]route{{pattern: "GET /open", do: table[0].do}}); err == nil {
		t.Error("a route that does not say who may ask for it is taken")
	}
}

var wayTags = regexp.MustCompile(`<(a|form|button)\b[^>]*>`)

// waysOn are the addresses that a page leads to, with their methods.
func waysOn(body string) [][2]string {
	var out [][2]string
	attr := func(tag, name string) string {
		_, rest, found := strings.Cut(tag, " "+name+"=\"")
		if !found {
			return ""
		}
		value, _, _ := strings.Cut(rest, "\"")
		value, _, _ = strings.Cut(html.UnescapeString(value), "#")
		value, _, _ = strings.Cut(value, "?")
		return value
	}
	for _, m := range wayTags.FindAllStringSubmatch(body, -1) {
		switch to := attr(m[0], map[string]string{"a": "href", "form": "action", "button": "formaction"}[m[1]]); {
		case to == "":
		case m[1] == "a" || attr(m[0], "method") == "get":
			out = append(out, [2]string{http.MethodGet, to})
		default:
			out = append(out, [2]string{http.MethodPost, to})
		}
	}
	return out
}

// TestPagesShowWhatOneMay: no page shows somebody a way to what their role may not
// do, and every form of a job that a role may send is offered to it somewhere.
func TestPagesShowWhatOneMay(t *testing.T) {
	s, cookies := staffed(t)
	s.readyFrom(t, theShop(t)) // once for all tests
	owner := with(cookies["o"])
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, owner).form(t, "/jobs", "kind", "low-charge", "system", theSystem, "meter", "dmm", "meter", "dc-clamp")
	at := s.ask(t, http.MethodPost, "/jobs", f, owner).want(t, 303).Get("Location")
	f = s.ask(t, http.MethodGet, at+"?key=do:look-belt", nil, owner).form(t, at+"/readings", "v0", "sound and tight")
	s.ask(t, http.MethodPost, at+"/readings", f, owner).want(t, 303)
	mux := http.NewServeMux()
	needs := map[string]account.Duty{}
	for _, r := range s.routes {
		mux.Handle(r.pattern, r.do)
		needs[r.pattern] = r.needs
	}
	for letter, role := range roleOf {
		offered := map[string]bool{}
		for _, p := range []string{"/", at, at + "?key=mend:mend-bulkhead", at + "/log", at + "/proof", at + "/report", at + "/record", at + "/readings/r1", "/systems", "/systems/" + theSystem, "/instruments", "/keys", "/account"} {
			a := s.ask(t, http.MethodGet, p, nil, with(cookies[letter])).want(t, 200)
			clean(t, a.body)
			for _, w := range waysOn(a.body) {
				r, err := http.NewRequestWithContext(t.Context(), w[0], w[1], nil)
				if err != nil {
					t.Fatal(err)
				}
				_, pattern := mux.Handler(r)
				offered[pattern] = true
				if !role.May(needs[pattern]) {
					t.Errorf("%s shows the %s a way to %s %s", p, role, w[0], w[1])
				}
			}
		}
		for pattern, duty := range map[string]account.Duty{
			"POST /jobs/{job}/readings": account.Measure, "POST /jobs/{job}/hook-up": account.Measure, "GET /jobs/new": account.Desk, "POST /jobs/{job}/wait": account.Desk,
			"GET /jobs/{job}/identified": account.Measure, "GET /jobs/{job}/repair": account.Mend, "POST /jobs/{job}/sign": account.Close, "POST /jobs/{job}/proof": account.Close, "GET /systems/{system}/edit": account.Systems,
			"GET /people": account.People, "GET /jobs/{job}/record.pdf": account.Look,
		} {
			if offered[pattern] != strings.Contains(whoMay[pattern], letter) || role.May(duty) != offered[pattern] {
				t.Errorf("%s is offered to the %s: %v", pattern, role, offered[pattern])
			}
		}
	}
	// Nobody takes back what they could not have entered.
	before := len(s.events(t, at))
	f = s.ask(t, http.MethodGet, at+"/repair", nil, owner).form(t, at+"/repair", "what", "cleaned it", "cured", "unknown")
	s.ask(t, http.MethodPost, at+"/repair", f, owner).want(t, 303)
	undo := s.ask(t, http.MethodGet, at+"/log", nil, owner).form(t, at+"/undo")
	script := func(r *http.Request) { r.Header.Set("Accept", "application/json") }
	s.ask(t, http.MethodPost, at+"/waiting", s.waits(1, "look-belt", "sound and tight"), with(cookies["a"]), script).want(t, 403, `{"say":["Nothing was recorded. Your role here is adviser`)
	s.ask(t, http.MethodPost, at+"/undo", undo, with(cookies["p"])).want(t, 403, "Your role here is apprentice", "For recording repairs ask: owner, technician")
	if n := len(s.events(t, at)); n != before+1 {
		t.Errorf("%d events, want %d", n, before+1)
	}
}

// TestPeople: invited by a link that is good once, given another role, withdrawn:
// at once, on every device, and all of it in the journal without a name.
func TestPeople(t *testing.T) {
	s, _ := signedShop(t)
	owner := with(session(s.ask(t, http.MethodPost, "/sign-in", enter(wingLamp)).want(t, 303)))
	s.ask(t, http.MethodPost, "/people", url.Values{"name": {" "}, "role": {"owner"}}, owner).want(t, 422, "Write what the person is called", "Choose what the person will do")
	a := s.ask(t, http.MethodPost, "/people", url.Values{"name": {"Nell Tarn"}, "role": {"apprentice"}}, owner).want(t, 200, "Link for Nell Tarn", "shown this once")
	link := regexp.MustCompile(`/join/[A-Za-z0-9_-]+`).FindString(a.body)
	s.ask(t, http.MethodGet, "/people", nil, owner).want(t, 200, "Nell Tarn", "link good until")
	s.get(t, link).want(t, 200, "Your account as apprentice", "Nell Tarn", "Hooks up and takes readings")
	taken := url.Values{"name": {"owner"}, "password": {"a bench in the yard"}, "again": {"a bench in the yard"}}
	s.ask(t, http.MethodPost, link, taken).want(t, 422, "Somebody else here is called owner")
	good := url.Values{"name": {"Nell"}, "password": {"a bench in the yard"}, "again": {"a bench in the yard"}}
	s.ask(t, http.MethodPost, link, good).want(t, 303)
	s.get(t, link).want(t, 404, "not good any more")
	in := url.Values{"name": {"nell"}, "password": {"a bench in the yard"}}
	one, two := with(session(s.ask(t, http.MethodPost, "/sign-in", in).want(t, 303))), with(session(s.ask(t, http.MethodPost, "/sign-in", in).want(t, 303)))
	s.ask(t, http.MethodGet, "/jobs/new", nil, one).want(t, 403, "not yours to do here")
	people, err := s.accounts.People(t.Context())
	if err != nil || len(people) != 2 || people[1].Sessions != 2 {
		t.Fatalf("%+v (%v)", people, err)
	}
	nell := "/people/" + people[1].ID
	s.ask(t, http.MethodPost, nell+"/role", url.Values{"role": {"king"}}, owner).want(t, 422, "Choose what Nell")
	s.ask(t, http.MethodPost, nell+"/role", url.Values{"role": {"technician"}}, owner).want(t, 303)
	s.ask(t, http.MethodGet, "/jobs/new", nil, one).want(t, 200)
	s.ask(t, http.MethodGet, nell, nil, owner).want(t, 200, "Technician", "2 devices")
	s.ask(t, http.MethodPost, nell+"/withdraw", url.Values{}, owner).want(t, 303)
	for _, device := range []func(*http.Request){one, two} {
		s.ask(t, http.MethodGet, "/", nil, device).want(t, 303)
	}
	s.ask(t, http.MethodPost, "/sign-in", in).want(t, 401)
	s.ask(t, http.MethodPost, "/people/"+people[0].ID+"/withdraw", url.Values{}, owner).want(t, 422, "stays the owner")
	s.ask(t, http.MethodPost, "/people/none/withdraw", url.Values{}, owner).want(t, 404)
	b := s.ask(t, http.MethodGet, "/people", nil, owner).want(t, 200, "invited Nell as apprentice", "came in as apprentice", "made Nell technician, who was apprentice", "withdrew Nell, who was technician", "left: signs in no more")
	clean(t, b.body)
	events, err := s.book.Read(t.Context(), journal.People, 0)
	if err != nil {
		t.Fatal(err)
	}
	var by []string
	for _, e := range events {
		by = append(by, e.Person)
		if strings.Contains(string(e.Body), "Nell") || strings.Contains(string(e.Body), "Tarn") {
			t.Errorf("the journal holds a name: %s", e.Body)
		}
	}
	o, n := people[0].ID, people[1].ID
	if want := []string{o, o, n, o, o}; !slices.Equal(by, want) { // claimed, invited, joined, role, withdrawn
		t.Errorf("by %v, want %v", by, want)
	}
	// And back: with a new password, under the same account.
	a = s.ask(t, http.MethodPost, nell+"/link", url.Values{}, owner).want(t, 200, "come back as technician")
	link = regexp.MustCompile(`/join/[A-Za-z0-9_-]+`).FindString(a.body)
	s.ask(t, http.MethodPost, link, url.Values{"name": {"Nell"}, "password": {"another bench there"}, "again": {"another bench there"}}).want(t, 303)
	in.Set("password", "another bench there")
	s.ask(t, http.MethodPost, "/sign-in", in).want(t, 303)
}

// TestOwnAccount: a new password signs the other devices out; signing out
// everywhere ends this one, too.
func TestOwnAccount(t *testing.T) {
	s, _ := signedShop(t)
	one, two := with(session(s.ask(t, http.MethodPost, "/sign-in", enter(wingLamp)))), with(session(s.ask(t, http.MethodPost, "/sign-in", enter(wingLamp))))
	s.ask(t, http.MethodGet, "/account", nil, one).want(t, 200, "Signed in on 2 devices", "12 hours", "14 days")
	change := func(before, next, again string) url.Values {
		return url.Values{"before": {before}, "password": {next}, "again": {again}}
	}
	s.ask(t, http.MethodPost, "/account/password", change(wingLamp, "a lamp in the pit", "a lamp in the pits"), one).want(t, 422, "not the same")
	s.ask(t, http.MethodPost, "/account/password", change("wrong", "short", "short"), one).want(t, 422, "not the password that you sign in with", "at least 12")
	s.ask(t, http.MethodPost, "/account/password", change(wingLamp, "a lamp in the pit", "a lamp in the pit"), one).want(t, 303)
	s.ask(t, http.MethodGet, "/account?done=password", nil, one).want(t, 200, "The new password is set", "Signed in on 1 device,")
	s.ask(t, http.MethodGet, "/", nil, two).want(t, 303)
	three := with(session(s.ask(t, http.MethodPost, "/sign-in", enter("a lamp in the pit")).want(t, 303)))
	s.ask(t, http.MethodPost, "/account/sign-out-everywhere", url.Values{}, three).want(t, 303)
	for _, device := range []func(*http.Request){one, three} {
		s.ask(t, http.MethodGet, "/", nil, device).want(t, 303)
	}
}

// TestLiveEndsWithTheSession: a stream that is open when somebody is withdrawn
// tells nothing more, and ends.
func TestLiveEndsWithTheSession(t *testing.T) {
	s, cookies := staffed(t)
	owner := with(cookies["o"])
	f := s.ask(t, http.MethodGet, "/jobs/new", nil, owner).form(t, "/jobs", "kind", "other", "system", theSystem, "meter", "dmm")
	at := s.ask(t, http.MethodPost, "/jobs", f, owner).want(t, 303).Get("Location")
	server := httptest.NewServer(s)
	defer server.Close()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+at+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	with(cookies["t"])(r)
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	in := bufio.NewScanner(a.Body)
	for in.Scan() && in.Text() != "data: 1" {
	}
	people, err := s.accounts.People(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range people {
		if p.Role == account.Technician {
			err = s.accounts.Withdraw(t.Context(), people[0].ID, p.ID)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	events := s.events(t, at)
	if _, err := s.book.Append(t.Context(), events[0].Stream, 1, []job.Event{{ID: "e-live-end", Kind: job.Waits, V: 1, Body: []byte(`{"for":"part"}`)}}); err != nil {
		t.Fatal(err)
	}
	for in.Scan() { // ends with the stream
		if strings.HasPrefix(in.Text(), "data: ") {
			t.Errorf("somebody who is withdrawn was told %q", in.Text())
		}
	}
}
