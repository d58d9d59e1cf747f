package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/web/page"
)

// entryOf finds the entry of a reading.
func entryOf(x *work, id string) (job.Entry, job.ReadingBody, bool) {
	if x == nil {
		return job.Entry{}, job.ReadingBody{}, false
	}
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
	r = r.WithContext(urgent(r.Context(), entered))
	if r.URL.Query().Has("soon") && s.soonVerdict(w, r) {
		return
	}
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	e, b, found := entryOf(x, r.PathValue("reading"))
	if !found {
		s.gone(w, r, x, r.PathValue("reading"))
		return
	}
	before, err := s.weighed(r.Context(), x.stream, e.Seq-1) // first: the state after it goes on from it
	if err != nil {
		s.broken(w, r, err)
		return
	}
	then, err := s.weighed(r.Context(), x.stream, e.Seq)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, page.VerdictPage(s.verdictOf(r, x, e, b, then, before)))
}

// verdictOf is what a reading means: as the job stands now, after the reading, and
// before it.
func (s *Server) verdictOf(r *http.Request, x *work, e job.Entry, b job.ReadingBody, then, before *work) page.Verdict {
	v := s.verdictAround(r, x, e, b)
	v.Change = then.stand.Since(before.stand, b.ID)
	if now := x.stand.Advice.Readings[b.ID]; now != nil { // a correction counts
		v.Change.Reading, v.Change.Headline = now, now.Headline()
	}
	v.Taken = s.taken(v.Change.Reading.Name, e)
	if next := x.stand.Advice.Next; len(next) > 0 {
		v.Next.Text, v.NextNote = "Next: "+next[0].Name, next[0].Cost()
	}
	v.Proof = proofSoFar(x, b)
	v.Meant = s.meant(x, v.Change.Reading)
	return v
}

// verdictAround is a verdict without what it says.
func (s *Server) verdictAround(r *http.Request, x *work, e job.Entry, b job.ReadingBody) page.Verdict {
	base := "/jobs/" + x.stream
	v := page.Verdict{
		Shell: s.jobShell(r, x, "What it says", "now"), Hidden: s.hidden(x.seq),
		Correct: base + "/readings/" + b.ID + "/correct", Again: keyOf(b).at(base), Next: page.Link{Text: "Go on", To: base},
	}
	v.Follow = true
	if r.URL.Query().Has("soon") {
		v.Here = r.URL.Path // it is the same page
	}
	last, ok := job.Last(x.events)
	v.Undo = ok && last.ID == e.Event && s.mayTakeBack(r, last.Kind)
	return v
}

// taken says what was read, and when.
func (s *Server) taken(name string, e job.Entry) string {
	if late := s.lateNote(e); late != "" {
		return strings.Join(nonEmpty(name, "recorded "+shortTime(e.Recorded, s.Now()), late), " · ")
	}
	return name + " · taken " + shortTime(e.Recorded, s.Now())
}

// meant is the correction of a reading to what it was probably meant to be; nil when
// nothing says what, or what stands beside it cannot be typed again.
func (s *Server) meant(x *work, rd *advice.Reading) *page.Meant {
	if rd == nil {
		return nil
	}
	var out page.Meant
	var texts, why []string
	for i := range rd.Values {
		text := typeable(&rd.Values[i])
		if m := rd.Values[i].Meant; m != nil && m.Words != "" {
			text = strings.ReplaceAll(m.Words, "\u00a0", " ")
			texts, why = append(texts, m.Words), append(why, m.Why)
		}
		if text == "" {
			return nil
		}
		out.Fields = append(out.Fields, page.Field{Name: "v" + strconv.Itoa(i), Value: text})
	}
	if len(texts) == 0 {
		return nil
	}
	out.Hidden, out.Text, out.Why = s.hidden(x.seq), strings.Join(texts, ", "), strings.Join(why, ", ")
	out.Fields = append(out.Fields, page.Field{Name: "why", Value: out.Why})
	return &out
}

// proofSoFar says how far the proof is that a reading belongs to; "" when it
// belongs to none.
func proofSoFar(x *work, b job.ReadingBody) string {
	if len(x.job.Repairs) == 0 || !slices.Contains(advice.ProofReadings(), b.Procedure) {
		return ""
	}
	taken, all := 0, x.stand.Proof()
	for _, p := range all {
		if p.After != nil {
			taken++
		}
	}
	return strconv.Itoa(taken) + " of " + strconv.Itoa(len(all)) + " readings of it are taken"
}
