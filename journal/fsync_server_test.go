package journal

import (
	"bufio"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"chargewright/internal/pgtest"
	"chargewright/job"
	"chargewright/store"
)

// TestServerSyncsBeforeAcknowledging: the same question to the database server,
// by its own system calls: before it answers COMMIT to one that has written, its
// log is synced. A server that does not sync is seen.
func TestServerSyncsBeforeAcknowledging(t *testing.T) {
	strace := tracer(t)
	const appends = 5
	commits := func(settings ...string) (synced, not int) {
		server := pgtest.StartUnder(t, settings, strace, "-D", "-f", "-y", "-s", "32", "-e", "trace=pwrite64,pwritev,fsync,fdatasync,sendto", "-o", "TRACE")
		db, err := store.Open(t.Context(), server.Address("shop"))
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		s, err := Open(t.Context(), db, ticking())
		if err != nil {
			t.Fatal(err)
		}
		before, err := os.ReadFile(server.Trace())
		if err != nil {
			t.Fatal(err)
		}
		for i := range appends {
			must(t)(s.Append(t.Context(), "job", i, []job.Event{reading(fmt.Sprint("r", i))}))
		}
		after, err := os.ReadFile(server.Trace()) // a call is in the trace before it returns to the server
		if err != nil {
			t.Fatal(err)
		}
		return commitsIn(string(after[len(before):]))
	}
	if synced, not := commits("wal_sync_method=fdatasync"); synced != appends || not != 0 {
		t.Errorf("of %d appends %d were acknowledged after a sync, %d without", appends, synced, not)
	}
	if synced, not := commits("fsync=off"); synced != 0 || not == 0 {
		t.Errorf("a server that does not sync: %d acknowledged after a sync, %d without; this check is blind", synced, not)
	}
}

// serverCall is a line of strace -f -y: process, call, file, the rest.
var serverCall = regexp.MustCompile(`^(\d+)\s+(\w+)\(\d+<([^>]*)>+(.*)$`)

// commitsIn counts the commits that a process answered after it had written to
// the log: with the log synced in between, and without.
func commitsIn(trace string) (synced, not int) {
	wrote, dirty, pending := map[string]bool{}, map[string]bool{}, map[string]string{}
	for lines := bufio.NewScanner(strings.NewReader(trace)); lines.Scan(); {
		line := lines.Text()
		if pid, rest, resumed := strings.Cut(line, " <... "); resumed {
			pid = strings.TrimSpace(pid)
			if call := pending[pid]; strings.HasSuffix(call, "sync") && strings.HasPrefix(rest, call) && strings.Contains(rest, "= 0") {
				dirty[pid] = false
			}
			delete(pending, pid)
			continue
		}
		m := serverCall.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		pid, call, file, rest := m[1], m[2], m[3], m[4]
		log := strings.Contains(file, "/pg_wal/")
		switch {
		case log && strings.HasPrefix(call, "pwrite"):
			wrote[pid], dirty[pid] = true, true
		case log && strings.HasSuffix(call, "sync") && strings.Contains(rest, "unfinished"):
			pending[pid] = call
		case log && strings.HasSuffix(call, "sync") && strings.Contains(rest, "= 0"):
			dirty[pid] = false
		case call == "sendto" && strings.Contains(rest, "COMMIT"):
			switch {
			case wrote[pid] && dirty[pid]:
				not++
			case wrote[pid]:
				synced++
			}
			wrote[pid] = false
		}
	}
	return synced, not
}

// TestReadsServerTraces: the reader of traces itself, on lines as strace writes
// them.
func TestReadsServerTraces(t *testing.T) {
	const (
		write  = `7 pwrite64(5</d/pg_wal/000000010000000000000001>, "x"..., 8192, 0) = 8192` + "\n"
		sync   = `7 fdatasync(5</d/pg_wal/000000010000000000000001>) = 0` + "\n"
		start  = `7 fdatasync(5</d/pg_wal/000000010000000000000001> <unfinished ...>` + "\n"
		end    = `7 <... fdatasync resumed>) = 0` + "\n"
		wrong  = `7 <... fdatasync resumed>) = -1 EIO (Input/output error)` + "\n"
		other  = `8 fdatasync(5</d/pg_wal/000000010000000000000001>) = 0` + "\n"
		table  = `7 pwrite64(6</d/base/5/1>, "x"..., 8192, 0) = 8192` + "\n"
		answer = `7 sendto(9<socket:[1]>, "C\0\0\0\vCOMMIT\0Z\0\0\0\5I", 17, 0, NULL, 0) = 17` + "\n"
	)
	for trace, want := range map[string][2]int{
		write + sync + answer:                         {1, 0},
		write + write + sync + answer + answer:        {1, 0},
		write + start + end + answer:                  {1, 0},
		answer + table + answer:                       {0, 0},
		write + answer:                                {0, 1},
		write + sync + write + answer:                 {0, 1},
		write + start + answer:                        {0, 1},
		write + start + wrong + answer:                {0, 1},
		write + other + answer:                        {0, 1},
		sync + write + sync + answer + write + answer: {1, 1},
	} {
		if synced, not := commitsIn(trace); synced != want[0] || not != want[1] {
			t.Errorf("%s: %d synced, %d not; want %v", trace, synced, not, want)
		}
	}
}
