package web

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"chargewright/journal"
	"chargewright/task"
)

// What is done as a task (decision 041): by this server, another one of the workshop, or a
// worker, whichever takes it.
const (
	formTask   = "form"   // a form that has arrived and was not answered: its ticket
	fitTask    = "fit"    // a machine with a manual's figures: the key of its result
	verifyTask = "verify" // the whole journal against its hashes: the night
)

// TasksAtOnce is how many tasks a server does at once, beside the pages.
const TasksAtOnce = 2

// tasksAgain is how long a queue that cannot be taken from is left alone.
const tasksAgain = 30 * time.Second

// kinds are how tasks are done. A form is answered in a second or two; a fit takes seconds,
// on a machine that is busy a minute; verifying reads some ten thousand events a second.
func (s *Server) kinds() []task.Kind {
	return []task.Kind{
		{Name: formTask, Do: s.doForm, Within: time.Minute, Again: 5 * time.Second, Tries: 150}, // giveUpAfter comes first
		{Name: fitTask, Do: s.doFit, Within: time.Minute, Again: time.Second, Tries: 3},
		{Name: verifyTask, Do: s.doVerify, Within: time.Hour, Again: 10 * time.Minute, Tries: 3},
	}
}

// takeTasks does tasks until the server ends.
func (s *Server) takeTasks() {
	for s.live.Err() == nil {
		err := s.addLeft(s.live)
		if err == nil {
			err = s.Tasks.Take(s.live, s.AtOnce, s.kinds()...)
		}
		if err == nil || s.live.Err() != nil {
			continue
		}
		s.Log.Error("no tasks are done now", "why", err)
		select {
		case <-s.live.Done():
		case <-time.After(tasksAgain):
		}
	}
}

// addLeft adds what has no task: forms of a workshop that was restored, or that an older
// program kept, and the next night.
func (s *Server) addLeft(ctx context.Context) error {
	forms, err := s.Journal.Undone(ctx)
	if err != nil {
		return err
	}
	all := []task.Task{s.nextNight()}
	for _, a := range forms {
		all = append(all, overdue(a.Ticket, a.At))
	}
	return s.Journal.Along(ctx, func(ctx context.Context, tx *sql.Tx) error { return s.Tasks.Add(ctx, tx, all...) })
}

// overdue is the task of a form that has arrived.
func overdue(ticket string, at time.Time) task.Task {
	return task.Task{Kind: formTask, Key: ticket, Due: at.Add(journal.TakeUpAfter)}
}

// nightHour is when the journal is verified, by the machine's clock.
const nightHour = 3

func (s *Server) nextNight() task.Task {
	now := s.Now().Local()
	due := time.Date(now.Year(), now.Month(), now.Day(), nightHour, 0, 0, 0, now.Location())
	if !due.After(now) {
		due = due.AddDate(0, 0, 1)
	}
	return task.Task{Kind: verifyTask, Key: due.Format(time.DateOnly), Due: due}
}

// doVerify holds the journal against its hashes, having seen to the next night. What it
// finds stands in the log, in the metrics and in what /healthz says of every server.
func (s *Server) doVerify(ctx context.Context, _ string) error {
	err := s.Journal.Along(ctx, func(ctx context.Context, tx *sql.Tx) error { return s.Tasks.Add(ctx, tx, s.nextNight()) })
	if err != nil {
		return err
	}
	v, err := s.Journal.VerifyOn(ctx)
	switch {
	case err != nil:
		return errors.Join(errors.New("the journal could not be verified"), err)
	case v.Breaks > 0:
		s.Log.Error("the journal is not as it was recorded: stop writing, copy the database as it is, restore the last backup beside it and compare", "breaks", v.Breaks, "first", v.First)
	default:
		s.Log.Info("the journal is as it was recorded", "events", v.Head.Events, "head", v.Head.Sum.String())
	}
	return nil
}
