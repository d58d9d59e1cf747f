//go:build linux

package pgtest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"chargewright/internal/need"
)

// Server is a running PostgreSQL.
type Server struct {
	Dir      string // holds everything, the socket too
	bin      string
	settings []string
	wrap     []string            // a program and its arguments that run the server
	as       *syscall.Credential // nil = whoever runs the tests
	mu       sync.Mutex
	cmd      *exec.Cmd
	ended    chan struct{} // closed when cmd has ended
	said     bytes.Buffer
}

// Quick are settings for tests that are not about lasting.
var Quick = []string{"fsync=off", "full_page_writes=off", "synchronous_commit=off"}

// Lasting are the server's own.
var Lasting = []string{}

// Start starts a server that ends with the test.
func Start(t testing.TB, settings []string) *Server {
	t.Helper()
	return StartUnder(t, settings)
}

// StartUnder starts a server by way of another program, such as one that traces
// it; the program must become the server or leave it as its caller's child. TRACE
// in its arguments stands for a file that the server may write.
func StartUnder(t testing.TB, settings []string, program ...string) *Server {
	t.Helper()
	s, err := start(need.Postgres(t), settings, program...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.end)
	return s
}

// Trace is the file that TRACE stands for.
func (s *Server) Trace() string { return filepath.Join(s.Dir, "trace") }

var (
	once    sync.Once
	shared  *Server
	failed  error
	schemas atomic.Int64

	first sync.Once
	fresh string // a cluster that was made and never started, to copy
)

// Schema is the address of a schema that nobody else uses, on a quick server
// that the tests of a package share.
func Schema(t testing.TB) string {
	t.Helper()
	bin := need.Postgres(t)
	once.Do(func() { shared, failed = start(bin, Quick) })
	if failed != nil {
		t.Fatal(failed)
	}
	return shared.Address(fmt.Sprintf("t%d", schemas.Add(1)))
}

// Run runs a package's tests and ends the server that they shared. TestMain calls
// it.
func Run(m *testing.M) int {
	code := m.Run()
	if shared != nil {
		shared.end()
	}
	if fresh != "" {
		_ = os.RemoveAll(fresh)
	}
	return code
}

// Address is that of a schema; it need not be there.
func (s *Server) Address(schema string) string {
	return "postgres://" + superuser + "@/" + superuser + "?host=" + s.Dir + "&search_path=" + schema
}

// account is who runs the server: nil for whoever runs the tests.
func account() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, errors.Join(err1, err2)
	}
	return nil, errors.New("a server does not run as root, and there is no user postgres or nobody to run it")
}

func start(bin string, settings []string, wrap ...string) (s *Server, err error) {
	as, err := account()
	if err != nil {
		return nil, err
	}
	first.Do(func() { fresh, failed = initialised(bin, as) })
	if failed != nil {
		return nil, failed
	}
	s = &Server{bin: bin, settings: settings, wrap: wrap, as: as}
	if s.Dir, err = directory(as); err != nil {
		return nil, err
	}
	copying := s.command("cp", "-a", filepath.Join(fresh, "data"), s.data())
	if out, err := copying.CombinedOutput(); err != nil {
		s.end()
		return nil, fmt.Errorf("cp: %w: %s", err, out)
	}
	if err := s.Up(); err != nil {
		s.end()
		return nil, err
	}
	return s, nil
}

// directory makes one for whoever runs the server.
func directory(as *syscall.Credential) (string, error) {
	dir, err := os.MkdirTemp("", "cw-pg-") // short: a socket's path has 107 bytes
	if err == nil && as != nil {
		err = os.Chown(dir, int(as.Uid), int(as.Gid))
	}
	return dir, err
}

// initialised makes a cluster. Its log has small files, so that tests go from one
// to the next.
func initialised(bin string, as *syscall.Credential) (string, error) {
	dir, err := directory(as)
	if err != nil {
		return dir, err
	}
	s := &Server{Dir: dir, bin: bin, as: as}
	init := s.command("initdb", "-D", s.data(), "-U", superuser, "-A", "trust", "-E", "UTF8", "--locale=C", "--wal-segsize=1", "--no-sync", "--no-instructions")
	if out, err := init.CombinedOutput(); err != nil {
		return dir, fmt.Errorf("initdb: %w: %s", err, out)
	}
	return dir, nil
}

func (s *Server) data() string { return filepath.Join(s.Dir, "data") }

