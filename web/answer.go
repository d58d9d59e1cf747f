package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/web/page"
)

// told is one thing that a form says has happened.
type told struct {
	kind job.Kind
	body any
}

// enter records what a form says, all or nothing, and answers it: on to where
// the result stands, or what is in the way. The first event has the form's own
// id, further ones that id with their number. again shows the form once more
// with why it does not fit the job.
func (s *Server) enter(w http.ResponseWriter, r *http.Request, x *work, h page.Hidden, to string, again func(why string), what ...told) {
	var events []job.Event
	for i, t := range what {
		own := h
		if i > 0 {
			own.Event += "-" + strconv.Itoa(i+1)
		}
		e, err := s.event(r, own, t.kind, t.body)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		events = append(events, e)
	}
	err := s.record(r.Context(), x, events...)
	var cannot *cannotFollow
	var between *conflict
	if err == nil || errors.As(err, new(*journal.Moved)) || errors.As(err, new(*journal.Reused)) {
		between, err = s.conflictOf(r, x, h, err)
	}
	switch {
	case between != nil:
		s.conflicting(w, r, x, between)
	case errors.As(err, &cannot):
		again("This cannot follow what stands: " + cannot.Error())
	case err != nil:
		s.broken(w, r, err)
	default:
		s.wasEntered(r, x.stream)
		http.Redirect(w, r, to, http.StatusSeeOther)
	}
}

// cannot answers a form that does not fit the job and holds nothing that would
// be typed again.
func (s *Server) cannot(w http.ResponseWriter, r *http.Request) func(why string) {
	return func(why string) {
		s.sorry(w, r, http.StatusUnprocessableEntity, "This cannot be done now", advice.Sentence(why))
	}
}

// conflict is why a form does not stand as it was meant, with the job as it is.
type conflict struct {
	head, say string
	from      int    // the first event to be shown
	again     string // what the button says that sends the form once more; "" = it is not offered
	now       *work
	fresh     bool // its id is used: entered again it is another event
}

// carriedAs is what the form of an event carried.
func carriedAs(e job.Event) page.Hidden { return page.Hidden{Event: e.ID, Seen: e.Seen} }

// conflictOf says what came between a form and its job: others that were
// faster, the same form with something else in it, or that what it recorded was
// taken back. Nil when nothing did.
func (s *Server) conflictOf(r *http.Request, x *work, h page.Hidden, err error) (*conflict, error) {
	line, broken := s.Journal.Line(r.Context(), x.stream)
	if broken != nil {
		return nil, broken
	}
	c := &conflict{}
	var moved *journal.Moved
	var reused *journal.Reused
	switch {
	case errors.As(err, &moved):
		*c = conflict{"Somebody else was here", "Nothing of yours was recorded yet. Since your page was made, this came:", moved.Expected + 1, "Enter mine on top", nil, false}
	case errors.As(err, &reused):
		*c = conflict{"This form was sent before", "It was recorded then, with something else in it. What stands in it now is not recorded yet.", reused.Before.Seq, "Enter this as well", nil, true}
		if reused.Before.Stream != x.stream {
			c.from = line.Seq + 1
		}
	default:
		at, err := s.backSince(r, x, h.Event)
		if at == 0 || err != nil {
			return nil, err
		}
		*c = conflict{"It was taken back", "This form was recorded before, and what it recorded was taken back since: it counts for nothing. Nothing was recorded now.", at, "Enter it again", nil, true}
	}
	if looksFirst(r.URL.Path) {
		c.again = ""
	}
	c.now, err = s.openAt(r.Context(), x.stream, line.Seq)
	return c, err
}

// looksFirst says whether a form wants a look at what stands before it is sent once more.
func looksFirst(path string) bool {
	return slices.ContainsFunc([]string{"/undo", "/hook-up", "/sign", "/reopen"}, func(end string) bool { return strings.HasSuffix(path, end) })
}

// backSince is where an event stands that was taken back; 0 when it stands still
// or is none.
func (s *Server) backSince(r *http.Request, x *work, id string) (int, error) {
	events, err := s.Journal.Read(r.Context(), x.stream, x.seq+1)
	if err != nil {
		return 0, err
	}
	at := 0
	for _, e := range events {
		var b job.WithdrawnBody
		switch {
		case e.ID == id:
			at = e.Seq
		case e.Kind != job.Withdrawn:
		case json.Unmarshal(e.Body, &b) == nil && b.Event == id:
			return at, nil
		}
	}
	return 0, nil
}

// conflicting answers a form that something came between: what it was, what the
// form held, and the form once more.
func (s *Server) conflicting(w http.ResponseWriter, r *http.Request, x *work, c *conflict) {
	v := page.Moved{
		Shell: s.jobShell(r, c.now, c.head, ""), Hidden: s.hidden(c.now.seq), Head: c.head, Say: c.say, To: "/jobs/" + x.stream, ToText: "Show it",
		Action: r.URL.Path, Reading: nextReading(c.now), Again: c.again, Typed: typed(r.PostForm), Fields: fields(r.PostForm),
	}
	for _, l := range s.logLines(c.now) {
		if l.Seq >= c.from {
			v.Between = append(v.Between, l.LogLine)
		}
	}
	whole(w, r)
	s.show(w, r, http.StatusConflict, page.MovedPage(v))
}

// fields are what a form held, but for what belongs to its sending.
func fields(form url.Values) []page.Field {
	var out []page.Field
	for name, values := range form {
		if slices.Contains([]string{"event", "seen", "reading", "unrecorded", heldDevice}, name) {
			continue
		}
		for _, value := range values {
			out = append(out, page.Field{Name: name, Value: value})
		}
	}
	slices.SortFunc(out, func(a, b page.Field) int { return strings.Compare(a.Name+"\n"+a.Value, b.Name+"\n"+b.Value) })
	return out
}

var (
	boxField  = regexp.MustCompile(`^(v|lo|hi)([0-9])$`)
	unitField = regexp.MustCompile(`^(u|how)[0-9]$`)
	wordField = regexp.MustCompile(`^(own|what|note|why|words)$`)
)

// typed is what somebody wrote into a form, as it is shown to them again.
func typed(form url.Values) []string {
	var out []string
	for _, f := range fields(form) {
		box := boxField.FindStringSubmatch(f.Name)
		switch {
		case strings.TrimSpace(f.Value) == "":
		case box != nil:
			unit := form.Get("u" + box[2])
			if !strings.ContainsAny(f.Value[len(f.Value)-1:], "0123456789") {
				unit = "" // it stands there already, or nothing is measured
			}
			prefix := map[string]string{"over": "over ", "under": "under "}[form.Get("how"+box[2])]
			out = append(out, strings.TrimSpace(map[string]string{"lo": "lowest ", "hi": "highest "}[box[1]]+prefix+f.Value+" "+unit))
		case wordField.MatchString(f.Name):
			out = append(out, f.Value)
		}
	}
	return out
}

// whole lets a page stand in place of the whole one where a script asked for a
// part: what it says is about all of it.
func whole(w http.ResponseWriter, r *http.Request) {
	if r.Header.Get("HX-Request") == "" {
		return
	}
	for name, value := range map[string]string{"HX-Retarget": "#main", "HX-Reselect": "#main", "HX-Reswap": "outerHTML"} {
		w.Header().Set(name, value)
	}
}
