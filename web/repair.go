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

func (s *Server) repairPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.unsigned(w, r)
	if !ok {
		return
	}
	s.showRepair(w, r, http.StatusOK, x, page.Repair{Chosen: r.FormValue("mend")})
}

func (s *Server) showRepair(w http.ResponseWriter, r *http.Request, code int, x *work, v page.Repair) {
	v.Shell, v.Hidden, v.Query = s.jobShell(r, x, "Repair", "now"), s.hidden(x.seq), strings.TrimSpace(r.URL.Query().Get("q"))
	for _, g := range x.stand.RepairGroups() {
		g.Choices = slices.DeleteFunc(g.Choices, func(c advice.RepairChoice) bool { return !holdsWords(c.Name+" "+g.Name, v.Query) })
		if v.Found += len(g.Choices); len(g.Choices) > 0 {
			v.Groups = append(v.Groups, g)
		}
	}
	if v.Chosen != "" {
		step, err := x.stand.Mend(v.Chosen)
		if err != nil {
			v.Chosen = ""
		} else {
			v.Step, v.Lines, v.After = &step, x.stand.Lines(step), x.stand.EarthOff()
			v.Chance = strings.Join(nonEmpty(advice.Sentence(step.Why), advice.Sentence(step.Cost())), " ")
		}
	}
	s.show(w, r, code, page.RepairPage(v))
}

// repair records work that was done. A repair of two parts is two events.
func (s *Server) repair(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	v := page.Repair{Chosen: r.FormValue("repair"), What: strings.TrimSpace(r.FormValue("what")), Cured: r.FormValue("cured")}
	say := func(field, text string) { v.Problems = append(v.Problems, page.Problem{Field: field, Text: text}) }
	var classes []string
	if v.Chosen != "" {
		classes = strings.Split(v.Chosen, "+")
	}
	for _, c := range classes {
		if _, known := s.Shelf.PracticeOf(x.job.System).Repairs[c]; !known {
			say("repair", "Choose a repair from the list, or say in words what was done")
		}
	}
	if v.Chosen == "" && v.What == "" {
		say("repair", "Choose what was done, or say it in words")
	}
	if long := tooLong(v.What); long != "" {
		say("what", long)
	}
	if !slices.Contains([]string{"yes", "no", "unknown"}, v.Cured) {
		say("cured", "Say whether the complaint is gone; “not known yet” will do")
	}
	if len(v.Problems) > 0 {
		s.showRepair(w, r, http.StatusUnprocessableEntity, x, v)
		return
	}
	if len(classes) == 0 {
		classes = []string{""}
	}
	var what []told
	done := len(x.job.Repairs)
	for i, c := range classes {
		b := job.RepairBody{ID: "repair-" + strconv.Itoa(done+i+1), Repair: c, Cured: v.Cured}
		if i == 0 {
			b.What = v.What
		}
		what = append(what, told{job.Repaired, b})
	}
	to := "/jobs/" + x.stream
	if v.Cured == "yes" {
		to += "/proof"
	}
	s.enter(w, r, x, h, to, func(why string) {
		say("", why)
		s.showRepair(w, r, http.StatusUnprocessableEntity, x, v)
	}, what...)
}

func (s *Server) proofPage(w http.ResponseWriter, r *http.Request) {
	x, ok := s.opened(w, r)
	if !ok {
		return
	}
	v := page.Proof{}
	if p := x.job.Proved; p != nil {
		v.Proved, v.Covers, v.Leads, v.Note = true, p.Covers, p.Leads, p.Note
	}
	s.showProof(w, r, http.StatusOK, x, v)
}

func (s *Server) showProof(w http.ResponseWriter, r *http.Request, code int, x *work, v page.Proof) {
	v.Shell, v.Hidden = s.jobShell(r, x, "Proof", "proof"), s.hidden(x.seq)
	v.Follow = true
	for _, d := range x.stand.Advice.Repairs {
		name := d.Name
		if name == "" {
			name = "a repair"
		}
		v.Repairs = append(v.Repairs, "Done: "+name+"; complaint gone: "+d.Gone()+".")
	}
	v.Left = "Nothing on the list is wrong: " + advice.Percent(x.stand.Advice.NoFault) + " likely."
	if len(v.Repairs) > 0 {
		v.Left = "Nothing on the list is left: " + x.stand.Mended() + " likely, " + advice.Odds(x.stand.Advice.Mended) + "."
	}
	if x.stand.Advice.CameBack() {
		v.Left = "The complaint came back after the last repair, so nothing is proved. " + v.Left
	}
	for _, p := range x.stand.Proof() {
		l := page.ProofLine{Name: p.Name, Minutes: p.Minutes, Before: "–", After: "–", To: key{do: p.Procedure}.at(v.Job), Done: p.After != nil}
		if p.Before != nil {
			l.Before = valueWords(p.Before)
		}
		if p.After != nil {
			l.After = valueWords(p.After)
			v.Taken++
			if first := p.After.Values[0]; len(first.Limits) > 0 {
				l.Says = first.Call()
				l.Limit = first.Limits[0].Words(first.Dim) + ", " + first.Limits[0].Origin()
			}
		}
		v.Lines = append(v.Lines, l)
	}
	s.show(w, r, code, page.ProofPage(v))
}

func valueWords(r *advice.Reading) string {
	var out []string
	for _, v := range r.Values {
		if w := v.Words(); w != "" && v.How != "not-taken" {
			out = append(out, w)
		}
	}
	return strings.Join(out, ", ")
}

// prove records that somebody holds the proof to be complete.
func (s *Server) prove(w http.ResponseWriter, r *http.Request) {
	x, h, ok := s.sentTo(w, r)
	if !ok {
		return
	}
	v := page.Proof{Covers: r.FormValue("covers") == "yes", Leads: r.FormValue("leads") == "yes", Note: strings.TrimSpace(r.FormValue("note"))}
	if !v.Covers {
		v.Problems = append(v.Problems, page.Problem{Field: "covers", Text: "Covers, plugs, straps and guards go back on before the vehicle leaves"})
	}
	if !v.Leads {
		v.Problems = append(v.Problems, page.Problem{Field: "leads", Text: "Test leads, jumpers and tools come off before the vehicle leaves"})
	}
	if long := tooLong(v.Note); long != "" {
		v.Problems = append(v.Problems, page.Problem{Field: "note", Text: long})
	}
	if len(v.Problems) > 0 {
		s.showProof(w, r, http.StatusUnprocessableEntity, x, v)
		return
	}
	b := job.ProvedBody{Covers: true, Leads: true, Note: v.Note, Readings: []string{}}
	for _, p := range x.stand.Proof() {
		if p.After != nil {
			b.Readings = append(b.Readings, p.AfterID)
		} else {
			b.Missing = append(b.Missing, p.Procedure)
		}
	}
	s.enter(w, r, x, h, "/jobs/"+x.stream+"/report", func(why string) {
		v.Problems = append(v.Problems, page.Problem{Text: advice.Sentence(why)})
		s.showProof(w, r, http.StatusUnprocessableEntity, x, v)
	}, told{job.Proved, b})
}
