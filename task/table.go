package task

import (
	"context"
	"database/sql"
	"errors"
	"strings"
	"sync"
	"time"

	"chargewright/store"
)

// table is the queue of a SQLite file: a table, from which the program itself takes.
// Two programs on one file share it, as they share the rest.
type table struct {
	*common
	db   *store.DB
	now  func() time.Time
	news chan struct{} // something may be due earlier than was known
}

// lookEvery is how often it looks for what another program on the file has added.
const lookEvery = 30 * time.Second

// Add implements Queue. Whoever is told of it before the transaction has ended waits for
// its end: one connection writes.
func (q *table) Add(ctx context.Context, tx *sql.Tx, tasks ...Task) error {
	for _, t := range tasks {
		if _, err := tx.ExecContext(ctx, "INSERT INTO task (kind, key, due) VALUES ($1, $2, $3) ON CONFLICT (kind, key) DO NOTHING", t.Kind, t.Key, t.Due.UnixMilli()); err != nil {
			return err
		}
	}
	q.tell()
	return nil
}

func (q *table) tell() {
	select {
	case q.news <- struct{}{}:
	default: // somebody is about to look
	}
}

// Waiting implements Queue.
func (q *table) Waiting(ctx context.Context) (n int, err error) {
	err = q.db.Read(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, "SELECT count(*) FROM task WHERE due <= $1", q.now().UnixMilli()).Scan(&n)
	})
	return n, err
}

// Take implements Queue.
func (q *table) Take(ctx context.Context, atOnce int, kinds ...Kind) error {
	work, endWork := context.WithCancel(context.WithoutCancel(ctx))
	defer endWork()
	stop := context.AfterFunc(ctx, func() { time.AfterFunc(q.end, endWork) })
	defer stop()
	var all sync.WaitGroup
	for range atOnce {
		all.Go(func() {
			for ctx.Err() == nil {
				q.takeOne(ctx, work, kinds)
			}
		})
	}
	all.Wait()
	return nil
}

// takeOne does what is due, or waits until something may be.
func (q *table) takeOne(ctx, work context.Context, kinds []Kind) {
	t, wait, err := q.next(ctx, kinds)
	if err != nil {
		if ctx.Err() == nil {
			q.log.Error("no task can be taken", "why", err)
		}
		wait = lookEvery
	}
	if t == nil {
		timer := time.NewTimer(wait)
		defer timer.Stop()
		select {
		case <-ctx.Done():
		case <-timer.C:
		case <-q.news:
		}
		return
	}
	q.tell() // there may be more, for those who wait
	k, _ := kindOf(kinds, t.kind)
	err = q.do(work, k, t.key, t.tries >= k.Tries)
	if err := q.put(context.WithoutCancel(work), k, t, err); err != nil {
		q.log.Error("what became of a task is not known to the others", "kind", t.kind, "why", err)
	}
}

// taken is a task in hand.
type taken struct {
	kind, key string
	tries     int   // this one too
	until     int64 // as it stands in the table: nobody else took it since
}

// next takes the task that has been due for longest; else it says how long to wait.
func (q *table) next(ctx context.Context, kinds []Kind) (t *taken, wait time.Duration, err error) {
	wait = lookEvery
	names, args := make([]string, 0, len(kinds)), []any{}
	for _, k := range kinds {
		names, args = append(names, "?"), append(args, k.Name)
	}
	err = q.db.Write(ctx, func(tx *sql.Tx) error {
		now := q.now()
		x, from := &taken{}, int64(0)
		err := tx.QueryRowContext(ctx, "SELECT kind, key, tries, max(due, taken) FROM task WHERE kind IN ("+strings.Join(names, ", ")+") ORDER BY max(due, taken), due, key LIMIT 1", args...).
			Scan(&x.kind, &x.key, &x.tries, &from)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if left := time.UnixMilli(from).Sub(now); err != nil || left > 0 {
			wait = min(wait, left)
			return err
		}
		k, _ := kindOf(kinds, x.kind)
		x.tries++
		x.until = now.Add(k.Within).UnixMilli()
		t = x
		_, err = tx.ExecContext(ctx, "UPDATE task SET taken = $1, tries = $2 WHERE kind = $3 AND key = $4", x.until, x.tries, x.kind, x.key)
		return err
	})
	if err != nil {
		t = nil
	}
	return t, wait, err
}

// put says what became of a task, unless somebody else has taken it meanwhile.
func (q *table) put(ctx context.Context, k Kind, t *taken, failed error) error {
	return q.db.Write(ctx, func(tx *sql.Tx) error {
		var err error
		switch {
		case errors.Is(failed, errLeft): // for whoever comes, at once
			_, err = tx.ExecContext(ctx, "UPDATE task SET taken = 0, tries = tries - 1 WHERE kind = $1 AND key = $2 AND taken = $3", t.kind, t.key, t.until)
		case failed != nil && t.tries < k.Tries:
			_, err = tx.ExecContext(ctx, "UPDATE task SET taken = 0, due = $4 WHERE kind = $1 AND key = $2 AND taken = $3", t.kind, t.key, t.until, q.now().Add(k.after(t.tries)).UnixMilli())
		default:
			_, err = tx.ExecContext(ctx, "DELETE FROM task WHERE kind = $1 AND key = $2 AND taken = $3", t.kind, t.key, t.until)
		}
		return err
	})
}
