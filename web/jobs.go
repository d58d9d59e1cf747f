package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/web/page"
)

// jobsShown is how many jobs stand on one page.
const jobsShown = 60

// States of a job in the list.
const (
	stateReady = iota
	stateWaits
	stateProve
	stateSigned
	states
)

var stateNames = [states]string{"Ready for you", "Waiting", "To prove and sign", "Signed"}

func (s *Server) jobsPage(w http.ResponseWriter, r *http.Request) {
	q := journal.Query{Text: r.FormValue("q"), Limit: jobsShown}
	if before, err := strconv.ParseInt(r.FormValue("before"), 10, 64); err == nil && before > 0 {
		q.Before = before
	}
	list, more, err := s.Journal.Jobs(r.Context(), q)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Jobs{Query: q.Text, None: len(list) == 0 && q.Text == "" && q.Before == 0}
	if more {
		v.More = "/?" + url.Values{"q": {q.Text}, "before": {strconv.FormatInt(list[len(list)-1].Place, 10)}}.Encode()
	}
	var groups [states][]page.JobLine
	var cold []place
	for _, l := range list {
		x := s.works.get(place{l.Stream, l.Seq})
		at := stateOf(l)
		if !x.complete(true) && at != stateSigned {
			cold = append(cold, place{l.Stream, l.Seq})
		}
		groups[at] = append(groups[at], jobLine(l, x, at))
	}
	for i, g := range groups {
		if len(g) > 0 {
			v.Groups = append(v.Groups, page.JobGroup{Name: stateNames[i], Jobs: g})
		}
	}
	v.Unrecorded = s.leftOver(r)
	s.warm(cold)
	s.show(w, r, http.StatusOK, page.JobsPage(s.shell(r, "Jobs"), v))
}

func stateOf(l journal.Line) int {
	switch {
	case l.Signed:
		return stateSigned
	case l.Waits != "":
		return stateWaits
	case l.Repairs > 0 && l.Cured == "yes":
		return stateProve
	}
	return stateReady
}

var lastWords = map[job.Kind]string{
	job.Opened: "Nothing read yet", job.Took: "Last: a reading entered", job.Repaired: "Last: a repair recorded", job.Corrected: "Last: a reading corrected",
	job.FoundRig: "Hook-up begun", job.CouldNot: "Last: a test that could not be done", job.Withdrawn: "Last: an entry taken back",
	job.Waits: "Waits", job.Proved: "Proved", job.Signed: "Signed", job.Reopened: "Reopened", job.Identified: "What is fitted was seen",
}

func jobLine(l journal.Line, x *work, state int) page.JobLine {
	out := page.JobLine{
		To: "/jobs/" + l.Stream, ID: l.Job, Vehicle: l.Note, Complaint: complaintWords(l.Complaint), Next: lastWords[l.Last],
		NextNote: strings.Join(nonEmpty(some(l.Readings, "reading", "readings"), some(l.Repairs, "repair", "repairs"), l.Changed.Format("2 Jan 15:04")), ", "),
	}
	switch state {
	case stateProve:
		out.Next = "Next: prove it and sign"
	case stateWaits:
		out.Next = "For " + waitWords[l.Waits]
	}
	if out.ID == "" {
		out.ID = "–"
	}
	if out.Vehicle == "" {
		out.Vehicle = l.System
	}
	if l.Plate != "" || l.Name != "" {
		out.Complaint = strings.Join(nonEmpty(out.Complaint, l.Plate, l.Name), " · ")
	}
	if x == nil || x.stand == nil {
		return out
	}
	if x.job.Waits.For != "" {
		out.Next = strings.TrimSpace("For " + waitWords[x.job.Waits.For] + ": " + x.job.Waits.What)
	} else if next := x.stand.Advice.Next; len(next) > 0 && state == stateReady {
		out.Next = "Next: " + next[0].Name
	}
	if state != stateSigned && state != stateProve { // what it was is mended
		out.Share = x.stand.Portions()
		out.Leads = out.Share[0].Name
	}
	return out
}

var waitWords = map[string]string{"battery": "the battery", "part": "a part", "customer": "the customer's word", "hands": "a second pair of hands", "nothing": "nothing: go on"}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// some is a count that is left out when there is none.
func some(n int, one, many string) string {
	if n == 0 {
		return ""
	}
	return plural(n, one, many)
}

// complaintWords is a kind of complaint as the driver's form has it.
func complaintWords(kind string) string {
	switch w := kindWords[kind]; {
	case kind == "other":
		return "Another complaint"
	case w != "":
		return w
	}
	return strings.ReplaceAll(kind, "-", " ")
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, x := range list {
		if x != "" {
			out = append(out, x)
		}
	}
	return out
}

// warmed is how many jobs of a list are worked out behind it.
const warmed = 16

// warm works out jobs behind the request, so that the list shows more the next
// time. One list at a time is enough.
func (s *Server) warm(list []place) {
	if len(list) > warmed {
		list = list[:warmed]
	}
	if len(list) == 0 || s.live.Err() != nil || !s.warming.CompareAndSwap(false, true) {
		return
	}
	s.behind.Go(func() {
		defer s.warming.Store(false)
		for _, at := range list {
			if s.live.Err() != nil {
				return
			}
			if _, err := s.openAt(urgent(s.live, nobody), at.stream, at.seq); err != nil {
				s.Log.Error("a job of the list cannot be opened", "job", at.stream, "why", err)
			}
		}
	})
}

// jobTitle names a job at the head of its pages.
func (s *Server) jobTitle(_ context.Context, x *work) string {
	name := x.job.Vehicle.Note
	if name == "" {
		name = x.job.System.Name
	}
	if x.job.ID != "" {
		name += " · job " + x.job.ID
	}
	return name
}

func jobSub(x *work) string {
	words := x.job.Complaint.Words
	if words == "" {
		words = complaintWords(x.job.Complaint.Kind)
	}
	return strings.Join(nonEmpty(words, advice.Temperature(x.job.Ambient)), " · ")
}
