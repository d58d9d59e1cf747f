package journal

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"chargewright/internal/pgtest"
	"chargewright/internal/sample"
	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

// The helper is this test binary, run again with these in its environment.
const (
	helperPlace = "JOURNAL_HELPER_PLACE"
	helperMode  = "JOURNAL_HELPER_MODE"
	helperRun   = "JOURNAL_HELPER_RUN"
)

// What the helper does.
const (
	forever = "forever" // appends and acknowledges until it is killed
	early   = "early"   // the same, but acknowledges first: wrong on purpose
	once    = "once"    // one append between two lines of output
	noSync  = "no-sync" // the same without syncs: wrong on purpose
	hasty   = "hasty"   // appends forever without waiting for the server's disk: wrong on purpose
)

// batchOf is the size of the n-th batch.
func batchOf(n int) int { return 1 + n%3 }

func helper(place, mode string) int {
	ctx := context.Background()
	db, err := store.Open(ctx, place)
	if err == nil && mode == noSync {
		err = db.Exec(ctx, "PRAGMA synchronous = OFF")
	}
	if err == nil && mode == hasty {
		err = db.Exec(ctx, "SET synchronous_commit = off")
	}
	var s *Store
	if err == nil {
		s, err = Open(ctx, db, time.Now)
	}
	if err == nil {
		err = work(ctx, s, mode)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func work(ctx context.Context, s *Store, mode string) error {
	if mode == once || mode == noSync {
		fmt.Println("begin")
		if _, err := s.Append(ctx, "job", 0, []job.Event{reading("r")}); err != nil {
			return err
		}
		fmt.Println("acknowledged")
		return nil
	}
	run := os.Getenv(helperRun)
	stream := "job-" + run
	for n, seq := 0, 0; ; n++ {
		var batch []job.Event
		for i := range batchOf(n) {
			batch = append(batch, reading(fmt.Sprintf("%s-%d-%d", run, n, i)))
		}
		if mode == early {
			fmt.Println(n)
		}
		if _, err := s.Append(ctx, stream, seq, batch); err != nil {
			return err
		}
		if mode != early {
			fmt.Println(n)
		}
		seq += len(batch)
	}
}

// acks counts lines of a helper's output, and closes begun at the first.
type acks struct {
	mu    sync.Mutex
	lines int
	begun chan struct{}
}

func (a *acks) Write(p []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	before := a.lines
	a.lines += bytes.Count(p, []byte("\n"))
	if before == 0 && a.lines > 0 {
		close(a.begun)
	}
	return len(p), nil
}

// start starts a helper; what it says beside its acknowledgements goes to said.
func start(t *testing.T, place, mode string, run int, said io.Writer) (*exec.Cmd, *acks) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), helperPlace+"="+place, helperMode+"="+mode, helperRun+"="+strconv.Itoa(run))
	out := &acks{begun: make(chan struct{})}
	cmd.Stdout, cmd.Stderr = out, said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, out
}

// kill starts a helper, kills it after a while and returns how many batches it
// acknowledged. Every other one is killed a while after its first
// acknowledgement: on a busy machine it may take long to come so far.
func kill(t *testing.T, place, mode string, run int, after time.Duration) int {
	t.Helper()
	var said bytes.Buffer
	cmd, out := start(t, place, mode, run, &said)
	if run%2 == 1 {
		select {
		case <-out.begun:
		case <-time.After(time.Minute):
			t.Errorf("run %d: nothing was acknowledged within a minute", run)
		}
	}
	time.Sleep(after)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // killed
	if said.Len() > 0 {
		t.Fatalf("run %d: the helper says %s", run, said.String())
	}
	return out.lines
}

// opened opens a journal that was left as it was. Every other time it is only
// read, so that the next helper finds the log that the last one left.
func opened(t *testing.T, dir string, toWrite bool) (*Store, *store.DB) {
	t.Helper()
	if !toWrite {
		if db, err := store.OpenRead(t.Context(), dir); err == nil {
			return OpenRead(db), db
		} // killed before the schema was made: there is nothing to read yet
	}
	db, err := store.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), db, ticking())
	if err != nil {
		t.Fatal(err)
	}
	return s, db
}

// lost counts acknowledged batches that are not there, and the batches that are
// there without having been acknowledged. A batch in part is reported.
func lost(t *testing.T, s *Store, run, acknowledged int) (missing, unheard int) {
	t.Helper()
	events := must(t)(s.Read(t.Context(), "job-"+strconv.Itoa(run), 0))
	n := 0
	for ; len(events) > 0; n++ {
		if len(events) < batchOf(n) {
			t.Errorf("run %d: %d events of batch %d are there, it has %d", run, len(events), n, batchOf(n))
			break
		}
		if want := fmt.Sprintf("%d-%d-0", run, n); events[0].ID != want {
			t.Errorf("run %d: event %s where %s is wanted", run, events[0].ID, want)
		}
		events = events[batchOf(n):]
	}
	return max(0, acknowledged-n), max(0, n-acknowledged)
}

// kills is how often a crash test kills: n, or in a long run as often as
// JOURNAL_KILLS says, divided by share.
func kills(n, share int) int {
	if long, err := strconv.Atoi(os.Getenv("JOURNAL_KILLS")); err == nil {
		return long / share
	}
	return n
}

// tally is what a crash test has seen.
type tally struct{ kills, midway, acknowledged, unheard, lost int }

