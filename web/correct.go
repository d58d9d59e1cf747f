package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

func (s *Server) correctPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	s.showCorrect(w, r, http.StatusOK, x, &correction{})
}

// correction is the form of a correction as it was sent; empty before it is.
type correction struct {
	*reading
	why      string
	problems page.Problems
}

// showCorrect shows the form of a correction, with what stands or what was
// filled in.
func (s *Server) showCorrect(w http.ResponseWriter, r *http.Request, code int, x *work, c *correction) {
	id := r.PathValue("reading")
	_, b, found := entryOf(x, id)
	rd := x.stand.Advice.Readings[id]
	if !found || rd == nil {
		s.gone(w, r, x, id)
		return
	}
	seek, err := s.systems.shelf(x.job.System).Observables(x.job, &b)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Correct{
		Shell: s.jobShell(r, x, "Correct a reading", "log"), Hidden: s.hidden(x.seq), Name: rd.Name, Reading: id, Why: c.why, Problems: c.problems,
		To: "/jobs/" + x.stream + "/readings/" + id + "/correct",
	}
	var f *filled
	if c.reading != nil {
		f = &c.filled
		v.Ask, v.AskBox = c.ask, c.askAt
	}
	for i, o := range seek {
		if o.Classes != nil {
			v.Question = o.Note
			for _, class := range o.Classes {
				on := i < len(rd.Values) && rd.Values[i].Class == class
				if f != nil {
					on = f.class == class
				}
				v.Classes = append(v.Classes, page.Choice{ID: class, Text: advice.Capital(class), On: on})
			}
			continue
		}
		box := page.Box{Name: "v" + strconv.Itoa(i), Label: o.Note, Units: job.BoxUnits(o), Unit: first(job.BoxUnits(o)), Optional: o.Optional}
		switch {
		case f != nil && i < len(f.texts):
			box.Value, box.Unit = f.texts[i], f.units[i]
		case i < len(rd.Values):
			box.Value = typeable(&rd.Values[i])
		}
		v.Boxes = append(v.Boxes, box)
	}
	s.show(w, r, code, page.CorrectPage(v))
}

// typeable is a value as somebody could type it; "" when it was not taken.
func typeable(v *advice.Value) string {
	if v.How == "not-taken" {
		return ""
	}
	return strings.ReplaceAll(strings.ReplaceAll(v.Words(), "\u00a0", " "), "−", "-")
}

// correct replaces the values of a reading.
func (s *Server) correct(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	id := r.PathValue("reading")
	_, b, found := entryOf(x, id)
	if !found {
		s.gone(w, r, x, id)
		return
	}
	seek, err := s.systems.shelf(x.job.System).Observables(x.job, &b)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	c := &correction{reading: &reading{key: keyOf(b), seek: seek, filled: fill(r.Form, seek, nil)}, why: strings.TrimSpace(r.FormValue("why"))}
	c.problems = c.filled.problems
	if c.why == "" {
		c.problems = append(c.problems, page.Problem{Field: "why", Text: "Say why, in a few words: misread, wrong point, wrong range"})
	}
	if long := tooLong(c.why); long != "" {
		c.problems = append(c.problems, page.Problem{Field: "why", Text: long})
	}
	if c.step, err = c.key.step(x.stand); err != nil {
		c.step = advice.Step{} // a test that cannot be done now expects nothing
	}
	if !c.sure {
		c.doubt(x.stand.Desk)
	}
	if len(c.problems) > 0 || c.ask != nil {
		s.showCorrect(w, r, http.StatusUnprocessableEntity, x, c)
		return
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream+"/readings/"+id, func(why string) {
		c.problems = append(c.problems, page.Problem{Text: advice.Sentence(why)})
		s.showCorrect(w, r, http.StatusUnprocessableEntity, x, c)
	}, told{job.Corrected, job.CorrectBody{ID: id, Values: job.Standards(c.values, seek, b.Instruments), Why: c.why}})
}

// gone answers what is about a reading that does not stand: when it was taken
// back, what it held, and a way to enter it again. Of one that never was, that
// it is not there.
func (s *Server) gone(w http.ResponseWriter, r *http.Request, x *work, id string) {
	x, err := s.open(r.Context(), x.stream)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	e, b, found := withdrawn(x, id)
	if !found {
		s.sorry(w, r, http.StatusNotFound, "There is no such reading", "The address names a reading that was never taken. The job's log has those that were.")
		return
	}
	held, err := s.held(r, x, e, b)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	base := "/jobs/" + x.stream
	v := page.Moved{
		Shell: s.jobShell(r, x, "It was taken back", ""), Hidden: s.hidden(x.seq), Head: "It was taken back",
		Say: "This reading was entered and taken back: it counts for nothing. Both stay in the log.",
		To:  base, ToText: "Go on with the job", Action: base + "/readings", Reading: nextReading(x), Again: "Enter it again",
		Typed: typed(held), Fields: fields(held),
	}
	if why := r.PostForm.Get("why"); why != "" {
		v.Typed = append(v.Typed, why)
	}
	if len(v.Typed) == 0 || x.stand == nil {
		v.Again = ""
	}
	for _, l := range s.logLines(x) {
		if l.Seq == e.Seq {
			v.Between = append(v.Between, l.LogLine)
		}
	}
	s.show(w, r, http.StatusGone, page.MovedPage(v))
}

// withdrawn finds the entry of a reading that was taken back.
func withdrawn(x *work, id string) (job.Entry, job.ReadingBody, bool) {
	for _, e := range x.job.Entries {
		if b, ok := e.Body.(job.ReadingBody); ok && b.ID == id && e.Back {
			return e, b, true
		}
	}
	return job.Entry{}, job.ReadingBody{}, false
}

// held is a form that enters a reading which was taken back: with what was typed
// now, else with what it held then.
func (s *Server) held(r *http.Request, x *work, e job.Entry, b job.ReadingBody) (url.Values, error) {
	out := url.Values{"key": {keyOf(b).String()}}
	if b.Showing != "" {
		out.Set("showing", b.Showing)
	}
	now := false
	for name, values := range r.PostForm {
		if boxField.MatchString(name) || unitField.MatchString(name) {
			out[name], now = values, true
		}
	}
	if now {
		return out, nil
	}
	then, err := s.weighed(r.Context(), x.stream, e.Seq)
	if err != nil || then.stand == nil || then.stand.Advice.Readings[b.ID] == nil {
		return out, err
	}
	values := then.stand.Advice.Readings[b.ID].Values
	for i := range values {
		text := typeable(&values[i])
		if i < len(b.Values) && b.Values[i].Class != "" {
			text = b.Values[i].Class
		}
		out.Set("v"+strconv.Itoa(i), text)
	}
	return out, nil
}
