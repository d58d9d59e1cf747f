package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
)

// A reading that was entered with script is sent by the script and, when there
// is no connection, waits on the device until there is (static/offline.js, note
// 015). What is answered here is for the script: data that it shows in words.

// taken is the answer to a reading that is recorded.
type taken struct {
	Seq int    `json:"seq"` // the event that it is
	To  string `json:"to"`  // where it says what it means

	Page string `json:"page,omitempty"` // and that page, where it was asked for
}

// between is the answer to a reading that something came between: what came, in
// the words of the log. Nothing is recorded; whoever took the reading decides.
type between struct {
	Head   string       `json:"head"`
	Say    string       `json:"say"`
	Lines  []loggedLine `json:"lines"`
	Seen   int          `json:"seen"`             // the last event, known to whoever has read this
	Fresh  bool         `json:"fresh,omitempty"`  // entered all the same it wants an id of its own
	Before string       `json:"before,omitempty"` // what the reading may have been taken before: a repair, a reopening
}

type loggedLine struct {
	Time  string `json:"time"`
	What  string `json:"what"`
	Value string `json:"value,omitempty"`
	Why   string `json:"why,omitempty"`
	Back  bool   `json:"back,omitempty"`
}

// refused is the answer to a reading that cannot be understood or cannot be: in
// words, with what could be meant instead.
type refused struct {
	Say     []string  `json:"say"`
	Instead []instead `json:"instead,omitempty"`

	Page string `json:"page,omitempty"` // its form as it was filled in, with these words, where it was asked for
}

// instead is a field of the form that would be understood.
type instead struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	Text  string `json:"text"`
}

func answerData(w http.ResponseWriter, code int, data any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(code)
	to := json.NewEncoder(w)
	to.SetEscapeHTML(false) // a page in it would be three times as long; nothing takes it for one
	_ = to.Encode(data)     // whoever has gone away needs no answer
}

// scripted says that a script asks, which shows the answer in its own words.
func scripted(r *http.Request) bool { return r.Header.Get("Accept") == "application/json" }

func refuseData(w http.ResponseWriter, code int, say ...string) {
	answerData(w, code, refused{Say: say})
}

// waiting records a reading that a script sends. Beside what a form holds it has
// the time at which it was taken, and the last event that the device knew then;
// seen is the last event that the sender has been shown since. Its number as a
// reading follows from that, so that the same sent again is the same.
func (s *Server) waiting(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		refuseData(w, http.StatusRequestEntityTooLarge, "The reading is too large or cut off; nothing was recorded.")
		return
	}
	h, err := carried(r)
	if err != nil {
		refuseData(w, http.StatusBadRequest, advice.Sentence(err.Error()))
		return
	}
	x, err := s.stateAt(r.Context(), r.PathValue("job"), h.Seen, r.FormValue("key") == "") // without a key the step that was proposed is meant
	switch {
	case errors.Is(err, errNoJob):
		refuseData(w, http.StatusNotFound, "This workshop does not have the job as this device saw it.")
		return
	case err != nil:
		s.Log.Error("a request could not be answered", "method", r.Method, "path", logPath(r), "why", err)
		refuseData(w, http.StatusInternalServerError, "The server cannot take it now.")
		return
	case x.stand == nil:
		refuseData(w, http.StatusUnprocessableEntity, x.refused)
		return
	}
	f, err := s.readingOf(r, x)
	if err != nil {
		refuseData(w, http.StatusUnprocessableEntity, "That cannot be done now: "+err.Error()+".")
		return
	}
	f.body.ID = nextReading(x)
	if no := f.refusal(); len(no.Say) > 0 {
		no.Page = s.shown(r, f.key.at("/jobs/"+x.stream), http.StatusUnprocessableEntity, func(w http.ResponseWriter, r *http.Request) { s.refusedReading(w, r, x, f) })
		answerData(w, http.StatusUnprocessableEntity, no)
		return
	}
	e, err := s.event(r, h, job.Took, f.body)
	if err == nil {
		err = when(&e, r.FormValue("at"), r.FormValue("taken"))
	}
	if err != nil {
		refuseData(w, http.StatusBadRequest, advice.Sentence(err.Error()))
		return
	}
	s.takeWaiting(w, r, x, e)
}

