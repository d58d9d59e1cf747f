package web

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
)

// What the first job of a kind would wait for is worked out ahead: what every test
// reads under every cause before anything was measured. It is of one system, one kind
// of complaint and one day, so the day is that of the latest job: the air in a shop is
// tomorrow much as it was today, and mostly nobody writes it down.

// recentJobs is how many of the latest jobs say what a workshop sees, and enough is
// from how many on it is believed: what none of them was is not worked out ahead.
const (
	recentJobs = 200
	enough     = 20
)

// kindOfJob is what first plans differ by.
type kindOfJob struct {
	kept *kept
	kind string // of complaint
}

// warmUp makes ready what the first jobs would wait for, most seen first, in small parts
// that wait for everything that somebody waits for.
func (s *Server) warmUp() {
	all, _, err := s.systems.list(s.live)
	if s.live.Err() != nil { // it is to end already
		return
	}
	if err != nil {
		s.Log.Error("the systems cannot be listed", "why", err)
		return
	}
	lines, _, err := s.Journal.Jobs(s.live, journal.Query{Limit: recentJobs})
	if err != nil && s.live.Err() == nil {
		s.Log.Error("the jobs cannot be listed", "why", err)
	}
	day := s.latestDay(s.live, lines)
	for _, f := range firsts(all, lines) {
		if err := s.ahead(f, day); err != nil && s.live.Err() == nil {
			s.Log.Error("a first plan cannot be made", "system", f.kept.system.ID, "complaint", f.kind, "why", err)
		}
	}
}

// ahead makes one kind of first plan ready.
func (s *Server) ahead(f kindOfJob, day *job.Conditions) (err error) {
	var p *advice.Prepared
	s.engine.do(nobody, true, "", func() { p, err = f.kept.prepare() })
	if err != nil || f.kind == "" {
		return err
	}
	in, err := s.newlyOpened(f, day)
	if err != nil {
		return err
	}
	in.Prepared = p
	return p.Ahead(in, func(part func()) bool {
		if s.live.Err() == nil {
			s.engine.do(nobody, true, "", part)
		}
		return s.live.Err() == nil
	})
}

// newlyOpened is what is asked of a job of a kind that was just opened, by the way that
// every job goes.
func (s *Server) newlyOpened(f kindOfJob, day *job.Conditions) (advice.Input, error) {
	body, err := json.Marshal(job.OpenedBody{System: f.kept.system.ID, Complaint: &job.Complaint{Kind: f.kind}, Conditions: day})
	if err != nil {
		return advice.Input{}, err
	}
	shelf := s.systems.shelf(f.kept.system)
	j, err := job.Fold([]job.Event{{Stream: "ahead", Seq: 1, Kind: job.Opened, V: 1, Body: body}}, shelf)
	if err != nil {
		return advice.Input{}, err
	}
	return j.Input(shelf.PracticeOf(j.System), shelf.Catalogue), nil
}

// latestDay are the temperatures that the latest job was opened with; nil when there is
// none.
func (s *Server) latestDay(ctx context.Context, lines []journal.Line) *job.Conditions {
	if len(lines) == 0 {
		return nil
	}
	last := slices.MaxFunc(lines, func(a, b journal.Line) int { return a.Opened.Compare(b.Opened) })
	events, err := s.Journal.Read(ctx, last.Stream, 0)
	var b job.OpenedBody
	if err != nil || len(events) == 0 || json.Unmarshal(events[0].Body, &b) != nil {
		return nil // its own page says what is the matter with it
	}
	return b.Conditions
}

// firsts are the kinds of job in the order in which they are made ready: what many jobs
// are comes first. Where enough is known of a workshop, of what it never saw the system
// alone is made ready (no kind).
func firsts(all []*kept, jobs []journal.Line) (out []kindOfJob) {
	systems, pairs := map[string]int{}, map[string]int{}
	for _, l := range jobs {
		systems[l.System]++
		pairs[l.System+" "+l.Complaint]++
	}
	pairsOf := func(f kindOfJob) int { return pairs[f.kept.system.ID+" "+f.kind] }
	for _, k := range all {
		for _, kind := range advice.Complaints() {
			out = append(out, kindOfJob{k, kind})
		}
	}
	slices.SortStableFunc(out, func(a, b kindOfJob) int {
		return cmp.Or(cmp.Compare(pairsOf(b), pairsOf(a)), cmp.Compare(systems[b.kept.system.ID], systems[a.kept.system.ID]))
	})
	if len(jobs) < enough {
		return out
	}
	out = slices.DeleteFunc(out, func(f kindOfJob) bool { return pairsOf(f) == 0 })
	for _, k := range all {
		if systems[k.system.ID] == 0 {
			out = append(out, kindOfJob{k, ""})
		}
	}
	return out
}
