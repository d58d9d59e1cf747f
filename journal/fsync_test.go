package journal

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"chargewright/internal/need"
)

// A kill cannot lose what the kernel holds, a power cut can. So the system calls
// of one append are looked at: whatever went into the write-ahead log must have
// been synced before the acknowledgement is written.
//
// TestSyncedBeforeAcknowledged also sees the same append without syncs refused.
func TestSyncedBeforeAcknowledged(t *testing.T) {
	strace := tracer(t)
	trace := func(mode string) string {
		dir := t.TempDir()
		file := filepath.Join(dir, "trace")
		cmd := exec.Command(strace, "-f", "-y", "-s", "32", "-e", "trace=write,pwrite64,pwritev,writev,fsync,fdatasync", "-o", file, os.Args[0])
		cmd.Env = append(os.Environ(), helperPlace+"="+filepath.Join(dir, "data"), helperMode+"="+mode)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	if err := syncedBeforeAck(trace(once)); err != nil {
		t.Error(err)
	}
	text := trace(noSync)
	if err := syncedBeforeAck(text); err == nil || !strings.Contains(err.Error(), "is acknowledged without a sync") {
		t.Errorf("an append without syncs: %v; this check is blind", err)
	}
}

// tracer is strace, where it may trace.
func tracer(t *testing.T) string {
	t.Helper()
	strace := need.Program(t, "strace")
	if out, err := exec.Command(strace, "-o", os.DevNull, "true").CombinedOutput(); err != nil {
		if v := os.Getenv(need.RequireAll); v != "" && v != "0" {
			t.Fatalf("strace may not trace here: %v: %s", err, out)
		}
		t.Skipf("strace may not trace here, so this check was not made: %v: %s", err, out)
	}
	return strace
}

// call is a line of strace -f -y: a call, a call that is not finished, or the
// end of one.
var call = regexp.MustCompile(`^(\d+)\s+(?:<\.\.\. )?(\w+)(?:\(\d+<([^>]*)>|.*resumed>)(.*)$`)

// syncedBeforeAck reads a trace of the helper and says what is wrong between
// "begin" and "acknowledged".
func syncedBeforeAck(trace string) error {
	pending := map[string]string{} // thread -> file that it is syncing
	began, written, dirty := false, 0, false
	for lines := bufio.NewScanner(strings.NewReader(trace)); lines.Scan(); {
		m := call.FindStringSubmatch(lines.Text())
		if m == nil {
			continue
		}
		thread, name, file, rest := m[1], m[2], m[3], m[4]
		log := strings.HasSuffix(file, "-wal")
		switch {
		case strings.HasPrefix(name, "write") && strings.Contains(rest, `"begin\n"`):
			began = true
		case !began:
		case strings.HasPrefix(name, "write") && strings.Contains(rest, `"acknowledged\n"`):
			switch {
			case written == 0:
				return fmt.Errorf("nothing was written into the write-ahead log before the acknowledgement")
			case dirty:
				return fmt.Errorf("an append is acknowledged without a sync after %d writes into the write-ahead log", written)
			}
			return nil
		case strings.Contains(name, "write") && log:
			written, dirty = written+1, true
		case strings.HasSuffix(name, "sync") && strings.Contains(rest, "unfinished"):
			pending[thread] = file
		case strings.HasSuffix(name, "sync") && strings.Contains(rest, "= 0"):
			if file == "" {
				file = pending[thread]
			}
			if strings.HasSuffix(file, "-wal") {
				dirty = false
			}
		}
	}
	return fmt.Errorf("no acknowledgement was written")
}

// TestReadsTraces: the reader of traces itself, on lines as strace writes them.
func TestReadsTraces(t *testing.T) {
	const (
		begin = `7  write(1</tmp/o>, "begin\n", 6) = 6` + "\n"
		ack   = `7  write(1</tmp/o>, "acknowledged\n", 13) = 13` + "\n"
		log   = `8  pwrite64(5</d/chargewright.db-wal>, "x"..., 4096, 32) = 4096` + "\n"
		sync  = `8  fsync(5</d/chargewright.db-wal>)   = 0` + "\n"
		start = `8  fdatasync(5</d/chargewright.db-wal> <unfinished ...>` + "\n"
		end   = `8  <... fdatasync resumed>)            = 0` + "\n"
		wrong = `8  fsync(5</d/chargewright.db-wal>)   = -1 EIO (Input/output error)` + "\n"
		other = `8  fsync(6</d/chargewright.db>)   = 0` + "\n"
	)
	for trace, want := range map[string]string{
		begin + log + log + sync + ack:    "",
		begin + log + start + end + ack:   "",
		log + sync + begin + log + ack:    "without a sync",
		begin + log + sync + log + ack:    "without a sync",
		begin + log + start + ack:         "without a sync",
		begin + log + wrong + ack:         "without a sync",
		begin + log + other + ack:         "without a sync",
		begin + log + start + other + ack: "without a sync",
		begin + sync + ack:                "nothing was written",
		begin + log + sync:                "no acknowledgement",
	} {
		err := syncedBeforeAck(trace)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", trace, err, want)
		}
	}
}
