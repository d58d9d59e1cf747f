package web

import (
	"net/http"
	"strings"
	"testing"
)

// TestUntick: a line that was ticked by mistake is unticked where it stands; the
// hook-up is as it was before, no rule is broken, and the same lines are asked for
// again. After a reading nothing is left to untick.
func TestUntick(t *testing.T) {
	s := theShop(t)
	at := s.newJob(t)
	to := at + "?key=do:drop-feed"
	before, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil {
		t.Fatal(err)
	}
	first := s.get(t, to).want(t, 200)
	if strings.Contains(first.body, "Untick the last") {
		t.Error("something can be unticked before anything was ticked")
	}
	lines := strings.Count(first.body, `name="line"`)
	s.ask(t, http.MethodPost, at+"/hook-up", first.form(t, at+"/hook-up", "line", "2")).want(t, 303)
	ticked := s.get(t, to).want(t, 200, "Untick the last", "not done after all")
	if n := strings.Count(ticked.body, `name="line"`); n != lines-2 {
		t.Errorf("%d lines with two ticked, %d before", n, lines)
	}
	back := s.ask(t, http.MethodPost, at+"/undo", ticked.form(t, at+"/undo")).want(t, 303)
	if where := back.Get("Location"); where != at+"?key=do%3Adrop-feed" {
		t.Errorf("it leads to %s, want the step whose line it was", where)
	}
	again := s.get(t, to).want(t, 200)
	if n := strings.Count(again.body, `name="line"`); n != lines || strings.Contains(again.body, "Untick the last") {
		t.Errorf("%d lines after unticking, %d before", n, lines)
	}
	x, err := s.open(t.Context(), strings.TrimPrefix(at, "/jobs/"))
	if err != nil || x.job.Rig != before.job.Rig || x.job.Known != before.job.Known || len(x.stand.Against()) > 0 {
		t.Errorf("the hook-up is not what it was (%v)", err)
	}
	s.asMadeAnew(t, at)
	s.ask(t, http.MethodPost, at+"/hook-up", again.form(t, at+"/hook-up", "line", "1")).want(t, 303)
	s.read(t, at, "battery-rest-volts", "12.41").want(t, 303)
	if strings.Contains(s.get(t, at).want(t, 200).body, "Untick the last") {
		t.Error("a line from before a reading can be unticked")
	}
}