// look holds a journal against what a helper had acknowledged when it was killed
// and opens it anew for that.
func (y *tally) look(t *testing.T, place string, run, acks int) {
	t.Helper()
	s, db := opened(t, place, run%2 == 0)
	missing, more := lost(t, s, run, acks)
	if missing > 0 {
		t.Logf("run %d: %d of %d acknowledged batches are lost", run, missing, acks)
	}
	if more > 1 {
		t.Errorf("run %d: %d batches that were not acknowledged", run, more)
	}
	sound(t, s)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	y.lost += missing
	y.kills, y.acknowledged, y.unheard = y.kills+1, y.acknowledged+acks, y.unheard+more
	if acks > 0 {
		y.midway++
	}
}

func (y *tally) print(t *testing.T) {
	t.Helper()
	if y.lost > 0 {
		t.Errorf("%d acknowledged batches are lost", y.lost)
	}
	t.Logf("%d kills, %d of them amid appending; %d batches acknowledged, %d recorded and not yet acknowledged", y.kills, y.midway, y.acknowledged, y.unheard)
	if y.midway < y.kills/4 {
		t.Errorf("only %d of %d kills came amid appending: the others prove little", y.midway, y.kills)
	}
}

// era is how many kills one journal goes through: it is verified whole after
// each.
const era = 200

// TestKilled: whatever the moment at which the program is killed, what it has
// acknowledged is there, batches are there whole or not at all, and the chain
// is whole. JOURNAL_KILLS sets how often (60 on SQLite, 20 on PostgreSQL).
func TestKilled(t *testing.T) {
	t.Parallel()
	t.Run("sqlite", func(t *testing.T) {
		killed(t, kills(sample.Count(30, 60), 1), func(int) string { return t.TempDir() })
	})
	t.Run("postgres", func(t *testing.T) {
		server := pgtest.Start(t, pgtest.Lasting)
		killed(t, kills(sample.Count(10, 20), 1), func(run int) string { return server.Address(fmt.Sprint("shop", run)) })
	})
}

func killed(t *testing.T, kills int, place func(run int) string) {
	chance := rand.New(rand.NewPCG(60, 9))
	var seen tally
	var at string
	for run := range kills {
		if run%era == 0 {
			at = place(run)
		}
		acks := kill(t, at, forever, run, time.Duration(chance.IntN(100))*time.Millisecond)
		seen.look(t, at, run, acks)
	}
	seen.print(t)
}

// TestKilledBites: a program that acknowledges before it has recorded is seen to
// lose what it acknowledged.
func TestKilledBites(t *testing.T) {
	chance := rand.New(rand.NewPCG(60, 10))
	dir := t.TempDir()
	for run := range 40 {
		acks := kill(t, dir, early, run, time.Duration(60+chance.IntN(100))*time.Millisecond)
		s, db := opened(t, dir, true)
		missing, _ := lost(t, s, run, acks)
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if missing > 0 {
			t.Logf("seen at kill %d", run+1)
			return
		}
	}
	t.Error("40 kills of a program that acknowledges too early, and nothing was lost: TestKilled is blind")
}

// torn opens a copy of a database with its write-ahead log changed, and returns
// how many events are left. What is left must be whole and a beginning of all.
func torn(t *testing.T, file, log []byte, all []string) int {
	t.Helper()
	dir := t.TempDir()
	name := filepath.Join(dir, store.FileName)
	for path, data := range map[string][]byte{name: file, name + "-wal": log} {
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s, db := opened(t, dir, true)
	defer db.Close()
	r := sound(t, s)
	for i, id := range all[:r.Head.Events] {
		var got string
		query(t, db, &got, "SELECT id FROM event WHERE place = $1", i+1)
		if got != id {
			t.Errorf("event %d is %s, want %s", i+1, got, id)
		}
	}
	// It can be gone on with.
	must(t)(s.Append(t.Context(), "after", 0, []job.Event{reading("after")}))
	sound(t, s)
	return int(r.Head.Events)
}

// TestTornLog: a write-ahead log that ends anywhere, or holds a byte that was
// not written so, opens to a beginning of the journal that verifies.
func TestTornLog(t *testing.T) {
	t.Parallel()
	s, db := unsynced(t, storetest.SQLite)
	var all []string
	for i := range 30 {
		id := fmt.Sprintf("r%d", i)
		all = append(all, id)
		stream := fmt.Sprintf("job-%d", i%3)
		must(t)(s.Append(t.Context(), stream, i/3, []job.Event{reading(id)}))
	}
	file, err := os.ReadFile(db.File())
	if err != nil {
		t.Fatal(err)
	}
	log, err := os.ReadFile(db.File() + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	if n := torn(t, file, log, all); n != len(all) {
		t.Fatalf("the whole log opens to %d events, want %d: it was emptied meanwhile", n, len(all))
	}
	chance := rand.New(rand.NewPCG(60, 11))
	counts := map[int]bool{}
	const cuts = 40
	before := 0
	for i := range cuts { // from short to long, at random within each fortieth
		at := (i*len(log) + chance.IntN(len(log))) / cuts
		n := torn(t, file, log[:at], all)
		if n < before {
			t.Errorf("%d events with %d bytes of log, %d with fewer", n, at, before)
		}
		before = n
		counts[n] = true
	}
	for range 20 {
		at := chance.IntN(len(log))
		spoilt := bytes.Clone(log)
		spoilt[at] ^= byte(1 + chance.IntN(255))
		counts[torn(t, file, spoilt, all)] = true
	}
	if len(counts) < 10 {
		t.Errorf("only %d different beginnings were seen", len(counts))
	}
}
