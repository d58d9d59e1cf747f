package main

import (
	"bytes"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"chargewright/internal/need"
)

// insideProgram is the name under which this test's program does, within a unit, what
// the unit should keep it from.
const (
	insideProgram  = "chargewright-inside"
	tracedVariable = "CHARGEWRIGHT_TEST_TRACED"
)

func init() { programs[insideProgram] = inside }

// inside tries everything once and says of each whether it was allowed.
func inside() {
	if os.Getenv(tracedVariable) != "" {
		if call(syscall.SYS_PTRACE, syscall.PTRACE_TRACEME) != nil { // of @debug; anybody may
			os.Exit(1)
		}
		return
	}
	state := os.Getenv("STATE_DIRECTORY")
	if state == "" {
		state = os.Args[1]
	}
	for _, try := range []struct {
		what string
		do   func() error
	}{
		{"own directory", func() error { return os.WriteFile(filepath.Join(state, "own"), nil, 0o644) }},
		{"ProtectSystem", func() error {
			var s syscall.Statfs_t
			if err := syscall.Statfs("/usr", &s); err != nil {
				return err
			}
			return refusedIf(s.Flags&syscall.MS_RDONLY != 0)
		}},
		{"ProtectHome", func() error { _, err := os.ReadDir("/home"); return err }},
		{"PrivateTmp", func() error { _, err := os.Stat("/tmp/of-the-others"); return err }},
		{"ProtectProc", func() error { _, err := os.Stat("/proc/1/status"); return err }},
		{"UMask", func() error {
			i, err := os.Stat(filepath.Join(state, "own"))
			if err != nil {
				return err
			}
			return refusedIf(i.Mode().Perm() == 0o600)
		}},
		{"RestrictSUIDSGID", func() error { return os.Chmod(filepath.Join(state, "own"), 0o755|os.ModeSetuid) }},
		{"RestrictNamespaces", func() error {
			c := exec.Command("/bin/true")
			c.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWUSER}
			return c.Run()
		}},
		{"LockPersonality", func() error { return call(syscall.SYS_PERSONALITY, 0x0040000) }}, // ADDR_NO_RANDOMIZE
		{"MemoryDenyWriteExecute", func() error {
			_, err := syscall.Mmap(-1, 0, 4096, syscall.PROT_READ|syscall.PROT_WRITE|syscall.PROT_EXEC, syscall.MAP_ANON|syscall.MAP_PRIVATE)
			return err
		}},
		{"SystemCallFilter", func() error { // whoever calls what is not on the list is killed
			c := exec.Command("/proc/self/exe")
			c.Args, c.Env = []string{insideProgram}, append(os.Environ(), tracedVariable+"=1")
			return c.Run()
		}},
		{"RestrictAddressFamilies", func() error {
			fd, err := syscall.Socket(40, syscall.SOCK_STREAM, 0) // AF_VSOCK, which anybody may where there is one
			if err == nil {
				err = syscall.Close(fd)
			}
			return err
		}},
		{"NoNewPrivileges", func() error {
			text, err := os.ReadFile("/proc/self/status")
			if err != nil {
				return err
			}
			return refusedIf(bytes.Contains(text, []byte("NoNewPrivs:\t1")))
		}},
		{"CapabilityBoundingSet", func() error {
			text, err := os.ReadFile("/proc/self/status")
			if err != nil {
				return err
			}
			return refusedIf(bytes.Contains(text, []byte("CapBnd:\t0000000000000000")))
		}},
	} {
		said := "allowed"
		if err := try.do(); err != nil {
			said = "refused"
		}
		fmt.Println(try.what, said)
	}
}

func refusedIf(no bool) error {
	if no {
		return syscall.EPERM
	}
	return nil
}

func call(number, argument uintptr) error {
	if _, _, errno := syscall.RawSyscall(number, argument, 0, 0); errno != 0 {
		return errno
	}
	return nil
}

// coldLine has what is started in a machine work nothing out ahead, as every other server of
// these tests: each of them would begin with plans of all arrangements.
const coldLine = coldVariable + "=1\n"

