package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/question"
	"chargewright/web/page"
)

// key says what is being done on a job: nothing chosen, a procedure, a repair,
// a free reading between two points or round a wire.
type key struct{ do, mend, kind, red, black, through string }

func parseKey(text string) key {
	parts := strings.Split(text, ":")
	get := func(i int) string {
		if i < len(parts) {
			return parts[i]
		}
		return ""
	}
	switch get(0) {
	case "do":
		return key{do: get(1)}
	case "mend":
		return key{mend: get(1)}
	case "free":
		return key{kind: get(1), red: get(2), black: get(3)}
	case "amps":
		return key{kind: "amps", through: get(1)}
	}
	return key{}
}

func (k key) String() string {
	switch {
	case k.do != "":
		return "do:" + k.do
	case k.mend != "":
		return "mend:" + k.mend
	case k.through != "":
		return "amps:" + k.through
	case k.kind != "":
		return "free:" + k.kind + ":" + k.red + ":" + k.black
	}
	return ""
}

func (k key) free() bool { return k.kind != "" }

// at is the address of a job with something chosen on it.
func (k key) at(base string) string {
	if k.free() {
		return base + "/free?" + url.Values{"kind": {k.kind}, "red": {k.red}, "black": {k.black}, "through": {k.through}}.Encode()
	}
	if k == (key{}) {
		return base
	}
	return base + "?key=" + url.QueryEscape(k.String())
}

// step is what a key stands for; with nothing chosen, the step that is proposed.
func (k key) step(st *advice.Standing) (advice.Step, error) {
	switch {
	case k.do != "":
		return st.Take(k.do)
	case k.mend != "":
		return st.Mend(k.mend)
	case k.through != "":
		return st.FreeAmps(k.through)
	case k.kind != "":
		return st.Free(k.kind, k.red, k.black)
	case len(st.Advice.Next) > 0:
		return st.Advice.Next[0], nil
	}
	return advice.Step{Name: "Nothing is left to do here"}, nil
}

// of is the key that chooses a step.
func of(step advice.Step, k key) key {
	switch {
	case k.free():
		return k
	case step.Body.Procedure != "":
		return key{do: step.Body.Procedure}
	case step.Do == "repair":
		return key{mend: step.Body.Repair}
	}
	return key{}
}

func (s *Server) jobPage(w http.ResponseWriter, r *http.Request) {
	x, err := s.open(r.Context(), r.PathValue("job"))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if x.job.Signed != nil && r.FormValue("key") != "" {
		s.isSigned(w, r, x)
		return
	}
	s.showJob(w, r, http.StatusOK, x, parseKey(r.FormValue("key")), nil, nil)
}

// showJob shows a job with something chosen, and a form as far as it was filled.
func (s *Server) showJob(w http.ResponseWriter, r *http.Request, code int, x *work, k key, f *filled, more func(*page.Job)) {
	v, err := s.jobView(r, x, k)
	if err != nil {
		s.sorry(w, r, http.StatusUnprocessableEntity, "That cannot be done now", advice.Sentence(err.Error()))
		return
	}
	v.Entry.take(f)
	out := v.Job
	out.Entry = v.Entry.Entry
	if more != nil {
		more(&out)
	}
	s.show(w, r, code, page.JobPage(out))
}

// lately is how many of the latest entries stand on the page of a job.
const lately = 5

// jobView is everything that the page of a job shows.
type jobView struct {
	page.Job
	Entry entry
}

