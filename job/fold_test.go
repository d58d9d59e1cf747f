package job_test

import (
	"bytes"
	"encoding/json"
	"os"
	"reflect"
	"strings"
	"testing"

	"chargewright/job"
	"chargewright/system"
)

func events(t testing.TB) []job.Event {
	t.Helper()
	data, err := os.ReadFile("testdata/v1/no-charge.yaml")
	if err != nil {
		t.Fatal(err)
	}
	list, err := job.Parse("no-charge.yaml", data, shelf(t))
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestFoldIsPure: the same events give the same job, also after they went
// through storage, and folding changes none of them.
func TestFoldIsPure(t *testing.T) {
	list, s := events(t), shelf(t)
	stored, err := json.Marshal(list)
	if err != nil {
		t.Fatal(err)
	}
	a, err := job.Fold(list, s)
	if err != nil {
		t.Fatal(err)
	}
	var again []job.Event
	if err := json.Unmarshal(stored, &again); err != nil {
		t.Fatal(err)
	}
	b, err := job.Fold(again, s)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a, b) {
		t.Error("two folds of the same events differ")
	}
	after, err := json.Marshal(list)
	if err != nil || !bytes.Equal(stored, after) {
		t.Error("folding changed the events")
	}
}

// TestFoldByPieces: the job after n events does not depend on the later ones.
func TestFoldByPieces(t *testing.T) {
	list, s := events(t), shelf(t)
	whole, err := job.Fold(list, s)
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= len(list); n++ {
		j, err := job.Fold(list[:n], s)
		if err != nil {
			t.Fatal(err)
		}
		if len(j.Entries) != n-1 || n > 1 && !reflect.DeepEqual(j.Entries, whole.Entries[:n-1]) {
			t.Errorf("after %d events the entries differ from those of the whole job", n)
		}
	}
}

// TestSameEventTwice: a device that sends again changes nothing; the same id
// with other bytes is a conflict.
func TestSameEventTwice(t *testing.T) {
	list, s := events(t), shelf(t)
	want, err := job.Fold(list, s)
	if err != nil {
		t.Fatal(err)
	}
	got, err := job.Fold(append(list[:len(list):len(list)], list[1], list[4]), s)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("repeated events: %v", err)
	}
	other := list[1]
	other.Body = []byte(`{"id":"other","procedure":"battery-rest-volts","values":[{"how":"measured","x":12}]}`)
	if _, err := job.Fold(append(list[:len(list):len(list)], other), s); err == nil || !strings.Contains(err.Error(), "used before") {
		t.Errorf("the same id with other bytes: %v", err)
	}
}

// TestFoldRefuses: events that cannot follow are refused with words.
func TestFoldRefuses(t *testing.T) {
	list, s := events(t), shelf(t)
	opening := list[0]
	made := func(kind job.Kind, v int, body string) []job.Event {
		return []job.Event{opening, {ID: "x", Seq: 2, Kind: kind, V: v, Body: []byte(body)}}
	}
	for _, c := range []struct {
		name   string
		events []job.Event
		want   string
	}{
		{"nothing", nil, "begins with its opening"},
		{"no opening", list[1:], "begins with its opening"},
		{"opened twice", made(job.Opened, 1, string(opening.Body)), "open already"},
		{"newer version", made(job.Took, 2, "{}"), "version 2"},
		{"unknown kind", made("signed", 1, "{}"), "not known"},
		{"no body", made(job.Took, 1, ""), "EOF"},
		{"unknown field", made(job.FoundRig, 1, `{"rig":{},"mood":1}`), "mood"},
		{"unknown procedure", made(job.Took, 1, `{"id":"a","procedure":"p","values":[]}`), "no procedure is called p"},
		{"values missing", made(job.Took, 1, `{"id":"a","procedure":"charge-volts","values":[]}`), "0 values, 2 are asked for"},
		{"unknown quantity", made(job.Took, 1, `{"id":"a","quantity":"watts","values":[{"how":"measured"}]}`), "no quantity"},
		{"unknown point", made(job.Took, 1, `{"id":"a","quantity":"volts","between":["stud","moon"],"values":[{"how":"measured"}]}`), "no points"},
		{"unknown branch", made(job.Took, 1, `{"id":"a","quantity":"amps","through":"moon","values":[{"how":"measured"}]}`), "no branch"},
		{"correction too short", append(made(job.Took, 1, `{"id":"a","procedure":"charge-volts","values":[{"how":"measured"},{"how":"measured"}]}`),
			job.Event{ID: "y", Kind: job.Corrected, V: 1, Body: []byte(`{"id":"a","values":[{"how":"measured"}],"why":"w"}`)}), "2 values, the correction 1"},
		{"unknown how", made(job.Took, 1, `{"id":"a","procedure":"battery-rest-volts","values":[{"how":"guessed"}]}`), "guessed"},
		{"unknown place", made(job.FoundRig, 1, `{"rig":{"moon":"full"}}`), "no place moon"},
		{"unknown position", made(job.FoundRig, 1, `{"rig":{"engine":"full"}}`), "no position full"},
		{"leads on nothing", made(job.FoundRig, 1, `{"rig":{},"leads":["stud/moon"]}`), "no two points"},
		{"clamp on nothing", made(job.FoundRig, 1, `{"rig":{},"leads":["moon"]}`), "no wire"},
		{"correcting nothing", made(job.Corrected, 1, `{"id":"a","values":[],"why":""}`), "no earlier reading is called a"},
		{"reading without id", made(job.Took, 1, `{"id":"","procedure":"battery-rest-volts","values":[{"how":"measured"}]}`), "empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := job.Fold(c.events, s); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("refused with %v, want %q", err, c.want)
			}
		})
	}
}

