package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/problem"
	"chargewright/question"
	"chargewright/unit"
	"chargewright/web/page"
)

// hidden is what a new form carries.
func (s *Server) hidden(seen int) page.Hidden {
	return page.Hidden{Event: journal.NewID(s.Now()), Seen: seen}
}

// carried is what a form that was sent carried.
func carried(r *http.Request) (page.Hidden, error) {
	h := page.Hidden{Event: r.FormValue("event")}
	var err error
	if h.Seen, err = strconv.Atoi(r.FormValue("seen")); err != nil || h.Seen < 0 || !eventID.MatchString(h.Event) {
		return h, errors.New("the form is not whole: open the page again and send it once more")
	}
	return h, nil
}

var (
	eventID   = regexp.MustCompile(`^[0-9A-Za-z-]{8,64}$`)
	readingID = regexp.MustCompile(`^r[0-9]{1,6}$`)
)

// tooMuch answers a form that cannot be read to its end.
func (s *Server) tooMuch(w http.ResponseWriter, r *http.Request) {
	what := "The form is too large or cut off; nothing was recorded."
	if strings.HasPrefix(r.URL.Path, "/systems") {
		what = "The file is too large: a system file has some tens of kilobytes."
	}
	s.sorry(w, r, http.StatusRequestEntityTooLarge, "This was not taken", what)
}

// sent opens the job of a form as the form knew it.
func (s *Server) sent(w http.ResponseWriter, r *http.Request) (*work, page.Hidden, bool) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return nil, page.Hidden{}, false
	}
	h, err := carried(r)
	if err != nil {
		s.sorry(w, r, http.StatusBadRequest, "This was not taken", advice.Sentence(err.Error()))
		return nil, h, false
	}
	x, err := s.stateAt(r.Context(), r.PathValue("job"), h.Seen, r.FormValue("key") == "") // without a key the step that was proposed is meant
	if err != nil {
		s.broken(w, r, err)
		return nil, h, false
	}
	return x, h, true
}

// sentTo is sent for a form that needs advice: a job whose vehicle the system
// cannot stand for has none.
func (s *Server) sentTo(w http.ResponseWriter, r *http.Request) (*work, page.Hidden, bool) {
	x, h, ok := s.sent(w, r)
	if ok && x.stand == nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "Not on this system", x.refused)
		return nil, h, false
	}
	return x, h, ok
}

// event is a new event of a job.
func (s *Server) event(r *http.Request, h page.Hidden, kind job.Kind, body any) (job.Event, error) {
	b, err := json.Marshal(body)
	return job.Event{ID: h.Event, Kind: kind, V: 1, Body: b, Device: deviceOf(r), Person: who(r).ID, Seen: h.Seen, Engine: s.Version}, err
}

// record appends events to a job that the form knew as x, when they can follow.
// What they cannot is the problem.
func (s *Server) record(ctx context.Context, x *work, events ...job.Event) error {
	shelf, _, err := s.shelfOf(ctx, x.events[0])
	if err != nil {
		return err
	}
	all := slices.Clone(x.events)
	for i, e := range events {
		e.Stream, e.Seq = x.stream, x.seq+1+i
		all = append(all, e)
	}
	if _, err := job.Fold(all, shelf); err != nil {
		return &cannotFollow{err}
	}
	s.stopAt("before")
	_, err = s.Journal.Append(ctx, x.stream, x.seq, events)
	s.stopAt("after")
	return err
}

func (s *Server) stopAt(moment string) {
	if s.Held != nil {
		s.Held(moment)
	}
}

// cannotFollow is an event that does not fit the job.
type cannotFollow struct{ error }

func (c *cannotFollow) Unwrap() error { return c.error }

// nextReading is the id of a job's next reading.
func nextReading(x *work) string {
	n := 1
	for _, e := range x.events {
		if e.Kind == job.Took {
			n++
		}
	}
	return "r" + strconv.Itoa(n)
}

