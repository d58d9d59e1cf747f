package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"os/exec"
	"strconv"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
)

// record adds events to stream job-1 of the journal in a directory.
func record(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: record DIR N")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	ctx := context.Background()
	db, err := store.Open(ctx, ts.MkAbs(args[0]))
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
