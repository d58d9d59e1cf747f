package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"strconv"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
	"chargewright/system"
)

// record adds events to stream job-1 of the journal in a directory.
func record(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: record DIR N")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	ctx := context.Background()
	db, err := store.Open(ctx, placeOf(ts, args[0]))
	ts.Check(err)
	defer func() { ts.Check(db.Close()) }()
	noon := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	s, err := journal.Open(ctx, db, func() time.Time { return noon })
	ts.Check(err)
	file := []byte("id: invented\n")
	sum := journal.Sum(sha256.Sum256(file))
	ts.Check(s.Keep(ctx, sum, file))
	before, err := s.Read(ctx, "job-1", 0)
	ts.Check(err)
	var events []job.Event
	for i := range n {
		seq := len(before) + i + 1
		e := job.Event{ID: fmt.Sprintf("e%d", seq), Kind: job.FoundRig, V: 1, Body: []byte(`{"rig":{"engine":"off"}}`)}
		if seq == 1 {
			e.Kind, e.Body = job.Opened, fmt.Appendf(nil, `{"system":"invented","system_sha256":"%v"}`, sum)
		}
		events = append(events, e)
	}
	_, err = s.Append(ctx, "job-1", len(before), events)
	ts.Check(err)
}

// placeOf is a directory of the script, or an address as it is.
func placeOf(ts *testscript.TestScript, place string) string {
	if store.IsURL(place) {
		return place
	}
	return ts.MkAbs(place)
}

// workOn adds events to a job that the program can read, and opens it where there
// is none; its customer is A. Example. $WHO, when it is set, stands in its ids.
func workOn(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: work DIR NUMBER N")
	}
	n, err := strconv.Atoi(args[2])
	ts.Check(err)
	ctx := context.Background()
	db, err := store.Open(ctx, placeOf(ts, args[0]))
	ts.Check(err)
	defer func() { ts.Check(db.Close()) }()
	noon := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	s, err := journal.Open(ctx, db, func() time.Time { return noon })
	ts.Check(err)
	sys, err := system.ByID("isolated-earth-side")
	ts.Check(err)
	sum := journal.Sum(sys.SHA256)
	ts.Check(s.Keep(ctx, sum, sys.Source))
	stream := "j-" + args[1]
	ts.Check(s.SetCustomer(ctx, journal.Customer{ID: "c-" + args[1], Name: "A. Example", Plate: "XX 123", Contact: "bell"}))
	before, err := s.Read(ctx, stream, 0)
	ts.Check(err)
	var events []job.Event
	for i := range n {
		seq := len(before) + i + 1
		e := job.Event{ID: fmt.Sprintf("%s-e%d", cmp.Or(ts.Getenv("WHO"), stream), seq), Kind: job.CouldNot, V: 1, Body: []byte(`{"procedure":"battery-density","why":"sealed"}`), Seen: seq - 1}
		if seq == 1 {
			body, err := json.Marshal(job.OpenedBody{Job: args[1], System: sys.ID, SHA256: sum.String(), Customer: "c-" + args[1], Complaint: &job.Complaint{Kind: "no-charge"}})
			ts.Check(err)
			e.Kind, e.Body = job.Opened, body
		}
		events = append(events, e)
	}
	_, err = s.Append(ctx, stream, len(before), events)
	ts.Check(err)
}

// status runs chargewright and holds its exit code, which exec does not look at.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N ARGS...")
	}
	got := 0
	var ended *exec.ExitError
	if err := ts.Exec("chargewright", args[1:]...); errors.As(err, &ended) {
		got = ended.ExitCode()
	} else {
		ts.Check(err)
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit code %d, want %s", got, args[0])
	}
}

// tamper runs statements on a database file, as another program could.
func tamper(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: tamper FILE SQL")
	}
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	_, err = db.ExecContext(context.Background(), args[1])
	ts.Check(err)
	ts.Check(db.Close())
}
