package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"chargewright/account"
	"chargewright/advice"
	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
	"chargewright/task"
)

// shop is a workshop on a database of its own.
type shop struct {
	*Server
	book     *journal.Store
	accounts *account.Accounts
	db       *store.DB
}

var theSystem = "isolated-earth-side"

// prepared is the system that most jobs are on, with what its first jobs work out:
// no workshop need do it again.
var prepared = sync.OnceValues(func() (*advice.Prepared, error) {
	shelf, err := job.Library()
	if err != nil {
		return nil, err
	}
	sys, err := shelf.System(theSystem)
	if err != nil {
		return nil, err
	}
	return advice.Prepare(sys, shelf.PracticeOf(sys), shelf.Catalogue, advice.DefaultSettings())
})

// makeShop makes a workshop.
func makeShop(place string, signIn bool) (*shop, error) {
	ready, err := prepared()
	if err != nil {
		return nil, err
	}
	return shopWith(place, signIn, ready)
}

func shopWith(place string, signIn bool, ready *advice.Prepared) (*shop, error) {
	db, err := store.Open(context.Background(), place)
	if err != nil {
		return nil, err
	}
	book, err := journal.Open(context.Background(), db, time.Now)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	shelf, err := job.Library()
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	tasks, err := task.On(db, time.Now, log)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	c := Config{Tasks: tasks, AtOnce: TasksAtOnce, Journal: book, Shelf: shelf, Now: time.Now, Log: log, Version: "test", Workshop: "Test shop", Ready: ready}
	s := &shop{book: book, db: db, accounts: account.New(db, time.Now, account.CheapHashes)}
	if signIn {
		c.Accounts = s.accounts
	}
	if s.Server, err = New(c); err == nil && ready != nil {
		s.weigh = weighed.weigh
	}
	return s, err
}

// newShop is a workshop that the test has for itself.
func newShop(t *testing.T, signIn bool) *shop {
	t.Helper()
	s, err := makeShop(base.Place(t), signIn)
	return s.kept(t, err)
}

// coldShop is a workshop in which nobody has asked for anything.
func coldShop(t *testing.T) *shop {
	t.Helper()
	s, err := shopWith(base.Place(t), false, nil)
	return s.kept(t, err)
}

// kept is a workshop that ends with its test.
func (s *shop) kept(t *testing.T, err error) *shop {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.end)
	return s
}

func (s *shop) end() {
	s.Close()
	_ = s.db.Close() // what is in it goes
}

// onVariable is the environment variable that says on which kind of database the
// tests of this package run: postgres; otherwise, SQLite.
const onVariable = "CHARGEWRIGHT_WEB_ON"

// base is the kind of database that workshops are made on; TestOnPostgres takes the
// other one.
var base = func() storetest.Kind {
	if os.Getenv(onVariable) == storetest.Postgres.Name {
		return storetest.Postgres
	}
	return storetest.SQLite
}()

// one workshop of a kind serves most tests: what its first jobs work out, the
// others need not. Each test opens jobs of its own.
var shared = map[string]*shop{}

// sharedDir is where those that are files stand.
var sharedDir = sync.OnceValues(func() (string, error) { return os.MkdirTemp("", "chargewright-web-test-") })

func TestMain(m *testing.M) {
	code := storetest.Run(m)
	endChromium()
	for _, s := range shared {
		s.end()
	}
	if dir, err := sharedDir(); err == nil {
		_ = os.RemoveAll(dir)
	}
	os.Exit(code)
}