func (s *Server) jobView(r *http.Request, x *work, k key) (jobView, error) {
	x, err := s.withSteps(r.Context(), x)
	if err != nil {
		return jobView{}, err
	}
	v := jobView{Job: page.Job{Shell: s.jobShell(r, x, "Now", "now"), Hidden: s.hidden(x.seq), Readings: len(x.job.Readings), Refused: x.refused}}
	v.Follow = true
	v.Unrecorded = s.unrecorded(r, x)
	v.Waits = waitsFor(x.job.Waits)
	v.Signed = x.job.Signed != nil
	for _, l := range slices.Backward(s.logLines(x)) {
		if len(v.Lately) < lately {
			v.Lately = append(v.Lately, l.LogLine)
		}
	}
	if last, ok := job.Last(x.events); ok && s.mayTakeBack(r, last.Kind) {
		v.Undo = kindNames[last.Kind]
	}
	if x.stand != nil {
		for _, a := range x.stand.Advice.Rig {
			v.Rig = append(v.Rig, a.Short)
		}
	}
	if x.stand == nil {
		v.Step, v.Verb, v.Standing = advice.Step{Name: "Not on this system"}, "Next", "refused"
		return v, nil
	}
	st := x.stand
	if v.Signed {
		s.signedOff(&v, x)
		return v, nil
	}
	step, err := k.step(st)
	if err != nil {
		return v, err
	}
	k = of(step, k)
	v.Step, v.Key, v.Verb, v.Cost, v.Why = step, k.String(), step.Verb(), step.Cost(), advice.Sentence(step.Why)
	v.Lines = st.Lines(step)
	v.Watch = st.Watch(st.RigNow())
	v.Against = st.Against()
	v.Figure = s.figure(st, step, v.Lines)
	v.Strips = step.Strips
	v.Working = append(slices.Clone(step.Body.Lines), step.Holds()...)
	v.Cautions = step.Untold(v.Lines)
	v.Done, v.DoneLines = doneLines(x)
	v.Ticked = s.ticked(r, x)
	v.Causes = causeLines(st)
	v.Joints = st.Heat()
	v.Money = st.Cost()
	v.Ways = ways(v.Job.Job, st, step)
	v.Standing = standing(step)
	v.After = step.Do == "repair" && st.EarthOff()
	v.Repairs = v.Job.Job + "/repair?mend=" + url.QueryEscape(step.Body.Repair)
	v.Entry = s.entry(r, x, step, k)
	return v, nil
}

// signedOff is the page of a job on which nothing is done before it is reopened.
func (s *Server) signedOff(v *jobView, x *work) {
	v.Step, v.Verb, v.Standing = advice.Step{Name: "Signed off"}, "Done", "signed"
	v.Why = "What is done on it from here on wants it reopened first."
	v.Causes, v.Joints, v.Money = causeLines(x.stand), x.stand.Heat(), x.stand.Cost()
	v.Figure = s.figure(x.stand, v.Step, nil)
}

// standing is what stands in place of the form when a step measures nothing.
func standing(step advice.Step) string {
	switch {
	case len(step.Body.Leads) > 0 || step.Body.Question != "":
		return ""
	case step.Do == "test" || step.Do == "look" || step.Do == "repeat":
		return ""
	}
	return step.Do
}

func waitsFor(w job.WaitsBody) string {
	if w.For == "" {
		return ""
	}
	return strings.TrimSpace(strings.Join(nonEmpty("for "+waitWords[w.For], w.What), ": ")) + "."
}

// ticked is what was ticked last, where nothing came since and whoever looks may
// take it back.
func (s *Server) ticked(r *http.Request, x *work) string {
	last, ok := job.Last(x.events)
	if !ok || last.Kind != job.FoundRig || !s.mayTakeBack(r, last.Kind) {
		return ""
	}
	for _, e := range x.job.Entries {
		if b, is := e.Body.(job.RigBody); is && e.Event == last.ID {
			return advice.Capital(strings.Join(append(placeWords(x, b.Rig), leadWords(b.Leads)...), "; "))
		}
	}
	return ""
}

// doneLines says how much of the hook-up was done since the last reading, and what.
func doneLines(x *work) (words string, lines []string) {
	n := 0
	for i := len(x.job.Entries) - 1; i >= 0; i-- {
		e := x.job.Entries[i]
		b, ok := e.Body.(job.RigBody)
		if e.Back || e.Kind == job.Withdrawn {
			continue
		}
		if !ok {
			break
		}
		done := placeWords(x, b.Rig)
		n += len(b.Rig)
		if len(b.Rig) == 0 && len(b.Leads) > 0 {
			n++
			done = leadWords(b.Leads)
		}
		lines = append(done, lines...)
	}
	if n == 0 {
		return "", nil
	}
	return plural(n, "change", "changes") + " of the hook-up done since the last reading", lines
}

