package web

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/fit"
	"chargewright/journal"
	"chargewright/task"
	"chargewright/web/page"
)

// A fit takes seconds to tens of seconds and needs nothing that a server holds in memory:
// it is a task, and the page that waits for it looks until its result is there.

// How a fit is begun: always the same, so that the same figures give the same file.
const (
	fitSeed   = 1
	fitStarts = 8
)

const (
	fitLook = 100 * time.Millisecond // how often the page that waits looks
	fitWait = 5 * time.Minute        // how long it does: a fit whose worker dies twice takes less
)

// fitAnswer is the result of a fit as it is kept for whoever waits for it.
type fitAnswer struct {
	Problem string // why there is no machine, in words; "" when there is one
	page.ManualFound
}

// errNotFitted is the end of waiting.
var errNotFitted = errors.New("no server has worked it out: find the machine once more, and if it says this again look whether the servers run")

// fitKey is all that a fit hangs on: the figures, the system that has the wiring, the
// program. Whoever sends the same form again waits for the same fit.
func (s *Server) fitKey(x *fit.Figures, text string) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{s.Version, hex.EncodeToString(x.Template.SHA256[:]), text}, "\n")))
	return hex.EncodeToString(sum[:])
}

// fitted asks for a fit and waits for it.
func (s *Server) fitted(ctx context.Context, x *fit.Figures, text string) (got fitAnswer, err error) {
	key := s.fitKey(x, text)
	err = s.Journal.AskWork(ctx, key, text, func(ctx context.Context, tx *sql.Tx) error {
		return s.Tasks.Add(ctx, tx, task.Task{Kind: fitTask, Key: key, Due: s.Now()})
	})
	if err != nil {
		return got, err
	}
	look := time.NewTicker(fitLook)
	defer look.Stop()
	end := time.After(fitWait)
	for {
		_, answer, err := s.Journal.Work(ctx, key)
		if err != nil {
			return got, err
		}
		if answer != "" {
			return got, json.Unmarshal([]byte(answer), &got)
		}
		select {
		case <-look.C:
		case <-end:
			return got, errNotFitted
		case <-ctx.Done():
			return got, ctx.Err()
		case <-s.live.Done(): // another server, or this one once it is back, has it then
			return got, errNotFitted
		}
	}
}

// doFit is the task.
func (s *Server) doFit(ctx context.Context, key string) error {
	text, answer, err := s.Journal.Work(ctx, key)
	if errors.Is(err, journal.ErrUnknown) || answer != "" {
		return nil // nobody waits any more, or it was worked out already
	}
	if err != nil {
		return err
	}
	var got fitAnswer
	x, err := s.figures(ctx, text)
	if err == nil {
		var res *fit.Result
		if res, err = fit.Run(x, fit.Options{Seed: fitSeed, Starts: fitStarts}); err == nil {
			got.ManualFound = manualFound(res, text)
		}
	}
	if err != nil {
		got.Problem = advice.Sentence(err.Error())
	}
	out, err := json.Marshal(got)
	if err != nil {
		return err
	}
	return s.Journal.Worked(ctx, key, string(out))
}