func theShop(t *testing.T) *shop {
	t.Helper()
	if s := shared[base.Name]; s != nil {
		return s
	}
	place, err := sharedDir()
	if base.Name == storetest.Postgres.Name {
		place = base.Place(t)
	}
	if err != nil {
		t.Fatal(err)
	}
	s, err := makeShop(place, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, other := range shared { // there is one at most: what the system's first job works out is the same
		s.readyFrom(t, other)
	}
	shared[base.Name] = s
	return s
}

// readyFrom takes over what another workshop has prepared of the system.
func (s *shop) readyFrom(t *testing.T, other *shop) {
	t.Helper()
	k, err := other.systems.find(t.Context(), theSystem)
	if err != nil {
		t.Fatal(err)
	}
	prepared, err := k.prepare()
	if err != nil {
		t.Fatal(err)
	}
	s.systems.ready(prepared)
}

// answer is what came back.
type answer struct {
	code int
	body string
	http.Header
}

func (s *shop) ask(t *testing.T, method, path string, form url.Values, change ...func(*http.Request)) answer {
	t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequestWithContext(t.Context(), method, path, body)
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return answer{w.Code, w.Body.String(), w.Header()}
}

func (s *shop) get(t *testing.T, path string) answer {
	t.Helper()
	return s.ask(t, http.MethodGet, path, nil)
}

// want fails unless the code is right and every text is there.
func (a answer) want(t *testing.T, code int, texts ...string) answer {
	t.Helper()
	if a.code != code {
		t.Fatalf("answered %d, want %d:\n%s", a.code, code, firstWords(a.body))
	}
	for _, x := range texts {
		if !strings.Contains(a.body, x) {
			t.Errorf("the answer lacks %q:\n%s", x, firstWords(a.body))
		}
	}
	return a
}

var tags = regexp.MustCompile(`(?s)<(script|style|svg).*?</(script|style|svg)>|<[^>]*>`)

func firstWords(page string) string {
	words := strings.Join(strings.Fields(tags.ReplaceAllString(page, " ")), " ")
	return words[:min(len(words), 1500)]
}

var hiddenField = regexp.MustCompile(`<input type="hidden" name="([a-z0-9-]+)" value="([^"]*)"`)

// form is the hidden fields of a page's form that posts to an address, else of its
// first that records something, and what else is given.
func (a answer) form(t *testing.T, action string, more ...string) url.Values {
	t.Helper()
	out := url.Values{}
	for _, f := range strings.Split(a.body, "<form")[1:] {
		f, _, _ = strings.Cut(f, "</form>")
		if strings.HasPrefix(f, ` method="get"`) || action != "" && !strings.Contains(f, `action="`+action+`"`) || action == "" && !strings.Contains(f, `name="event"`) {
			continue
		}
		for _, m := range hiddenField.FindAllStringSubmatch(f, -1) {
			out.Set(m[1], m[2])
		}
		break
	}
	if out.Get("event") == "" && out.Get("new-event") == "" {
		t.Fatalf("no form posts to %q in:\n%s", action, firstWords(a.body))
	}
	for i := 0; i+1 < len(more); i += 2 {
		out.Add(more[i], more[i+1])
	}
	return out
}

// newJob opens a job and returns its address.
func (s *shop) newJob(t *testing.T, more ...string) string {
	t.Helper()
	form := s.get(t, "/jobs/new").want(t, 200).form(t, "/jobs", append([]string{
		"kind", "low-charge", "system", theSystem, "meter", "dmm", "meter", "dc-clamp", "volts", "12", "ambient", "18",
	}, more...)...)
	a := s.ask(t, http.MethodPost, "/jobs", form).want(t, 303)
	return a.Get("Location")
}

// read enters a reading of a procedure.
func (s *shop) read(t *testing.T, at, procedure string, values ...string) answer {
	t.Helper()
	form := s.get(t, at+"?key=do:"+procedure).want(t, 200).form(t, at+"/readings")
	for i, v := range values {
		form.Set(fmt.Sprintf("v%d", i), v)
	}
	return s.ask(t, http.MethodPost, at+"/readings", form)
}

func (s *shop) events(t *testing.T, at string) []job.Event {
	t.Helper()
	list, err := s.book.Read(t.Context(), strings.TrimPrefix(at, "/jobs/"), 0)
	if err != nil {
		t.Fatal(err)
	}
	return list
}
