package task

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"chargewright/internal/storetest"
	"chargewright/store"
)

// process is one that takes tasks from a database.
type process struct {
	Queue
	stop func()
}

// diary is which tasks were begun, by whom.
type diary struct {
	mu  sync.Mutex
	all []string
}

func (d *diary) note(what string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.all = append(d.all, what)
}

func (d *diary) count(what string) (n int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, x := range d.all {
		if strings.Contains(x, what) {
			n++
		}
	}
	return n
}

// takes starts a process on a database; it is stopped with the test at the latest.
func takes(t *testing.T, db *store.DB, atOnce int, kinds ...Kind) *process {
	t.Helper()
	q := queue(t, db)
	ctx, cancel := context.WithCancel(t.Context())
	var done sync.WaitGroup
	done.Go(func() {
		if err := q.Take(ctx, atOnce, kinds...); err != nil {
			t.Error(err)
		}
	})
	p := &process{Queue: q, stop: func() { cancel(); done.Wait() }}
	t.Cleanup(p.stop)
	return p
}

func queue(t *testing.T, db *store.DB) Queue {
	t.Helper()
	q, err := On(db, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	switch x := q.(type) {
	case *table:
		x.end = 50 * time.Millisecond
	case *onServer:
		x.end, x.quick = 50*time.Millisecond, true
	}
	return q
}

func add(t *testing.T, db *store.DB, q Queue, tasks ...Task) {
	t.Helper()
	if err := db.Write(t.Context(), func(tx *sql.Tx) error { return q.Add(t.Context(), tx, tasks...) }); err != nil {
		t.Fatal(err)
	}
}

// until waits for something that takes a queue's own while: River looks for what is due
// every five seconds (its default), for what died every half minute.
func until(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(2 * time.Minute); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not in two minutes: %s", what)
		}
	}
}

// TestQueue: what both queues keep. A task is there when its transaction is; it is not
// begun before it is due, it is done once, by one of two processes; what fails or breaks
// off is tried again, so often and no more; what a process leaves when it stops is done
// by the other.
func TestQueue(t *testing.T) {
	t.Parallel()
	storetest.Each(t, onQueue)
}

func onQueue(t *testing.T, k storetest.Kind) {
	t.Parallel()
	db := k.Open(t)
	seen := &diary{}
	kinds := func(who string) []Kind {
		plain, fails, breaks := slow("plain", time.Minute), slow("fails", time.Minute), slow("breaks", time.Minute)
		plain.Do = func(_ context.Context, key string) error {
			seen.note(fmt.Sprintf("%s:%s by %s at %d", "plain", key, who, time.Now().UnixMilli()))
			time.Sleep(20 * time.Millisecond) // so that there is something for the other one
			return nil
		}
		fails.Do = func(context.Context, string) error { seen.note("fails"); return errors.New("as it should") }
		breaks.Do = func(context.Context, string) error { seen.note("breaks"); panic("as it should") }
		return []Kind{plain, fails, breaks}
	}
	one, two := takes(t, db, 2, kinds("one")...), takes(t, db, 2, kinds("two")...)

	gone := errors.New("it is not to be")
	if err := db.Write(t.Context(), func(tx *sql.Tx) error {
		return errors.Join(one.Add(t.Context(), tx, Task{"plain", "not committed", time.Now()}), gone)
	}); !errors.Is(err, gone) {
		t.Fatal(err)
	}
	late := time.Now().Add(1500 * time.Millisecond)
	add(t, db, one, Task{"plain", "late", late}, Task{"fails", "", time.Now()}, Task{"breaks", "", time.Now()})
	add(t, db, two, Task{"plain", "late", late})
	if n, err := one.Waiting(t.Context()); n > 2 && time.Now().Before(late) || err != nil {
		t.Errorf("%d wait (%v): what is not due does not", n, err)
	}
	const many = 24
	for n := range many {
		add(t, db, one, Task{"plain", fmt.Sprintf("n%02d", n), time.Now()})
	}
	until(t, "all are done", func() bool {
		return seen.count("plain:") == many+1 && seen.count("fails") == 3 && seen.count("breaks") == 3 && one.Counts("plain").Done+two.Counts("plain").Done == many+1
	})
	until(t, "nothing waits", func() bool { n, err := two.Waiting(t.Context()); return n == 0 && err == nil })
	for n := range many {
		if c := seen.count(fmt.Sprintf("plain:n%02d ", n)); c != 1 {
			t.Errorf("task %d was begun %d times", n, c)
		}
	}
	if by, other := seen.count("by one"), seen.count("by two"); by == 0 || other == 0 {
		t.Errorf("one process did %d, the other %d: nothing was shared", by, other)
	}
	if seen.count("late") != 1 || seen.count("not committed") != 0 {
		t.Errorf("late %d times, what was not committed %d", seen.count("late"), seen.count("not committed"))
	}
	for _, x := range seen.all {
		var at int64
		if _, when, _ := strings.Cut(x, " at "); strings.Contains(x, "late") {
			_, _ = fmt.Sscan(when, &at)
			if at < late.UnixMilli() {
				t.Errorf("%s: begun %d ms before it was due", x, late.UnixMilli()-at)
			}
		}
	}
	if n := one.Counts("fails").Failed + two.Counts("fails").Failed; n != 3 {
		t.Errorf("%d failures are counted, of 3", n)
	}
	add(t, db, one, Task{"plain", "n00", time.Now()}) // what was done may be asked for again
	until(t, "it is done again", func() bool { return seen.count("plain:n00 ") == 2 })
}