// run is what happens in the machine that the unit is started in.
const inTheMachine = `
exec 2>/probe/errors
touch /tmp/of-the-others
mkdir -m 1777 /probe/free
systemctl start chargewright
pid() { systemctl show -p MainPID --value chargewright; }
before=$(pid)
cp /proc/$before/status /probe/status
ls -ln /var/lib/private/chargewright > /probe/files
systemctl start inside outside
journalctl -o cat -u chargewright > /probe/said
touch /probe/ready
until [ -e /probe/go ]; do sleep 0.05; done
kill -9 $before
for i in $(seq 300); do
	sleep 0.05
	[ "$(pid)" != "$before" ] && [ "$(systemctl is-active chargewright)" = active ] && break
done
systemctl show -p ActiveState -p NRestarts chargewright > /probe/again
systemctl stop chargewright
systemctl show -p ActiveState -p Result chargewright > /probe/stopped
touch /probe/done
systemctl --force --force poweroff
`

// What runs inTheMachine when it has come up.
const (
	probeService = "[Service]\nType=oneshot\nExecStart=/bin/bash /probe/run\n"
	probeTarget  = "[Unit]\nRequires=basic.target probe.service\nAfter=basic.target\n"
)

// container is a systemd of its own over a copy of this machine that is not kept.
type container struct {
	root string
	cmd  *exec.Cmd
	said *quiet
}

// boot starts systemd as the first process of a container on this machine's own files;
// more are arguments of what runs it.
func boot(t *testing.T, files map[string]string, more ...string) *container {
	t.Helper()
	nspawn := need.Program(t, "systemd-nspawn")
	if os.Geteuid() != 0 {
		t.Skip("only root may boot a container: this check was not made")
	}
	dir := t.TempDir()
	mount := func(source, target, kind, options string) {
		t.Helper()
		if err := os.MkdirAll(target, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mount(source, target, kind, 0, options); err != nil {
			t.Skipf("%s cannot be mounted here (%v): the unit was not started under systemd", kind, err)
		}
		t.Cleanup(func() { _ = syscall.Unmount(target, syscall.MNT_DETACH) })
	}
	mount("tmpfs", dir, "tmpfs", "mode=0755")
	m := &container{root: filepath.Join(dir, "root"), said: &quiet{}}
	for _, d := range []string{"up", "work"} {
		if err := os.Mkdir(filepath.Join(dir, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	mount("overlay", m.root, "overlay", "lowerdir=/,upperdir="+dir+"/up,workdir="+dir+"/work")
	if err := os.RemoveAll(filepath.Join(m.root, "etc/systemd/system")); err != nil { // nothing of this machine's is started
		t.Fatal(err)
	}
	for name, text := range files {
		file := filepath.Join(m.root, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil { //nolint:gosec // systemd reads it
			t.Fatal(err)
		}
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"chargewright", insideProgram} {
		if err := copyProgram(program, filepath.Join(m.root, "usr/local/bin", name)); err != nil {
			t.Fatal(err)
		}
	}
	m.cmd = exec.Command(nspawn, slices.Concat([]string{"--quiet", "--directory=" + m.root, "--register=no", "--keep-unit", "--machine=chargewright-test"}, more, []string{"--boot", "systemd.unit=probe.target"})...)
	m.cmd.Stdout, m.cmd.Stderr = m.said, m.said
	m.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if err := m.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = m.cmd.Process.Kill(); _ = m.cmd.Wait() })
	return m
}

func copyProgram(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = in.Close() }()                                      // it was only read
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o755) //nolint:gosec // it is run by another user
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, in); err != nil {
		return err
	}
	return out.Close()
}

// wrote waits for a file that the machine writes last of several.
func (m *container) wrote(t *testing.T, name string) {
	t.Helper()
	for end := time.Now().Add(90 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(m.root, "probe", name)); err == nil {
			return
		}
	}
	said, _ := os.ReadFile(filepath.Join(m.root, "probe/said"))
	t.Fatalf("it did not come to %s: %s\n%s", name, m.said.String(), said)
}

