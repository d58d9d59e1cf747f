package main

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"chargewright/internal/pgtest"
)

// inThePair is what happens in the machine that two servers of one workshop are
// started in.
const inThePair = `
exec 2>/probe/errors
useradd --system --no-create-home chargewright
systemctl start chargewright@shop7-a chargewright@shop7-b
systemctl start chargewright-worker@shop7-a
pid() { systemctl show -p MainPID --value chargewright@shop7-a; }
before=$(pid)
cp /proc/$before/status /probe/status
id -u chargewright > /probe/user
journalctl -o cat -u 'chargewright@*' > /probe/said
systemctl is-active chargewright-worker@shop7-a > /probe/worker
cat /proc/$(systemctl show -p MainPID --value chargewright-worker@shop7-a)/status >> /probe/worker
touch /probe/ready
until [ -e /probe/go ]; do sleep 0.05; done
kill -9 $before
touch /probe/killed
for i in $(seq 300); do
	sleep 0.05
	[ "$(pid)" != "$before" ] && [ "$(systemctl is-active chargewright@shop7-a)" = active ] && break
done
systemctl show -p ActiveState -p NRestarts chargewright@shop7-a > /probe/again
touch /probe/back
until [ -e /probe/end ]; do sleep 0.05; done
systemctl stop chargewright@shop7-a chargewright@shop7-b chargewright-worker@shop7-a
systemctl show -p ActiveState -p Result chargewright@shop7-a chargewright@shop7-b chargewright-worker@shop7-a > /probe/stopped
touch /probe/done
systemctl --force --force poweroff
`

// TestTemplateUnitUnderSystemd: a real systemd starts two servers of one workshop by the
// template unit as it is shipped, each with the file of its name, on one PostgreSQL, and a worker
// by its own: what
// one has recorded the other shows, also while the first is dead, and systemd starts
// that again and stops all in good order.
func TestTemplateUnitUnderSystemd(t *testing.T) {
	s := pgtest.Start(t, pgtest.Quick)
	if err := os.Chmod(s.Dir, 0o711); err != nil { //nolint:gosec // the unit's user goes through to the socket
		t.Fatal(err)
	}
	a, b := freePort(t), freePort(t)
	database := strings.Replace(s.Address("public"), s.Dir, "/pg", 1)
	env := func(at string) string {
		return "CHARGEWRIGHT_DATABASE=" + database + "\nCHARGEWRIGHT_ARGS=--listen " + at + " --log json\n" + coldLine
	}
	const unitDir = "etc/systemd/system/"
	m := boot(t, map[string]string{
		unitDir + "chargewright@.service":        readText(t, "packaging/chargewright@.service"),
		unitDir + "chargewright-worker@.service": readText(t, "packaging/chargewright-worker@.service"),
		unitDir + "probe.service":                probeService,
		unitDir + "probe.target":                 probeTarget,
		"etc/chargewright/shop7-a.env":           env(a),
		"etc/chargewright/shop7-b.env":           env(b),
		"probe/run":                              inThePair,
	}, "--bind="+s.Dir+":/pg")
	m.wrote(t, "ready")
	user := strings.TrimSpace(m.read(t, "user"))
	if worker := m.read(t, "worker"); !strings.HasPrefix(worker, "active\n") || !strings.Contains(worker, "\nUid:\t"+user+"\t") || !strings.Contains(worker, "CapEff:\t0000000000000000") {
		t.Errorf("the worker: %s", worker)
	}
	for _, want := range []string{"\nUid:\t" + user + "\t", "NoNewPrivs:\t1", "CapEff:\t0000000000000000", "CapBnd:\t0000000000000000", "Seccomp:\t2"} {
		if !strings.Contains(m.read(t, "status"), want) {
			t.Errorf("the program runs without %q: %s", want, m.read(t, "status"))
		}
	}
	d := newDevice(0, "http://"+a, "http://"+b)
	job := openedBy(t, d, m.read(t, "said"))
	m.tell(t, "go")
	m.wrote(t, "killed")
	showsJob(t, d, 1, job)
	m.wrote(t, "back")
	showsJob(t, d, 0, job)
	if again := m.read(t, "again"); !strings.Contains(again, "ActiveState=active") || !strings.Contains(again, "NRestarts=1") {
		t.Errorf("after it was killed: %s", again)
	}
	m.tell(t, "end")
	m.wrote(t, "done")
	if end := m.read(t, "stopped"); strings.Count(end, "ActiveState=inactive") != 3 || strings.Count(end, "Result=success") != 3 {
		t.Errorf("stopped: %s", end)
	}
}

// tell makes a file that what runs in the machine waits for.
func (m *container) tell(t *testing.T, name string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(m.root, "probe", name), nil, 0o600); err != nil {
		t.Fatal(err)
	}
}

// openedBy makes the owner's account at the first server and a job there. Of two links the one
// printed last is good; either server takes it.
func openedBy(t *testing.T, d *device, said string) (job string) {
	t.Helper()
	owner := url.Values{"name": {"Mara"}, "password": {"copper braid 41"}, "again": {"copper braid 41"}}
	made := false
	for _, link := range regexp.MustCompile(`http://\S+(/owner/\S+)`).FindAllStringSubmatch(said, -1) {
		code, _, _, err := d.post(t.Context(), link[1], owner)
		made = made || err == nil && code == http.StatusSeeOther
	}
	if !made {
		t.Fatalf("no link makes an owner: %s", said)
	}
	opening := url.Values{"event": {"e-of-a-pair"}, "seen": {"0"}, "kind": {"low-charge"}, "system": {"supply-side-contact"}, "meter": {"dmm"}, "volts": {"12"}}
	if code, body, _, err := d.post(t.Context(), "/sign-in", owner); err != nil || code != http.StatusSeeOther {
		t.Fatalf("signing in: answered %d: %.300s (%v)", code, body, err)
	}
	code, body, job, err := d.post(t.Context(), "/jobs", opening)
	if err != nil || code != http.StatusSeeOther {
		t.Fatalf("a job: answered %d: %.300s (%v)", code, body, err)
	}
	return job
}

// showsJob asks one server for a job.
func showsJob(t *testing.T, d *device, server int, job string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, d.servers[server]+job+"/log", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", d.session)
	a, err := d.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = a.Body.Close() }()
	if a.StatusCode != http.StatusOK && a.StatusCode != http.StatusAccepted {
		t.Errorf("server %d shows the job with %d", server, a.StatusCode)
	}
}