// takeWaiting records the event of a reading, and answers.
func (s *Server) takeWaiting(w http.ResponseWriter, r *http.Request, x *work, e job.Event) {
	err := s.record(r.Context(), x, e)
	var cannot *cannotFollow
	var came *conflict
	if err == nil || errors.As(err, new(*journal.Moved)) || errors.As(err, new(*journal.Reused)) {
		came, err = s.conflictOf(r, x, carriedAs(e), err)
	}
	switch {
	case came != nil:
		answerData(w, http.StatusConflict, s.betweenOf(came))
	case errors.As(err, &cannot):
		refuseData(w, http.StatusUnprocessableEntity, advice.Sentence("this cannot follow what stands: "+cannot.Error()))
	case err != nil:
		s.Log.Error("a request could not be answered", "method", r.Method, "path", logPath(r), "why", err)
		refuseData(w, http.StatusInternalServerError, "The server cannot take it now.")
	default:
		id := nextReading(x)
		out := taken{Seq: x.seq + 1, To: "/jobs/" + x.stream + "/readings/" + id}
		out.Page = s.shownVerdict(r, x, e, id)
		answerData(w, http.StatusOK, out)
	}
}

// when sets the time that a device claims, and what it knew then. A device that
// was shown more since says so by seen; what it knew when it read stays.
func when(e *job.Event, at, knew string) error {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil || t.Year() < 2000 || t.Year() > 9999 {
		return errors.New("the time at which the reading was taken is not one: set the device's clock and enter it once more")
	}
	n, err := strconv.Atoi(knew)
	if err != nil || n < 1 || n > e.Seen {
		return errors.New("the reading does not say what its device knew: open the page again and enter it once more")
	}
	e.At, e.Seen = t, n
	return nil
}

// refusal is everything that is in the way of a reading's values, in words.
func (f *reading) refusal() refused {
	var out refused
	for _, p := range f.problems {
		out.Say = append(out.Say, p.Text)
	}
	if f.ask == nil {
		return out
	}
	out.Say = append(out.Say, f.ask.Ask)
	for _, i := range f.ask.Instead {
		out.Instead = append(out.Instead, instead{"is" + strconv.Itoa(f.askAt), i.Text, i.Text + ": " + i.Why})
	}
	out.Instead = append(out.Instead, instead{"sure", "yes", "Keep it as it is"})
	return out
}

// betweenOf is a conflict as a script is told of it.
func (s *Server) betweenOf(c *conflict) between {
	out := between{Head: c.head, Say: c.say, Seen: c.now.seq, Fresh: c.fresh}
	for _, l := range s.logLines(c.now) {
		if l.Seq < c.from {
			continue
		}
		out.Lines = append(out.Lines, loggedLine{l.Time, l.What, strings.ReplaceAll(l.Value, "\u00a0", " "), l.Why, l.Back})
	}
	out.Before = partsEpochs(c)
	return out
}

// partsEpochs names what came between after which a vehicle is another one: it was
// mended, or it was away. "" where nothing such did.
func partsEpochs(c *conflict) string {
	var repair, reopening string
	for _, e := range c.now.job.Entries {
		switch {
		case e.Seq < c.from || e.Back:
		case e.Kind == job.Repaired:
			repair = "the repair"
		case e.Kind == job.Reopened:
			reopening = kindNames[e.Kind]
		}
	}
	return strings.Join(nonEmpty(repair, reopening), " and ")
}

// lateNote says when a reading was taken that reached the server later; "" when
// it came at once. The device's clock says it, so it stands beside the server's.
func (s *Server) lateNote(e job.Entry) string {
	if e.At.IsZero() || e.Recorded.Sub(e.At).Abs() < lateFrom {
		return ""
	}
	return "taken " + shortTime(e.At, s.Now()) + " by the clock of its device"
}

// lateFrom is from when on two times are told apart: clocks of devices differ by
// less (memory).
const lateFrom = 2 * time.Minute
