package job_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"chargewright/job"
)

// TestCameBack: a complaint that is back after a signature takes from the repairs what
// was said of it then; what stands in the log stays.
func TestCameBack(t *testing.T) {
	s := shelf(t)
	type visit struct{ repairs, complaint string } // class=cured; "-" for one in words
	for _, c := range []struct {
		visits []visit
		want   string
	}{
		{[]visit{{"fit-rectifier=yes", "back"}}, "no!"},
		{[]visit{{"fit-rectifier=yes", ""}}, "yes"},
		{[]visit{{"fit-rectifier=yes", "not-back"}}, "yes"},
		{[]visit{{"fit-rectifier=unknown", "back"}}, "no!"},
		{[]visit{{"fit-rectifier=no", "back"}}, "no"},
		{[]visit{{"", "back"}}, ""},
		{[]visit{{"fit-rectifier=yes clean-clamps=yes", "back"}}, "unknown!, no!"}, // it was gone after both: one thing was said, one is taken back
		{[]visit{{"fit-rectifier=no clean-clamps=yes", "back"}}, "no, no!"},
		{[]visit{{"fit-rectifier=yes -=yes", "back"}}, "no!, no!"}, // what was done in words cures nothing on the list
		{[]visit{{"-=yes", "back"}}, "no!"},
		{[]visit{{"-=yes -=yes", "back"}}, "unknown!, no!"},
		{[]visit{{"fit-rectifier=yes", "back"}, {"clean-clamps=yes", ""}}, "no!, yes"},
		{[]visit{{"fit-rectifier=yes", "back"}, {"clean-clamps=yes", "back"}}, "no!, no!"},
		{[]visit{{"fit-rectifier=yes", "not-back"}, {"clean-clamps=yes", "back"}}, "unknown!, no!"},
		{[]visit{{"fit-rectifier=yes", "back"}, {"", "back"}}, "no!"},
	} {
		var list []job.Event
		n, done := 0, 0
		id := func() string { n++; return "e" + string(rune('a'+n)) }
		for _, v := range c.visits {
			for _, r := range strings.Fields(v.repairs) {
				class, cured, _ := strings.Cut(r, "=")
				done++
				b := job.RepairBody{ID: "x" + string(rune('0'+done)), Repair: class, Cured: cured}
				if class == "-" {
					b.Repair, b.What = "", "in words"
				}
				list = append(list, event(t, id(), job.Repaired, b))
			}
			list = append(list, event(t, id(), job.Signed, job.SignedBody{Gone: "yes", Head: "00", Report: json.RawMessage(`{"format":1}`)}),
				event(t, id(), job.Reopened, job.ReopenedBody{Why: "it came", Complaint: v.complaint}))
		}
		j, err := job.Fold(happened(t, list...), s)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, r := range j.Repairs {
			got = append(got, r.Counts+map[bool]string{true: "!"}[r.Back])
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%+v: %q, want %q", c.visits, got, c.want)
		}
		var said, told []string
		for _, e := range j.Entries {
			if b, ok := e.Body.(job.RepairBody); ok {
				said = append(said, b.Cured)
			}
		}
		for _, v := range c.visits {
			for _, r := range strings.Fields(v.repairs) {
				_, cured, _ := strings.Cut(r, "=")
				told = append(told, cured)
			}
		}
		if !slices.Equal(said, told) {
			t.Errorf("%+v: the log says %q", c.visits, said)
		}
	}
}

// TestCameBackIsStillThere: for the causes, a repair that was said to have cured it and
// did not is one that did not cure it; and one in words says nothing of them.
func TestCameBackIsStillThere(t *testing.T) {
	const repair = "log:\n  - battery-rest-volts: 12.25 V\n  - repair: {repair: fit-rectifier, cured: "
	came := read(t, repair+"yes}\n  - reopened: {why: dim again, complaint: back}\n  - battery-rest-volts: 12.2 V\n")
	still := read(t, repair+"no}\n  - battery-rest-volts: 12.2 V\n")
	a, b := came.Input(nil, nil).Repairs[0], still.Input(nil, nil).Repairs[0]
	if !a.Back || b.Back || a.Cured != b.Cured || a.Repair != b.Repair {
		t.Errorf("it counts as %+v, want it to count as %+v", a, b)
	}
	if x, y := came.Input(nil, nil), still.Input(nil, nil); len(x.Readings) != 2 || x.Readings[1].Epoch != y.Readings[1].Epoch {
		t.Errorf("%+v and %+v", x.Readings, y.Readings)
	}
}

// TestReopenedInAFile: a job file holds no sheet, so its reopening says itself that
// there is one elsewhere; no page can say that of a job that is not signed.
func TestReopenedInAFile(t *testing.T) {
	j := read(t, "log:\n  - repair: {repair: fit-rectifier, cured: yes}\n  - reopened: {why: slip}\n  - reopened: {why: dim again, complaint: back}\n")
	if b, ok := j.Entries[2].Body.(job.ReopenedBody); !ok || b.Complaint != "back" || b.Why != "dim again" || !b.Elsewhere || !j.Repairs[0].Back {
		t.Errorf("%+v", j.Entries)
	}
	if b, ok := j.Entries[1].Body.(job.ReopenedBody); !ok || b.Complaint != "" || b.Says() != "" {
		t.Errorf("%+v", b)
	}
}

// TestReopenedBytes: where nobody said what the complaint does, a reopening is written
// as it was before anybody asked; a word that is none is refused.
func TestReopenedBytes(t *testing.T) {
	const old = `{"why":"came back"}`
	data, err := json.Marshal(job.ReopenedBody{Why: "came back"})
	if err != nil || string(data) != old {
		t.Errorf("%s (%v), want %s", data, err, old)
	}
	signed := event(t, "s", job.Signed, job.SignedBody{Gone: "yes", Head: "00", Report: json.RawMessage(`{"format":1}`)})
	for body, want := range map[string]string{old: "", `{"why":"x","complaint":"not-back"}`: "", `{"why":"x","complaint":"again"}`: `"again" is not known`} {
		_, err := job.Fold(happened(t, signed, job.Event{ID: "o", Kind: job.Reopened, Body: []byte(body)}), shelf(t))
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", body, err, want)
		}
	}
}
