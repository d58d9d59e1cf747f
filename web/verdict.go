package web

import (
	"net/http"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

// entryOf finds the entry of a reading.
func entryOf(x *work, id string) (job.Entry, job.ReadingBody, bool) {
	for _, e := range x.job.Entries {
		if b, ok := e.Body.(job.ReadingBody); ok && b.ID == id && !e.Back {
			return e, b, true
		}
	}
	return job.Entry{}, job.ReadingBody{}, false
}

// keyOf is the key that takes a reading again.
func keyOf(b job.ReadingBody) key {
	switch {
	case b.Procedure != "":
		return key{do: b.Procedure}
	case b.Through != "":
		return key{kind: "amps", through: b.Through}
	case len(b.Between) == 2:
		return key{kind: b.Quantity, red: b.Between[0], black: b.Between[1]}
	}
	return key{}
}

// verdictPage says what a reading means, as the job stands now.
func (s *Server) verdictPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	e, b, found := entryOf(x, r.PathValue("reading"))
	if !found {
		s.sorry(w, r, http.StatusNotFound, "There is no such reading", "It was taken back, or never taken.")
		return
	}
	then, err := s.openAt(r.Context(), x.stream, e.Seq)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	before, err := s.openAt(r.Context(), x.stream, e.Seq-1)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	base := "/jobs/" + x.stream
	v := page.Verdict{
		Shell: s.jobShell(r, x, "What it says", "now"), Hidden: s.hidden(x.seq), Change: then.stand.Since(before.stand, b.ID),
		Correct: base + "/readings/" + b.ID + "/correct", Again: keyOf(b).at(base), Next: page.Link{Text: "Go on", To: base},
	}
	v.Follow = true
	if now := x.stand.Advice.Readings[b.ID]; now != nil { // a correction counts
		v.Change.Reading, v.Change.Headline = now, now.Headline()
	}
	v.Taken = v.Change.Reading.Name + " · taken " + shortTime(e.Recorded, s.Now())
	if last, ok := job.Last(x.events); ok && last.ID == e.Event {
		v.Undo = true
	}
	if next := x.stand.Advice.Next; len(next) > 0 {
		v.Next.Text, v.NextNote = "Next: "+next[0].Name, strings.Join(nonEmpty(next[0].Cost(), next[0].Why), " · ")
	}
	s.show(w, r, http.StatusOK, page.VerdictPage(v))
}

func (s *Server) correctPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	s.showCorrect(w, r, http.StatusOK, x, nil, "", nil)
}

// showCorrect shows the form of a correction, with what stands or what was
// filled in.
func (s *Server) showCorrect(w http.ResponseWriter, r *http.Request, code int, x *work, f *filled, why string, problems page.Problems) {
	id := r.PathValue("reading")
	_, b, found := entryOf(x, id)
	rd := x.stand.Advice.Readings[id]
	if !found || rd == nil {
		s.sorry(w, r, http.StatusNotFound, "There is no such reading", "It was taken back, or never taken.")
		return
	}
	seek, err := s.systems.shelf(x.job.System).Observables(x.job, &b)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Correct{Shell: s.jobShell(r, x, "Correct a reading", "log"), Hidden: s.hidden(x.seq), Name: rd.Name, Reading: id, Why: why, Problems: problems}
	for i, o := range seek {
		text := ""
		if i < len(rd.Values) {
			text = strings.ReplaceAll(strings.ReplaceAll(rd.Values[i].Words(), "\u00a0", " "), "−", "-")
			if rd.Values[i].How == "not-taken" {
				text = ""
			}
		}
		if o.Classes != nil {
			v.Question = o.Note
			for _, c := range o.Classes {
				on := i < len(rd.Values) && rd.Values[i].Class == c
				if f != nil {
					on = f.class == c
				}
				v.Classes = append(v.Classes, page.Choice{ID: c, Text: advice.Capital(c), On: on})
			}
			continue
		}
		box := page.Box{Name: "v" + strconv.Itoa(i), Label: o.Note, Value: text, Units: job.BoxUnits(o), Unit: first(job.BoxUnits(o)), Optional: o.Optional}
		if f != nil && i < len(f.texts) {
			box.Value, box.Unit = f.texts[i], f.units[i]
		}
		v.Boxes = append(v.Boxes, box)
	}
	s.show(w, r, code, page.CorrectPage(v))
}

// correct replaces the values of a reading.
func (s *Server) correct(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sent(w, r)
	if !ok {
		return
	}
	id := r.PathValue("reading")
	_, b, found := entryOf(x, id)
	if !found || x.stand == nil {
		s.sorry(w, r, http.StatusNotFound, "There is no such reading", "It was taken back, or never taken.")
		return
	}
	seek, err := s.systems.shelf(x.job.System).Observables(x.job, &b)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	f := fill(r.Form, seek, nil)
	why := strings.TrimSpace(r.FormValue("why"))
	problems := f.problems
	if why == "" || len(why) > longestText {
		problems = append(problems, page.Problem{Field: "why", Text: "Say why, in a few words: misread, wrong point, wrong range"})
	}
	if len(problems) > 0 {
		s.showCorrect(w, r, http.StatusUnprocessableEntity, x, &f, why, problems)
		return
	}
	e, err := s.event(r, h, job.Corrected, job.CorrectBody{ID: id, Values: f.values, Why: why})
	if err == nil {
		err = s.record(r.Context(), x, e)
	}
	s.recorded(w, r, x, err, "/jobs/"+x.stream+"/readings/"+id)
}
