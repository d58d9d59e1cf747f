package main

import (
	"context"
	"os"
	"slices"
	"strings"
	"testing"

	"chargewright/advice"
	"chargewright/diagnosis"
	"chargewright/internal/sample"
	"chargewright/job"
	"chargewright/question"
	"chargewright/truth"
)

const top = "../../"

// each runs a test on the stories of every system.
func each(t *testing.T, test func(t *testing.T, id string)) {
	t.Helper()
	for _, id := range systems() {
		t.Run(id, func(t *testing.T) { test(t, id) })
	}
}

func stored(t *testing.T, id string) (*world, []byte) {
	t.Helper()
	w, err := newWorld(id)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(top + runsFile(id))
	if err != nil {
		t.Fatal(err)
	}
	return w, data
}

// TestFilesAreFresh: the job files are what the stored runs give today.
func TestFilesAreFresh(t *testing.T) { each(t, filesAreFresh) }

func filesAreFresh(t *testing.T, id string) {
	w, data := stored(t, id)
	for k, s := range storiesOf(id) {
		want, err := w.render(data, k, s, s.Seed)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(top + examples + "/" + s.File + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != want {
			t.Errorf("%s.yaml is stale: go run ./internal/examplegen", s.File)
		}
	}
}

// TestRunsAreFresh: every stored run is of the netlist that would be written
// today, and has settled.
func TestRunsAreFresh(t *testing.T) { each(t, runsAreFresh) }

func runsAreFresh(t *testing.T, id string) {
	w, data := stored(t, id)
	f, err := truth.ParseFixture(data)
	if err != nil {
		t.Fatal(err)
	}
	setups := map[string]question.Setup{}
	v := truth.Sound(w.model)
	for _, s := range storiesOf(id) {
		for _, id := range s.Procedures {
			q, err := w.question(id)
			if err != nil {
				t.Fatal(err)
			}
			n, err := v.Write(w.model, q.Setup, f.Options, 0)
			if err != nil {
				t.Fatal(err)
			}
			setups[n.Standing] = q.Setup
		}
	}
	stale, err := f.Stale(w.model, func(standing string) (question.Setup, bool) { s, ok := setups[standing]; return s, ok })
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range stale {
		t.Errorf("%s: stale: go run ./internal/examplegen -simulate", s)
	}
	for _, v := range f.Vehicles {
		for _, r := range v.Runs {
			if r.Drift > 1 {
				t.Errorf("%s, %s: had not settled: its windows differ by %.1f times what is allowed", v.Name, r.Standing, r.Drift)
			}
		}
	}
}

// TestOtherSeeds: with other seeds of the meters' noise the right group is
// first with more than 0.8 in eight of ten, for each story with one fault. Here one
// seed is tried, and all ten where that one is wrong; with CHARGEWRIGHT_ALL always ten.
//
// closed form (binomial): a story that is right under a share p of all seeds is found
// below the bar with (1-p) P(at most 7 of the 9 others are right): 0.11, 0.24, 0.49, 0.80
// for p = 0.8, 0.7, 0.5, 0.2. Two right of three found 0.10, 0.22, 0.50, 0.90. Of two
// stories that a change has broken to p = 0.2 one at least is found with 0.96. Seen to
// fail with half of each story's readings.
func TestOtherSeeds(t *testing.T) {
	if testing.Short() {
		t.Skip("forty inferences; the full tests run them")
	}
	each(t, otherSeeds)
}

func otherSeeds(t *testing.T, id string) {
	w, data := stored(t, id)
	shelf, err := job.Library()
	if err != nil {
		t.Fatal(err)
	}
	p, err := advice.Prepare(w.model.Sys, shelf.PracticeOf(w.model.Sys), shelf.Catalogue, advice.DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	const seeds, bar = 10, 8
	for k, s := range storiesOf(id) {
		if len(s.Faults) > 1 {
			continue
		}
		right, tried, said := 0, 0, []string{}
		for open := true; open && tried < seeds; tried++ {
			page, err := w.render(data, k, s, uint64(101+tried))
			if err != nil {
				t.Fatal(err)
			}
			first, ok := judge(t, p, shelf, s, page)
			if ok {
				right++
			} else {
				said = append(said, first)
			}
			open = sample.All() || len(said) > 0 && len(said) <= seeds-bar && right < bar
		}
		t.Logf("%s: %d of %d", s.File, right, tried)
		if len(said) > seeds-bar {
			t.Errorf("%s: right in %d of %d; instead %s", s.File, right, tried, strings.Join(said, ", "))
		}
	}
}

// judge diagnoses a rendered job: its first suspect, and whether it is the
// story's with more than 0.8.
func judge(t *testing.T, p *advice.Prepared, shelf job.Shelf, s story, text string) (string, bool) {
	t.Helper()
	j, err := job.Read(s.File, []byte(text), shelf)
	if err != nil {
		t.Fatal(err)
	}
	d, err := p.Shared(j.Complaint.Kind)
	if err != nil {
		t.Fatal(err)
	}
	b, err := d.Infer(context.Background(), j.Readings, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Faults) == 0 {
		return "an alternator", soundEnough(b.Suspects(p.Groups()))
	}
	first := b.Suspects(p.Groups())[0]
	ok := first.Probability > 0.8
	named := false
	for _, f := range first.Faults {
		named = named || slices.Equal(strings.Split(f.Fault, "+"), []string{s.Faults[0].ID})
	}
	return first.ID, ok && named
}

// soundEnough judges a story in which nothing is wrong: no cure of an alternator has as
// much as a third. That nothing is wrong is seldom sure: much comes and goes.
func soundEnough(list []diagnosis.Suspect) bool {
	for _, x := range list {
		if strings.HasPrefix(x.Repair, "exchange-") && x.Probability > 1.0/3 {
			return false
		}
	}
	return true
}
