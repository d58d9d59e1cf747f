package task

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/rivertype"

	"chargewright/store"
)

// onServer is the queue of a PostgreSQL schema: River's.
type onServer struct {
	*common
	db   *store.DB
	adds *river.Client[*sql.Tx]
}

// note is what River keeps of a task: one kind of River's for all of ours, whose
// times hang on our kind.
type note struct {
	Task string `json:"task"`
	Key  string `json:"key"`
}

// Kind implements River's arguments.
func (note) Kind() string { return "task" }

// Connections of a process that takes tasks, beside the store's: takers that look,
// and one that listens.
const takers = 2

// once: what is done, or was given up, may be asked for again.
var once = []rivertype.JobState{
	rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled,
}

// most is how often River itself tries: each kind's own number comes first.
const most = 1000

func onRiver(db *store.DB, c *common) (Queue, error) {
	adds, err := river.NewClient(riverdatabasesql.New(nil), &river.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return nil, fmt.Errorf("tasks: %w", err)
	}
	return &onServer{common: c, db: db, adds: adds}, nil
}

// Add implements Queue. River tells its takers once the transaction is committed.
func (q *onServer) Add(ctx context.Context, tx *sql.Tx, tasks ...Task) error {
	for _, t := range tasks {
		if !t.Due.After(time.Now()) {
			t.Due = time.Time{} // what is given a time waits until River next looks at such, up to five seconds
		}
		how := &river.InsertOpts{MaxAttempts: most, ScheduledAt: t.Due, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: once}}
		if _, err := q.adds.InsertTx(ctx, tx, note{t.Kind, t.Key}, how); err != nil {
			return err
		}
	}
	return nil
}

// Waiting implements Queue. What is due within seconds is available already, and taken when
// it is due.
func (q *onServer) Waiting(ctx context.Context) (n int, err error) {
	err = q.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT count(*) FROM river_job WHERE state = 'running' OR state IN ('available', 'scheduled', 'retryable') AND scheduled_at <= now()").Scan(&n)
	})
	return n, err
}

// Take implements Queue.
func (q *onServer) Take(ctx context.Context, atOnce int, kinds ...Kind) (err error) {
	pool := stdlib.OpenDB(*q.db.Server())
	pool.SetMaxOpenConns(takers)
	pool.SetMaxIdleConns(takers)
	defer func() { err = errors.Join(err, pool.Close()) }()
	listens, err := listener(ctx, q.db.Server())
	if err != nil {
		return err
	}
	defer listens.Close()
	workers := river.NewWorkers()
	river.AddWorker(workers, &worker{q: q, kinds: kinds})
	least := kinds[0].Within
	for _, k := range kinds {
		least = min(least, k.Within)
	}
	client, err := river.NewClient(riverdatabasesql.NewWithPgxListener(pool, listens), &river.Config{
		Queues: map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: atOnce}}, Workers: workers,
		JobTimeout: -1, RescueStuckJobsAfter: least, // what takes longer is left alone until its own kind's time is over
		SoftStopTimeout: q.end, ReindexerIndexNames: []string{}, // small tables, emptied every day
		CompletedJobRetentionPeriod: time.Hour, TestOnly: q.quick,
		Logger: slog.New(&seldom{Handler: q.log.Handler(), now: time.Now, said: new(atomic.Int64)}),
	})
	if err != nil {
		return fmt.Errorf("tasks: %w", err)
	}
	if err := client.Start(ctx); err != nil {
		return fmt.Errorf("tasks: %w", err)
	}
	<-client.Stopped()
	return nil
}

// listener makes the connection that hears of new tasks.
func listener(ctx context.Context, to *pgx.ConnConfig) (*pgxpool.Pool, error) {
	c, err := pgxpool.ParseConfig(to.ConnString())
	if err != nil {
		return nil, err
	}
	c.ConnConfig, c.MinConns, c.MaxConns = to, 0, 1
	return pgxpool.NewWithConfig(ctx, c)
}

// worker does tasks for River.
type worker struct {
	river.WorkerDefaults[note]
	q     *onServer
	kinds []Kind
}

// Work implements river.Worker.
func (w *worker) Work(ctx context.Context, t *river.Job[note]) error {
	k, known := kindOf(w.kinds, t.Args.Task)
	if !known { // a newer program's, while servers are brought up to date
		return river.JobSnooze(time.Minute)
	}
	last := t.Attempt >= k.Tries
	err := w.q.do(ctx, k, t.Args.Key, last)
	switch {
	case errors.Is(err, errLeft):
		return river.JobSnooze(0) // for whoever is there, at once, and not counted
	case err != nil && last:
		return river.JobCancel(err)
	}
	return err
}

// Timeout implements river.Worker: after it River takes the task as left by somebody
// who died. It is a little more than do allows, which ends it by itself.
func (w *worker) Timeout(t *river.Job[note]) time.Duration {
	k, known := kindOf(w.kinds, t.Args.Task)
	if !known {
		return time.Minute
	}
	return k.Within + k.Within/10
}

// NextRetry implements river.Worker.
func (w *worker) NextRetry(t *river.Job[note]) time.Time {
	k, _ := kindOf(w.kinds, t.Args.Task)
	return time.Now().Add(k.after(t.Attempt))
}
