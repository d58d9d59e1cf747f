package journal

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"chargewright/internal/pgtest"
	"chargewright/internal/storetest"
	"chargewright/job"
	"chargewright/store"
)

// large is a workshop of many jobs, three events each, and 700 customers.
func large(t testing.TB, jobs int) (*Store, *store.DB) {
	t.Helper()
	s, db := unsynced(t, storetest.SQLite)
	for i := range jobs {
		stream := fmt.Sprintf("job-%d", i)
		events := []job.Event{opening(t, stream, job.OpenedBody{Job: stream, Customer: fmt.Sprintf("c%d", i%700)})}
		must(t)(s.Append(context.Background(), stream, 0, append(events, reading(stream+"-r"), repair(stream+"-x", "yes"))))
	}
	for i := range 700 {
		if err := s.SetCustomer(context.Background(), Customer{ID: fmt.Sprintf("c%d", i), Name: fmt.Sprintf("Customer %d", i), Plate: fmt.Sprintf("XX %03d", i)}); err != nil {
			t.Fatal(err)
		}
	}
	return s, db
}

// lookAt are the pages of the list that people ask for, with how many lines
// 5,000 jobs give.
var lookAt = []struct {
	name string
	Query
	want int
}{
	{"first page", Query{}, 50},
	{"first page of open jobs", Query{Open: true}, 50},
	{"page in the middle", Query{Before: 8000}, 50},
	{"search for a plate", Query{Text: "xx 005"}, 8},
	{"search in vain", Query{Text: "nobody"}, 0},
}

// TestPagesComeInOrder: a page is read off an index in the order that it shows,
// and nothing is sorted: of 5,000 jobs the first page is as much work as of
// fifty. Looked at is the very statement that Jobs sends.
func TestPagesComeInOrder(t *testing.T) {
	_, db := unsynced(t, storetest.SQLite)
	for _, c := range lookAt {
		plan := planOf(t, db, c.Query)
		if !strings.Contains(plan, "USING INDEX line_page") || strings.Contains(plan, "TEMP B-TREE") || strings.Contains(plan, "SCAN e") {
			t.Errorf("%s: the plan is %q; want the order from index line_page and no sorting", c.name, plan)
		}
	}
}

func planOf(t *testing.T, db *store.DB, q Query) string {
	t.Helper()
	q.Limit = 50
	where, args := q.where()
	return explain(t, db, listQuery+where, args...)
}

// BenchmarkList measures what a page may not take more than 0.3 s of.
func BenchmarkList(b *testing.B) {
	s, _ := large(b, 5000)
	for _, c := range lookAt {
		b.Run(strings.ReplaceAll(c.name, " ", "-"), func(b *testing.B) {
			for b.Loop() {
				if lines, _ := jobs(b, s, c.Query); len(lines) != c.want {
					b.Fatalf("%d lines, want %d", len(lines), c.want)
				}
			}
		})
	}
}

func explain(t *testing.T, db *store.DB, statement string, args ...any) string {
	t.Helper()
	var plan []string
	err := db.Read(t.Context(), func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+statement, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var a, b, c int
			var what string
			if err := rows.Scan(&a, &b, &c, &what); err != nil {
				return err
			}
			plan = append(plan, what)
		}
		return rows.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(plan, "; ")
}

// BenchmarkAppend measures one event with its sync, of one device and of eight
// at once, on both databases as they are run.
func BenchmarkAppend(b *testing.B) {
	server := pgtest.Start(b, pgtest.Lasting)
	for name, place := range map[string]string{"sqlite": b.TempDir(), "postgres": server.Address("shop")} {
		db, err := store.Open(context.Background(), place)
		if err != nil {
			b.Fatal(err)
		}
		defer db.Close()
		s, err := Open(context.Background(), db, time.Now)
		if err != nil {
			b.Fatal(err)
		}
		n := new(atomic.Int64)
		one := func(b *testing.B) {
			stream := fmt.Sprint("job-", n.Add(1)) // each its own: the length of a job is not measured
			if _, err := s.Append(context.Background(), stream, 0, []job.Event{reading(stream)}); err != nil {
				b.Error(err)
			}
		}
		b.Run(name+"/1", func(b *testing.B) {
			for b.Loop() {
				one(b)
			}
		})
		b.Run(name+"/8", func(b *testing.B) {
			b.SetParallelism(4) // of two cores
			b.RunParallel(func(p *testing.PB) {
				for p.Next() {
					one(b)
				}
			})
		})
	}
}