func (s *Server) command(program string, args ...string) *exec.Cmd {
	if own := filepath.Join(s.bin, program); program != "cp" {
		program = own
	}
	line := append([]string{program}, args...)
	if filepath.Base(program) == "postgres" && len(s.wrap) > 0 {
		line = append(slices.Clone(s.wrap), line...)
		for i, x := range line {
			line[i] = strings.ReplaceAll(x, "TRACE", s.Trace())
		}
	}
	cmd := exec.Command(line[0], line[1:]...)
	cmd.Dir = s.Dir
	// SIGQUIT ends a server at once, and its children with it.
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: s.as, Pdeathsig: syscall.SIGQUIT}
	cmd.Env = append(os.Environ(), "LC_ALL=C", "HOME="+s.Dir)
	return cmd
}

// Up starts the server again after a Kill, and waits until it answers.
func (s *Server) Up() error {
	for deadline := time.Now().Add(30 * time.Second); ; {
		err := s.try()
		if err == nil || time.Now().After(deadline) {
			return err
		}
		// What a killed server leaves behind holds its memory for a moment.
		time.Sleep(50 * time.Millisecond)
	}
}

func (s *Server) try() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	args := []string{"-D", s.data(), "-c", "listen_addresses=", "-c", "unix_socket_directories=" + s.Dir, "-c", "max_connections=60", "-c", "shared_buffers=16MB"}
	for _, x := range s.settings {
		args = append(args, "-c", x)
	}
	s.said.Reset()
	s.cmd = s.command("postgres", args...)
	s.cmd.Stderr = &s.said
	if err := s.cmd.Start(); err != nil {
		return err
	}
	ended := make(chan struct{})
	s.ended = ended
	go func(cmd *exec.Cmd) { _ = cmd.Wait(); close(ended) }(s.cmd)
	for {
		select {
		case <-ended:
			return fmt.Errorf("the server does not start: %s", s.said.String())
		case <-time.After(10 * time.Millisecond):
		}
		if s.answers() == nil {
			return nil
		}
	}
}

// ready waits until a server whose processes were killed has put itself right.
func (s *Server) ready() error {
	for deadline := time.Now().Add(30 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		err := s.answers()
		if err == nil || time.Now().After(deadline) {
			return err
		}
	}
}

func (s *Server) answers() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	c, err := pgx.Connect(ctx, s.Address("public"))
	if err != nil {
		return err
	}
	return c.Close(ctx)
}

// Kill ends the server in the middle of what it does, and waits until it has
// ended. The processes that it had started end by themselves.
func (s *Server) Kill() error { return s.signal(syscall.SIGKILL) }

// Down ends the server, which breaks off what it does.
func (s *Server) Down() error { return s.signal(syscall.SIGINT) }

func (s *Server) signal(sig syscall.Signal) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.cmd == nil || s.cmd.Process == nil {
		return nil
	}
	err := s.cmd.Process.Signal(sig)
	<-s.ended
	if errors.Is(err, os.ErrProcessDone) {
		err = nil
	}
	return err
}

// pid is the server's own process.
func (s *Server) pid() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.cmd.Process.Pid
}

// KillWorker kills one of the processes that serve connections, the n-th from
// among them. The server ends all the others then and puts itself right: it is
// waited for. It says whether there was one.
func (s *Server) KillWorker(n int) (bool, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	watch, err := pgx.Connect(ctx, s.Address("public"))
	if err != nil {
		return false, err
	}
	defer func() { _ = watch.Close(ctx) }()
	workers := slices.DeleteFunc(s.workers(), func(pid int) bool { return pid == int(watch.PgConn().PID()) })
	if len(workers) == 0 {
		return false, nil
	}
	if err := syscall.Kill(workers[n%len(workers)], syscall.SIGKILL); err != nil {
		return false, err
	}
	if _, err = watch.WaitForNotification(ctx); ctx.Err() != nil { // until it is ended with the others
		return true, fmt.Errorf("the server has not noticed that a process of its was killed: %w", err)
	}
	return true, s.ready()
}

const serves = superuser + " " + superuser // user and database, as Address has them

const superuser = "postgres"

// workers are the processes that serve connections, one each.
func (s *Server) workers() (pids []int) {
	parent := strconv.Itoa(s.pid())
	all, _ := filepath.Glob("/proc/[0-9]*/stat") // the pattern is well formed
	for _, file := range all {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // it has ended meanwhile
		}
		_, rest, found := strings.Cut(string(text), ") ")
		fields := strings.Fields(rest)
		if !found || len(fields) < 2 || fields[1] != parent {
			continue
		}
		dir := filepath.Dir(file)
		// Its title names the user and the database, which the server's other processes do not have.
		if line, err := os.ReadFile(filepath.Join(dir, "cmdline")); err == nil && bytes.Contains(line, []byte(serves)) {
			pid, _ := strconv.Atoi(filepath.Base(dir)) // it is a number by the pattern
			pids = append(pids, pid)
		}
	}
	return pids
}

func (s *Server) end() {
	_ = s.signal(syscall.SIGQUIT)
	_ = os.RemoveAll(s.Dir)
}