func causeLines(st *advice.Standing) []page.CauseLine {
	var out []page.CauseLine
	for _, p := range st.Portions() {
		if p.Letter == "" {
			continue
		}
		line := page.CauseLine{Portion: p}
		for _, x := range st.Advice.Suspects {
			if x.ID != p.ID {
				continue
			}
			line.Where = "cure: " + x.RepairName
			if x.Mended {
				line.Where += ", done"
			}
			line.Note = x.Faults[0].Note
		}
		if p.Letter == "?" {
			line.Note = "grows when the readings fit nothing on the list"
		}
		out = append(out, line)
	}
	return out
}

// ways are the other steps that the planner ranks.
func ways(base string, st *advice.Standing, now advice.Step) []page.WayLine {
	var out []page.WayLine
	for _, n := range st.Advice.Next {
		if n.Name == now.Name || len(out) == 4 {
			continue
		}
		out = append(out, page.WayLine{To: of(n, key{}).at(base), Name: n.Name, Note: advice.Sentence(n.Why), Cost: n.Cost()})
	}
	return out
}

// entry is the form of a reading, with what it asks for.
type entry struct {
	page.Entry
	seek []question.Observable
}

func (s *Server) entry(r *http.Request, x *work, step advice.Step, k key) entry {
	e := entry{Entry: page.Entry{
		Hidden: s.hidden(x.seq), Base: "/jobs/" + x.stream, Key: k.String(), Reading: nextReading(x), Procedure: step.Body.Procedure,
		Kind: k.kind, Red: k.red, Black: k.black, Through: k.through, Question: step.Body.Question, Else: "/jobs/" + x.stream + "/else",
	}}
	e.CouldNot = e.Base + "/could-not?key=" + url.QueryEscape(e.Key)
	if k.free() {
		e.CouldNot = "" // nothing was proposed
	}
	for _, c := range step.Looks {
		e.Classes = append(e.Classes, page.ClassChoice{Class: c})
	}
	for i := range step.Body.Leads {
		l := &step.Body.Leads[i]
		e.Boxes = append(e.Boxes, page.Box{Name: "v" + strconv.Itoa(i), Label: l.Title(), Meter: l.Meter})
	}
	if len(step.Strips) > 0 {
		first := step.Strips[advice.Telling(step.Strips)]
		if e.Leads = first.Leads; len(step.Strips) > 1 && e.Leads != "" {
			e.Leads = advice.Capital(first.Box) + " " + e.Leads
		}
	}
	e.seek = s.seek(x, k, step)
	for i, o := range e.seek {
		if i < len(e.Boxes) {
			e.Boxes[i].Units, e.Boxes[i].Optional = job.BoxUnits(o), o.Optional
			e.Boxes[i].Unit = first(job.BoxUnits(o))
		}
	}
	s.withWords(r, &e)
	return e
}

// seek is what a step asks for, as the fold will have it.
func (s *Server) seek(x *work, k key, step advice.Step) []question.Observable {
	shelf := s.systems.shelf(x.job.System)
	list, err := shelf.Observables(x.job, bodyOf(step, k))
	if err != nil {
		return nil // a repair asks for nothing
	}
	return list
}

// bodyOf is the body of a reading before its values.
func bodyOf(step advice.Step, k key) *job.ReadingBody {
	switch {
	case k.through != "":
		return &job.ReadingBody{Quantity: "amps", Through: k.through, Rig: step.ToRig}
	case k.free():
		return &job.ReadingBody{Quantity: k.kind, Between: []string{k.red, k.black}, Rig: step.ToRig}
	}
	return &job.ReadingBody{Procedure: step.Body.Procedure}
}

// take puts what was filled in back into the form.
func (e *entry) take(f *filled) {
	if f == nil {
		return
	}
	e.Problems, e.Showing = f.problems, f.showing
	for i := range e.Boxes {
		if i < len(f.texts) {
			e.Boxes[i].Value, e.Boxes[i].Unit = f.texts[i], f.units[i]
		}
	}
	for i := range e.Classes {
		e.Classes[i].On = e.Classes[i].Name == f.class
	}
}
