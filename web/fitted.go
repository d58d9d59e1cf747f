package web

import (
	"net/http"
	"net/url"

	"chargewright/advice"
	"chargewright/identify"
	"chargewright/web/page"
)

// leastFound is the share under which a finding is not shown.
const leastFound = 0.01

// fittedPage weighs what was seen of a vehicle, which stands in the address.
func (s *Server) fittedPage(w http.ResponseWriter, r *http.Request) {
	lib, err := identify.Library()
	if err != nil {
		s.broken(w, r, err)
		return
	}
	answers := map[string]string{}
	for look, a := range r.URL.Query() {
		if len(a) > 0 && a[0] != "" {
			answers[look] = a[0]
		}
	}
	// An answer that the others have made pointless goes: the form had it from before.
	for _, l := range lib.Looks {
		if !lib.Asked(l, answers) {
			delete(answers, l.ID)
		}
	}
	v := page.Fitted{Shell: s.shell(r, "What is fitted")}
	code := http.StatusOK
	if err := lib.Check(answers); err != nil {
		code = http.StatusUnprocessableEntity
		v.Problems = lines(err)
		answers = map[string]string{}
	}
	weighed := lib.Weigh(answers)
	if len(answers) > 0 {
		s.found(&v, lib, weighed)
	}
	for _, n := range weighed.Next {
		v.Next = append(v.Next, looked(lib, n.Look, ""))
	}
	for _, l := range lib.Looks {
		if answers[l.ID] != "" {
			v.Seen = append(v.Seen, looked(lib, l, answers[l.ID]))
		}
	}
	s.show(w, r, code, page.FittedPage(v))
}

func (s *Server) found(v *page.Fitted, lib *identify.Catalogue, w identify.Weighed) {
	for i, f := range w.Findings {
		if i > 0 && f.Probability < leastFound {
			continue
		}
		x := page.Found{Name: advice.Capital(f.Alternator.Name), Note: f.Wiring.Name, Share: advice.Percent(f.Probability), Pair: f.Pair != nil}
		if f.Pair == nil {
			x.Name = "Not a pair: " + f.Alternator.Name
			if would := lib.Would(f.Alternator.ID, f.Wiring.ID); would != "" {
				x.Note += "; together: " + would
			}
		}
		v.Found = append(v.Found, x)
	}
	if w.None >= leastFound {
		v.Found = append(v.Found, page.Found{Name: "None of these", Share: advice.Percent(w.None)})
	}
	v.Verdict = w.Verdict()
	if f := w.Findings[0]; f.Pair != nil && f.Pair.System != "" {
		v.Open, v.Open2 = "/jobs/new?system="+url.QueryEscape(f.Pair.System), "New job on this system"
	}
}

func looked(lib *identify.Catalogue, l identify.Look, answer string) page.Looked {
	x := page.Looked{ID: l.ID, Ask: l.Ask, Minutes: advice.MinutesWords(l.Minutes), Do: l.Do}
	for _, c := range lib.CautionsOf(l) {
		x.Cautions = append(x.Cautions, advice.Cautions{Text: c})
	}
	for _, a := range l.Answers {
		x.Answers = append(x.Answers, page.Choice{ID: a.ID, Text: advice.Capital(a.Say), On: a.ID == answer})
	}
	return x
}
