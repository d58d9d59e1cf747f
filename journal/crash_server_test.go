package journal

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"chargewright/internal/pgtest"
)

// TestServerKilled: the same when the database server is killed, or one of its
// processes, which ends all the others. JOURNAL_KILLS sets how often (6; in a
// long run a tenth).
func TestServerKilled(t *testing.T) {
	t.Parallel()
	server := pgtest.Start(t, pgtest.Lasting)
	seen := serverKilled(t, server, forever, kills(6, 10))
	seen.print(t)
}

// TestServerKilledBites: a program that does not wait for the server's disk is
// seen to lose what it acknowledged.
func TestServerKilledBites(t *testing.T) {
	t.Parallel()
	server := pgtest.Start(t, []string{"wal_writer_delay=10s"})
	if seen := serverKilled(t, server, hasty, 4); seen.lost == 0 {
		t.Error("4 kills of a server that acknowledges before it has written, and nothing was lost: TestServerKilled is blind")
	}
}

// serverKilled kills a server amid appending, again and again.
func serverKilled(t *testing.T, server *pgtest.Server, mode string, kills int) (seen tally) {
	t.Helper()
	chance := rand.New(rand.NewPCG(60, 13))
	var at string
	for run := range kills {
		if mode == hasty && seen.lost > 0 {
			break // seen
		}
		if run%era == 0 {
			at = server.Address(fmt.Sprint("shop", run))
		}
		var said bytes.Buffer
		cmd, out := start(t, at, mode, run, &said)
		select {
		case <-out.begun:
		case <-time.After(time.Minute):
			t.Fatalf("run %d: nothing was acknowledged: %s", run, said.String())
		}
		time.Sleep(time.Duration(chance.IntN(150)) * time.Millisecond)
		killed := false
		var err error
		if run%2 == 0 {
			killed, err = server.KillWorker(chance.IntN(100))
		}
		if !killed && err == nil {
			err = errors.Join(server.Kill(), server.Up())
		}
		if err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait() // its server has gone
		if said.Len() == 0 {
			t.Errorf("run %d: the helper has not noticed that its server was killed", run)
		}
		seen.look(t, at, run, out.lines)
	}
	return seen
}