func (m *container) read(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(m.root, "probe", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// freePort is one that nobody listens on.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // it is closed at once
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// TestUnitUnderSystemd: a real systemd starts the unit as it is shipped: it is told when
// the program serves, gives it a user and a directory of its own, starts it again when
// it was killed, and stops it in good order; the pages answer and work under what the
// unit forbids. A program of the test tries, under the same lines, what each forbids,
// and under none of them, where all of it is allowed.
func TestUnitUnderSystemd(t *testing.T) {
	at, figures := freePort(t), freePort(t)
	unit := readText(t, "packaging/chargewright.service")
	start := regexp.MustCompile(`(?m)^ExecStart=.*$`)
	within := start.ReplaceAllString(unit, "ExecStart=/usr/local/bin/"+insideProgram+" /probe/free\nStandardOutput=file:/probe/inside")
	for from, to := range map[string]string{"Type=notify": "Type=oneshot", "Restart=on-failure": "Restart=no", "StateDirectory=chargewright": "StateDirectory=inside"} {
		within = strings.Replace(within, from, to, 1)
	}
	const unitDir = "etc/systemd/system/"
	m := boot(t, map[string]string{
		unitDir + "chargewright.service": unit, unitDir + "inside.service": within,
		unitDir + "outside.service":             "[Service]\nType=oneshot\nUser=nobody\nExecStart=/usr/local/bin/" + insideProgram + " /probe/free\nStandardOutput=file:/probe/outside\n",
		unitDir + "probe.service":               probeService,
		unitDir + "probe.target":                probeTarget,
		"etc/chargewright/chargewright.env":     "CHARGEWRIGHT_ARGS=--listen " + at + " --metrics " + figures + "\n" + coldLine,
		"probe/run":                             inTheMachine,
		"etc/tmpfiles.d/chargewright-test.conf": "# nothing\n",
	})
	m.wrote(t, "ready")
	for _, want := range []string{"\nUid:\t6", "NoNewPrivs:\t1", "CapEff:\t0000000000000000", "CapBnd:\t0000000000000000", "Seccomp:\t2"} { // a dynamic user is one of 61184 to 65519 (systemd.exec(5))
		if !strings.Contains(m.read(t, "status"), want) {
			t.Errorf("the program runs without %q: %s", want, m.read(t, "status"))
		}
	}
	for line := range strings.Lines(m.read(t, "files")) {
		if !strings.HasPrefix(line, "total") && !strings.HasPrefix(line, "-rw------- 1 6") {
			t.Errorf("a file of the workshop is not its own alone: %s", line)
		}
	}
	tried := strings.Split(strings.TrimSpace(m.read(t, "inside")), "\n")
	if len(tried) < 14 {
		t.Errorf("only %d things were tried", len(tried))
	}
	for _, line := range tried {
		if own := strings.HasPrefix(line, "own directory"); own != strings.HasSuffix(line, "allowed") {
			t.Errorf("under the unit: %s", line)
		}
	}
	for line := range strings.Lines(m.read(t, "outside")) {
		switch line = strings.TrimSpace(line); {
		case line == "RestrictAddressFamilies refused":
			t.Log("no socket of AF_VSOCK can be made on this machine at all: of RestrictAddressFamilies nothing was seen")
		case !strings.HasSuffix(line, "allowed"):
			t.Errorf("without the unit's lines as well: %s, so that it tells nothing of them", line)
		}
	}
	worksAt(t, "https://"+at, m.read(t, "said"))
	if err := os.WriteFile(filepath.Join(m.root, "probe/go"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	m.wrote(t, "done")
	if again := m.read(t, "again"); !strings.Contains(again, "ActiveState=active") || !strings.Contains(again, "NRestarts=1") {
		t.Errorf("after it was killed: %s", again)
	}
	if end := m.read(t, "stopped"); !strings.Contains(end, "ActiveState=inactive") || !strings.Contains(end, "Result=success") {
		t.Errorf("stopped: %s", end)
	}
}

// worksAt makes the owner's account and a job, and has its papers printed.
func worksAt(t *testing.T, base, said string) {
	t.Helper()
	link := regexp.MustCompile(`https://\S+(/owner/\S+)`).FindStringSubmatch(said)
	if link == nil {
		t.Fatalf("no link for the owner in the journal: %s", said)
	}
	d := newDevice(0, base)
	d.Transport = &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}} //nolint:gosec // its certificate is its own
	owner := url.Values{"name": {"Mara"}, "password": {"copper braid 41"}, "again": {"copper braid 41"}}
	opening := url.Values{"event": {"e-under-systemd"}, "seen": {"0"}, "kind": {"low-charge"}, "system": {"supply-side-contact"}, "meter": {"dmm"}, "volts": {"12"}}
	job := ""
	for _, f := range []struct {
		path string
		form url.Values
	}{{link[1], owner}, {"/sign-in", owner}, {"/jobs", opening}} {
		code, body, to, err := d.post(t.Context(), f.path, f.form)
		if err != nil || code != http.StatusSeeOther {
			t.Fatalf("%s: answered %d: %.300s (%v)", f.path, code, body, err)
		}
		job = to
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+job+"/card.pdf", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", d.session)
	a, err := d.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if data, err := io.ReadAll(a.Body); err != nil || a.StatusCode != http.StatusOK || !slices.Equal(data[:4], []byte("%PDF")) {
		t.Errorf("the job card: answered %d, %d bytes (%v)", a.StatusCode, len(data), err)
	}
}