// TestSystemIsPinned: a job is never read against another system file than the
// one it was opened with.
func TestSystemIsPinned(t *testing.T) {
	list, s := events(t), shelf(t)
	load := s.System
	s.System = func(name string) (*system.System, error) {
		x, err := load(name)
		if err != nil {
			return nil, err
		}
		changed := *x
		changed.SHA256[0]++
		return &changed, nil
	}
	if _, err := job.Fold(list, s); err == nil || !strings.Contains(err.Error(), "not the one") {
		t.Errorf("folded on a changed system: %v", err)
	}
}

// TestAfterForbiddenState: from a hook-up that no rule allows, the next reading
// stands where a person ends who first makes the vehicle safe.
func TestAfterForbiddenState(t *testing.T) {
	j := read(t, "log:\n  - rig: {engine: fast, output-lead: \"off\"}\n  - charge-volts: [13.4 V, 9.0 A]\n")
	if got := stands(j, j.Rig, "output-lead"); got != "on" {
		t.Errorf("output lead %s", got)
	}
	if ok, broken := j.System.Rig.Allowed(j.Rig); !ok {
		t.Errorf("against %v", broken)
	}
}

// TestTakenBeforeARepair: a reading that comes in after a repair of which its
// device had not heard counts before it and leaves the hook-up alone; one whose
// device had heard counts after it.
func TestTakenBeforeARepair(t *testing.T) {
	s := shelf(t)
	list, err := job.Parse("late.yaml", []byte(`format: 1
system: isolated-earth-side
complaint: {kind: no-charge}
log:
  - charge-volts: [12.2 V, 0.0 A]
  - repair: {part: earths, what: cleaned, cured: no}
  - rig: {earth-cable: "off", engine: "off"}
  - battery-rest-volts: 12.3 V
`), s)
	if err != nil {
		t.Fatal(err)
	}
	for i := range list {
		list[i].Seq = i + 1
	}
	before, err := job.Fold(list[:4], s) // opened, reading, repair, hook-up
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ seen, epoch int }{{0, 1}, {1, 0}, {2, 0}, {3, 1}, {4, 1}} {
		list[4].Seen = c.seen
		j, err := job.Fold(list, s)
		if err != nil {
			t.Fatal(err)
		}
		last := j.Entries[len(j.Entries)-1]
		if r := j.Readings[1]; r.Epoch != c.epoch || last.Epoch != c.epoch || j.Epoch != 1 {
			t.Errorf("knowing event %d it counts in epoch %d (entry %d, job %d), want %d", c.seen, r.Epoch, last.Epoch, j.Epoch, c.epoch)
		}
		if late := c.epoch == 0; late != (j.Rig == before.Rig && stands(j, j.Rig, "earth-cable") == "off") {
			t.Errorf("knowing event %d it left the earth cable %s", c.seen, stands(j, j.Rig, "earth-cable"))
		}
	}
}