// TestStopLeaves: a process that stops in the middle of a task ends soon, and the other
// does it, without that counting as a try.
func TestStopLeaves(t *testing.T) {
	t.Parallel()
	storetest.Each(t, onStopLeaves)
}

func onStopLeaves(t *testing.T, k storetest.Kind) {
	t.Parallel()
	db := k.Open(t)
	begun, end := make(chan string, 4), make(chan struct{})
	defer close(end)
	kind := func(who string) Kind {
		k := slow("held", time.Hour)
		k.Tries = 1
		k.Do = func(context.Context, string) error {
			begun <- who
			if who == "one" {
				<-end
			}
			return nil
		}
		return k
	}
	one := takes(t, db, 1, kind("one"))
	add(t, db, one, Task{"held", "a", time.Now()})
	if who := <-begun; who != "one" {
		t.Fatal(who)
	}
	since := time.Now()
	one.stop()
	if took := time.Since(since); took > 20*time.Second { // a tenth of a second, but for a machine that is busy
		t.Errorf("it stopped after %v", took)
	}
	two := takes(t, db, 1, kind("two"))
	until(t, "the other has done it", func() bool { return two.Counts("held").Done == 1 })
	if n := one.Counts("held"); n != (Counts{}) {
		t.Errorf("the one that left it counts %+v", n)
	}
}

// TestKilledInTheMiddle: a process of its own takes a task and is killed (SIGKILL). The
// task is done by another, and is no more.
func TestKilledInTheMiddle(t *testing.T) {
	t.Parallel()
	storetest.Each(t, onKilledInTheMiddle)
}

func onKilledInTheMiddle(t *testing.T, k storetest.Kind) {
	if testing.Short() {
		t.Skip("on PostgreSQL it takes until a dead process is known to be dead, some 25 s")
	}
	t.Parallel()
	place := k.Place(t)
	db, err := store.Open(t.Context(), place)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	first := queue(t, db)
	add(t, db, first, Task{"held", "a", time.Now()})
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), otherVariable+"="+place)
	in, err1 := cmd.StdinPipe()
	out, err2 := cmd.StdoutPipe()
	if err := errors.Join(err1, err2, cmd.Start()); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = in.Close() }()
	said, err := bufio.NewReader(out).ReadString('\n')
	if said != "taken\n" {
		t.Fatalf("%q (%v)", said, err)
	}
	if n, err := first.Waiting(t.Context()); n != 1 || err != nil {
		t.Errorf("%d wait (%v): it is being done", n, err)
	}
	_ = cmd.Process.Kill()
	_ = cmd.Wait() // it was killed, and says so
	var begun diary
	held := slow("held", time.Second)
	held.Do = func(context.Context, string) error { begun.note("held"); return nil }
	alive := takes(t, db, 2, held)
	until(t, "the one that lives has done it", func() bool { return alive.Counts("held").Done > 0 })
	until(t, "it is no more", func() bool { n, err := alive.Waiting(t.Context()); return n == 0 && err == nil })
	if n := begun.count("held"); n != 1 {
		t.Errorf("it was done %d times", n)
	}
}
