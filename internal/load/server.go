package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"chargewright/internal/pgtest"
)

// program is the real program, serving.
type program struct {
	cmd      *exec.Cmd
	base     string // where it answers
	link     string // the owner's
	database string // what it was given: a directory or an address
	kind     string // SQLite, PostgreSQL
	pg       *pgtest.Server
	dir      string
	said     *said
}

// said keeps what a program writes.
type said struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

var (
	serving   = regexp.MustCompile(`"msg":"serving","address":"([^"]+)"`)
	ownerLink = regexp.MustCompile(`\n  http\S+(/owner/\S+)\n`)
)

// begin builds the program, starts it on an empty database and waits until it
// answers. More arguments make it another serve.
func begin(ctx context.Context, o options, more ...string) (p *program, err error) {
	p = &program{kind: "SQLite", said: &said{}}
	defer func() {
		if err != nil {
			p.end()
		}
	}()
	if p.dir, err = os.MkdirTemp("", "chargewright-load-"); err != nil {
		return p, err
	}
	binary := filepath.Join(p.dir, "chargewright")
	tags := ""
	if o.profile != "" {
		tags = "profile"
	}
	build := exec.CommandContext(ctx, "go", "build", "-tags", tags, "-o", binary, "./cmd/chargewright")
	if out, err := build.CombinedOutput(); err != nil {
		return p, fmt.Errorf("the program cannot be built: %w: %s", err, out)
	}
	args := append([]string{"serve", "--listen", "127.0.0.1:0", "--log", "json"}, more...)
	switch {
	case len(more) > 0:
	case o.postgres || o.database != "":
		p.kind, p.database = "PostgreSQL", o.database
		if o.postgres {
			if p.pg, err = pgtest.Alone(pgtest.Lasting); err != nil {
				return p, err
			}
			p.database = p.pg.Address("load")
		}
		args = append(args, "--database", p.database)
	default:
		p.database = filepath.Join(p.dir, "data")
		args = append(args, "--data", p.database)
	}
	p.cmd = exec.Command(binary, args...)
	p.cmd.Stderr = p.said
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if err := p.cmd.Start(); err != nil {
		return p, err
	}
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if m := serving.FindStringSubmatch(p.said.String()); m != nil {
			p.base = m[1]
			if m := ownerLink.FindStringSubmatch(p.said.String()); m != nil {
				p.link = m[1]
			}
			return p, nil
		}
	}
	return p, errors.New("it does not serve: " + p.said.String())
}

// stop ends the program in good order.
func (p *program) stop() error {
	if p.cmd == nil || p.cmd.Process == nil || p.cmd.ProcessState != nil {
		return nil
	}
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	return p.cmd.Wait()
}

func (p *program) end() {
	if err := p.stop(); err != nil {
		fmt.Fprintln(os.Stderr, "load: the server did not end in good order:", err)
	}
	if p.pg != nil {
		p.pg.End()
	}
	if p.dir != "" {
		_ = os.RemoveAll(p.dir)
	}
}

// profiled tells a program that was built for it to begin or to end writing down
// where its processor time goes; at the end, what it holds as well.
func (p *program) profiled(o options, s syscall.Signal) error {
	if o.profile == "" {
		return nil
	}
	if err := p.cmd.Process.Signal(s); err != nil || s == syscall.SIGUSR1 {
		return err
	}
	time.Sleep(5 * time.Second) // it writes the files
	for from, to := range map[string]string{".prof": o.profile, ".heap": o.profile + ".heap"} {
		data, err := os.ReadFile(p.cmd.Path + from)
		if err = errors.Join(err, os.WriteFile(to, data, 0o600)); err != nil {
			return err
		}
	}
	return nil
}

// quietWithin is how long the program may take to have nothing to do; on a machine
// that others use it takes longer than anybody waits.
const quietWithin = 180 * time.Second

// quiet waits until the program has nothing to do: until it has worked out what
// the first job of each kind would wait for.
func (p *program) quiet(ctx context.Context) error {
	idle, end := 0, time.Now().Add(quietWithin)
	for before := cpuOf(p.cmd.Process.Pid); idle < 3; {
		if time.Now().After(end) {
			fmt.Println("The server still works out what the first jobs would wait for: what follows competes with that.")
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Second):
		}
		now := cpuOf(p.cmd.Process.Pid)
		if idle++; now-before > 50*time.Millisecond {
			idle = 0
		}
		before = now
	}
	return nil
}

// tick is the unit of processor times in /proc (USER_HZ, 100 on every Linux that
// Go runs on: memory).
const tick = 10 * time.Millisecond

// stat are the fields of a process after its name: proc(5).
func stat(pid int) []string {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return nil
	}
	_, rest, _ := strings.Cut(string(text), ") ")
	return strings.Fields(rest)
}

func ticks(fields []string, at ...int) (d time.Duration) {
	for _, i := range at {
		if i < len(fields) {
			n, _ := strconv.Atoi(fields[i]) // the kernel writes numbers
			d += time.Duration(n) * tick
		}
	}
	return d
}

// cpuOf is the processor time of a process: fields utime and stime.
func cpuOf(pid int) time.Duration { return ticks(stat(pid), 11, 12) }

// cpuOfTree is that of a process with its children, those that have ended too.
func cpuOfTree(pid int) time.Duration {
	sum := ticks(stat(pid), 11, 12, 13, 14)
	all, _ := filepath.Glob("/proc/[0-9]*/stat") // the pattern is well formed
	for _, file := range all {
		child, _ := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		if f := stat(child); len(f) > 1 && f[1] == strconv.Itoa(pid) {
			sum += cpuOf(child)
		}
	}
	return sum
}

func cpuOfSelf() time.Duration { return cpuOf(os.Getpid()) }

// peak is the most memory that a process had [MB].
func peak(pid int) string {
	text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid)) // without it nothing is found
	if m := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindSubmatch(text); m != nil {
		kb, _ := strconv.Atoi(string(m[1]))
		return fmt.Sprintf("%d MB", kb/1024)
	}
	return "unknown"
}

func loadAverage() string {
	text, _ := os.ReadFile("/proc/loadavg")
	first, _, _ := strings.Cut(string(text), " ")
	return first
}

func loadNow() float64 {
	x, _ := strconv.ParseFloat(loadAverage(), 64) // nothing is read as none
	return x
}

func processor() string {
	text, _ := os.ReadFile("/proc/cpuinfo")
	for line := range strings.Lines(string(text)) {
		if name, ok := strings.CutPrefix(line, "model name"); ok {
			return strings.TrimSpace(strings.TrimLeft(name, "\t :"))
		}
	}
	return "unknown processor"
}
