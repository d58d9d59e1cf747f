package web

import (
	"net/http"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/question"
	"chargewright/web/page"
)

// reading is a form of a reading as it was sent: what it was for and what it
// held.
type reading struct {
	key   key
	step  advice.Step
	body  *job.ReadingBody
	seek  []question.Observable
	ask   *advice.Question // about a value that nobody expects
	askAt int
	filled
}

// readingOf reads a form on a job. The problem is that the step cannot be done.
func (s *Server) readingOf(r *http.Request, x *work) (*reading, error) {
	f := &reading{key: parseKey(r.FormValue("key"))}
	var err error
	if f.step, err = f.key.step(x.stand); err != nil {
		return f, err
	}
	f.key = of(f.step, f.key)
	f.body = bodyOf(f.step, f.key)
	f.seek = s.seek(x, f.key, f.step)
	f.filled = fill(r.Form, f.seek, lastValues(x, f.body))
	f.body.ID, f.body.Values, f.body.Showing = r.FormValue("reading"), f.values, f.showing
	if f.body.Instruments, err = s.instrumentsOf(r, f.seek); err != nil {
		return f, err
	}
	f.body.Values = job.Standards(f.body.Values, f.seek, f.body.Instruments)
	if !f.sure {
		f.doubt(x.stand.Desk)
	}
	return f, nil
}

// lastValues are the values of the last reading of the same kind since the last
// repair: what "again" stands for.
func lastValues(x *work, b *job.ReadingBody) []job.ValueBody {
	var out []job.ValueBody
	for _, e := range x.job.Entries {
		p, ok := e.Body.(job.ReadingBody)
		if ok && !e.Back && e.Epoch == x.job.Epoch && p.Procedure == b.Procedure && p.Quantity == b.Quantity && strings.Join(p.Between, " ") == strings.Join(b.Between, " ") && p.Through == b.Through {
			out = p.Values
		}
	}
	return out
}

// doubt asks about the first value that nobody expects, or that cannot be.
func (f *reading) doubt(d *advice.Desk) {
	for i, o := range f.seek {
		if i >= len(f.values) {
			return
		}
		v := f.values[i]
		if q := d.Doubts(&f.step, o, question.Value{How: question.How(v.How), X: v.X, Lo: v.Lo, Hi: v.Hi}); q != nil {
			f.ask, f.askAt = q, i
			return
		}
	}
}

// marks are where the typed values stand on the strips.
func (f *reading) marks() []page.Mark {
	var out []page.Mark
	for i, o := range f.seek {
		for k := range f.step.Strips {
			s := &f.step.Strips[k]
			if s.Box != o.Note || i >= len(f.values) || f.values[i].How != string(question.Measured) {
				continue
			}
			at, _ := s.At(f.values[i].X)
			out = append(out, page.Mark{Strip: k, At: at, Text: s.Words(f.values[i].X)})
		}
	}
	return out
}

// preview says what a reading would do, without recording it.
func (s *Server) preview(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	f, err := s.readingOf(r, x)
	if err != nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "That cannot be done now", advice.Sentence(err.Error()))
		return
	}
	var seen *page.Preview
	if len(f.problems) == 0 && readingID.MatchString(f.body.ID) {
		e, err := s.event(r, h, job.Took, f.body)
		if err == nil {
			var then *work
			if then, err = s.hypothetical(urgent(r.Context(), looking), x, e); err == nil {
				seen = &page.Preview{Change: then.stand.Since(x.stand, f.body.ID)}
			}
		}
		if err != nil {
			f.problems = append(f.problems, page.Problem{Text: advice.Sentence(err.Error())})
		}
	}
	if r.Header.Get("HX-Request") == "" {
		s.showStep(w, r, http.StatusOK, x, f.key, &f.filled, func(v *page.Job) { v.Entry.Preview, v.Entry.Ask, v.Entry.AskBox = seen, f.ask, f.askAt })
		return
	}
	e := s.entry(r, x, f.step, f.key)
	e.take(&f.filled)
	e.Preview, e.Ask, e.AskBox = seen, f.ask, f.askAt
	s.show(w, r, http.StatusOK, page.Previewed(e.Entry, f.step.Strips, f.step, f.marks()))
}

// showStep shows the page that a step's forms stand on.
func (s *Server) showStep(w http.ResponseWriter, r *http.Request, code int, x *work, k key, f *filled, more func(*page.Job)) {
	if k.free() {
		s.showFree(w, r, code, x, k, f, more)
		return
	}
	s.showJob(w, r, code, x, k, f, more)
}

// take records a reading.
func (s *Server) take(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	f, err := s.readingOf(r, x)
	if err != nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "That cannot be done now", advice.Sentence(err.Error()))
		return
	}
	if !readingID.MatchString(f.body.ID) {
		f.problems = append(f.problems, page.Problem{Text: "The form is not whole: open the page again and send it once more."})
	}
	if len(f.problems) > 0 || f.ask != nil {
		s.refusedReading(w, r, x, f)
		return
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream+"/readings/"+f.body.ID, func(why string) {
		f.problems = append(f.problems, page.Problem{Text: advice.Sentence(why)})
		s.showStep(w, r, http.StatusUnprocessableEntity, x, f.key, &f.filled, nil)
	}, told{job.Took, f.body})
}

// refusedReading shows the form of a reading that was not taken, as it was filled
// in, with why.
func (s *Server) refusedReading(w http.ResponseWriter, r *http.Request, x *work, f *reading) {
	s.showStep(w, r, http.StatusUnprocessableEntity, x, f.key, &f.filled, func(v *page.Job) { v.Entry.Ask, v.Entry.AskBox = f.ask, f.askAt })
}