// lines are all sentences of a problem.
func lines(err error) []string {
	var out []string
	var list problem.List
	if errors.As(err, &list) {
		for _, p := range list {
			out = append(out, advice.Sentence(p.String()))
		}
		return out
	}
	for l := range strings.SplitSeq(err.Error(), "\n") {
		out = append(out, advice.Sentence(l))
	}
	return out
}

// refusal says what was wrong with something typed, and what to write instead.
func refusal(err error) string {
	var u *unit.Refusal
	if errors.As(err, &u) {
		given := "This"
		if u.Given != "" {
			given = "“" + u.Given + "”"
		}
		return given + " " + u.What + ". Write instead: " + degrees(u.Instead)
	}
	return advice.Sentence(err.Error())
}

// filled is what a form of a reading held.
type filled struct {
	texts   []string // by box
	units   []string
	class   string
	showing string
	sure    bool

	values   []job.ValueBody
	problems page.Problems
}

// fill reads the boxes of a reading out of a form: everything that is wrong at
// once, each at its box.
func fill(form url.Values, seek []question.Observable, last []job.ValueBody) filled {
	f := filled{showing: form.Get("showing"), sure: form.Get("sure") == "yes"}
	if f.showing != "yes" && f.showing != "no" {
		f.showing = ""
	}
	for i, o := range seek {
		n := strconv.Itoa(i)
		text, symbol := form.Get("v"+n), form.Get("u"+n)
		if is := form.Get("is" + n); is != "" {
			text = strings.ReplaceAll(is, "\u00a0", " ")
		}
		if how := form.Get("how" + n); (how == "over" || how == "under") && !strings.HasPrefix(strings.ToLower(strings.TrimSpace(text)), how) {
			text = how + " " + strings.TrimSpace(text)
		}
		if lo, hi := strings.TrimSpace(form.Get("lo"+n)), strings.TrimSpace(form.Get("hi"+n)); lo != "" || hi != "" {
			text = lo + " to " + hi
		}
		if !slices.Contains(job.BoxUnits(o), symbol) {
			symbol = first(job.BoxUnits(o))
		}
		f.texts, f.units = append(f.texts, text), append(f.units, symbol)
		if o.Classes != nil {
			f.class = text
		}
		if strings.EqualFold(strings.TrimSpace(text), "again") && i < len(last) {
			f.values = append(f.values, last[i])
			continue
		}
		v, err := job.Typed(text, symbol, o)
		if err != nil {
			what := refusal(err)
			if strings.TrimSpace(text) == "" {
				what = advice.Capital(o.Note) + " is missing. Write what the meter shows, such as " + example(o)
				if o.Classes != nil {
					what = "Choose what you saw"
				}
			}
			f.problems = append(f.problems, page.Problem{Field: "v" + n, Text: what})
		}
		f.values = append(f.values, v)
	}
	return f
}

// longestText is the most that a field takes [characters as people count them].
const longestText = 500

// tooLong says that a text is longer than a field takes, and by how much; ""
// when it is not.
func tooLong(text string) string {
	n := letters(text)
	if n <= longestText {
		return ""
	}
	return "This has " + strconv.Itoa(n) + " characters, and " + strconv.Itoa(longestText) + " is the most that is kept. Leave out " + strconv.Itoa(n-longestText)
}

// letters counts what stands for one sign on the screen: a letter with its
// accents once, whatever bytes a device sends for it, and so for joined and
// coloured signs (the commonest of the rules of Unicode annex 29: memory).
func letters(text string) int {
	const joiner, firstTone, lastTone, firstFlag, lastFlag = '\u200d', '\U0001F3FB', '\U0001F3FF', '\U0001F1E6', '\U0001F1FF'
	n, before, flags := 0, rune(0), 0
	for _, r := range norm.NFC.String(text) {
		part := unicode.Is(unicode.M, r) || r == joiner || r >= firstTone && r <= lastTone || before == joiner
		if r >= firstFlag && r <= lastFlag {
			flags++
			part = flags%2 == 0 // two of them are one flag
		} else {
			flags = 0
		}
		if !part {
			n++
		}
		before = r
	}
	return n
}

func example(o question.Observable) string {
	dim, _ := o.Dim()
	return dim.Example()
}

func first(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}
