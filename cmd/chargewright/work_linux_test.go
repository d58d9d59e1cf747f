package main

import (
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"chargewright/internal/pgtest"
)

// TestWorker: a worker says what it does at an address of its own, serves no pages there,
// and ends in good order.
func TestWorker(t *testing.T) {
	p := start(t, pgtest.Schema(t), `"msg":"serving metrics","address":"([^"]+)/metrics"`, nil, "work", "--metrics", "127.0.0.1:0", "--at-once", "3")
	for end := time.Now().Add(time.Minute); !strings.Contains(p.said.String(), `"msg":"working"`); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it does not work: %s", p.said.String())
		}
	}
	if code, page := got(t, p.base+"/healthz"); code != 200 || !strings.Contains(page, "answers") {
		t.Errorf("healthz: %d %s", code, page)
	}
	if code, page := got(t, p.base+"/metrics"); code != 200 || !regexp.MustCompile(`(?m)^chargewright_tasks_waiting 0$`).MatchString(page) {
		t.Errorf("metrics: %d %.300s", code, page)
	}
	if code, _ := got(t, p.base+"/"); code != 404 {
		t.Errorf("a worker serves pages: %d", code)
	}
	began := time.Now()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Wait(); err != nil || time.Since(began) > endWithin {
		t.Errorf("it ended after %v: %v: %s", time.Since(began), err, p.said.String())
	}
	logIsClean(t, p.said.String())
}
