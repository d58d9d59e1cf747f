package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"chargewright/job"
	"chargewright/journal"
	"chargewright/store"
)

// quantile is the value that so many of a hundred do not pass.
func quantile(list []time.Duration, percent int) time.Duration {
	if len(list) == 0 {
		return 0
	}
	return list[(len(list)*percent+99)/100-1] // nearest rank
}

func ms(d time.Duration) string { return fmt.Sprintf("%.0f", float64(d.Microseconds())/1000) }

// report says what was measured, and holds the journal against what was
// acknowledged.
func (w *workshop) report(ctx context.Context) error {
	wall := w.after.at.Sub(w.before.at)
	share := func(d time.Duration) string { return fmt.Sprintf("%.2f", d.Seconds()/wall.Seconds()) }
	load := loadNow()
	memory := peak(w.p.cmd.Process.Pid)
	fmt.Printf("%s; %d technicians, a reading every %v each, %v, %d jobs; open loop, seed %d; systems %s\n\n", w.p.kind, w.technicians, w.every, w.lasts, w.jobs(), w.seed, strings.Join(w.ids(), ", "))
	fmt.Println("| from when it was due, ms | n | p50 | p95 | p99 | most |\n|---|---|---|---|---|---|")
	for _, what := range slices.Sorted(maps.Keys(w.took)) {
		list := w.took[what]
		slices.Sort(list)
		fmt.Printf("| %s | %d | %s | %s | %s | %s |\n", what, len(list), ms(quantile(list, 50)), ms(quantile(list, 95)), ms(quantile(list, 99)), ms(list[len(list)-1]))
	}
	wrong := 0
	for _, why := range slices.Sorted(maps.Keys(w.wrong)) {
		fmt.Printf("\nwent wrong %d times: %s", w.wrong[why], why)
		wrong += w.wrong[why]
	}
	p99 := quantile(w.took[answered], 99)
	fmt.Printf("\n\n%s, p99: %s ms (bar 300): %s\nwent wrong: %d (bar 0): %s\nfirst load: %d bytes on the wire (bar 150000): %s\n", answered, ms(p99), verdict(p99 < 300*time.Millisecond, load),
		wrong, verdict(wrong == 0, 0), w.weight, verdict(w.weight < 150_000, 0))
	fmt.Printf("server: %s of a core, %s at most", share(w.after.server-w.before.server), memory)
	if w.p.pg != nil {
		fmt.Printf("; PostgreSQL: %s of a core", share(w.after.base-w.before.base))
	}
	fmt.Printf("; generator: %s of a core; load average %s before, %s after\n", share(w.after.own-w.before.own), w.before.load, w.after.load)
	return w.holds(ctx)
}

// jobs counts the jobs that were opened.
func (w *workshop) jobs() int { return len(w.took["a job is opened and shown"]) }

// holds looks each acknowledged reading up in the journal, and each reading of the
// journal among those that were sent.
func (w *workshop) holds(ctx context.Context) error {
	if err := w.p.stop(); err != nil {
		return err
	}
	db, err := store.OpenRead(ctx, w.p.database)
	if err != nil {
		return err
	}
	defer func() { _ = db.Close() }() // it was only read
	book := journal.OpenRead(db)
	jobs := map[string]bool{}
	for _, j := range w.acked {
		jobs[j] = true
	}
	lost, doubled, foreign := maps.Clone(w.acked), 0, 0
	for j := range jobs {
		events, err := book.Read(ctx, strings.TrimPrefix(j, "/jobs/"), 0)
		if err != nil {
			return err
		}
		seen := map[string]bool{}
		for _, e := range events {
			if e.Kind != job.Took {
				continue
			}
			var b job.ReadingBody
			if err := json.Unmarshal(e.Body, &b); err != nil {
				return err
			}
			same := string(e.Body[strings.IndexByte(string(e.Body), ','):]) + e.At.String() // all but its number
			if seen[e.ID] || seen[same] {
				doubled++
			}
			seen[e.ID], seen[same] = true, true
			if !w.sent[e.ID] {
				foreign++
			}
			delete(lost, e.ID)
		}
	}
	r, err := book.Verify(ctx, journal.Sum{})
	if err != nil {
		return err
	}
	fmt.Printf("the journal: %d readings acknowledged, %d of them lost, %d doubled, %d that nobody sent; chain of %d events with %d breaks\n", len(w.acked), len(lost), doubled, foreign, r.Head.Events, len(r.Breaks))
	if len(lost)+doubled+foreign+len(r.Breaks) > 0 {
		return fmt.Errorf("the journal does not hold what was acknowledged")
	}
	return nil
}
