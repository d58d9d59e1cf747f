package web

import (
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// order runs pieces that all come while two others are done, and says in what order
// they were begun. A name with a star is a plan.
func order(t *testing.T, q *queue, come func(add func(name string, u urgency))) string {
	t.Helper()
	var mu sync.Mutex
	var got []string
	var all sync.WaitGroup
	var over []chan struct{}
	for range mostAtOnce {
		o := make(chan struct{})
		over = append(over, o)
		all.Go(func() { q.do(waiting, false, "", func() { <-o }) })
	}
	synctest.Wait()
	come(func(name string, u urgency) {
		all.Go(func() {
			q.do(u, strings.HasSuffix(name, "*"), name, func() {
				mu.Lock()
				got = append(got, name)
				mu.Unlock()
				time.Sleep(time.Millisecond)
			})
		})
		synctest.Wait()
	})
	// One place after the other becomes free, or two pieces would begin at once and race
	// to say so. What waits for an idle engine begins with the second.
	for _, o := range over {
		close(o)
		time.Sleep(100 * time.Millisecond)
	}
	all.Wait()
	if q.running != 0 || q.plans != 0 || len(q.waits) != 0 {
		t.Errorf("%d run, %d plans, %d wait after all", q.running, q.plans, len(q.waits))
	}
	return strings.Join(got, " ")
}

// occupied has the engine make a plan for somebody until over is called: others' plans wait.
func (s *shop) occupied() (over func()) {
	begun, done := make(chan struct{}), make(chan struct{})
	go s.engine.do(entered, true, "somebody", func() { close(begun); <-done })
	<-begun
	return sync.OnceFunc(func() { close(done) })
}

// overwhelmed has the engine work for others until over is called: everybody waits.
func (s *Server) overwhelmed() (over func()) {
	done := make(chan struct{})
	for range mostAtOnce {
		begun := make(chan struct{})
		go s.engine.do(entered, false, "somebody", func() { close(begun); <-done })
		<-begun
	}
	return sync.OnceFunc(func() { close(done) })
}

// TestUrgentFirst: the update of a reading that was entered goes before pages, those
// before looks and those before what nobody waits for; of one urgency, whoever came
// first.
func TestUrgentFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got := order(t, &queue{}, func(add func(string, urgency)) {
			add("ahead*", nobody)
			add("look", looking)
			add("page", waiting)
			add("page2", waiting)
			add("read", entered)
		})
		if got != "read page page2 look ahead*" {
			t.Errorf("the order is %s", got)
		}
	})
}

// TestSomebodyHurries: what waits for its turn takes over the urgency of whoever waits
// for it now.
func TestSomebodyHurries(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := &queue{}
		got := order(t, q, func(add func(string, urgency)) {
			add("page", waiting)
			add("look", looking)
			q.hurry("look", entered)
			q.hurry("page", looking) // never less
		})
		if got != "look page" {
			t.Errorf("the order is %s", got)
		}
	})
}

// TestNothingStarves: what was overtaken for seconds goes before what has just come.
func TestNothingStarves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got := order(t, &queue{}, func(add func(string, urgency)) {
			add("ahead*", nobody)
			time.Sleep(4 * patienceOfAll)
			add("read", entered)
		})
		if got != "ahead* read" {
			t.Errorf("the order is %s", got)
		}
	})
}

// TestRoomForAReading: of two plans one waits, so that a reading finds room; and never
// more than two pieces are done at once.
func TestRoomForAReading(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := &queue{}
		var mu sync.Mutex
		running, most := map[string]int{}, map[string]int{}
		piece := func(kind string) func() {
			return func() {
				mu.Lock()
				running[kind]++
				running["all"]++
				for k, n := range running {
					most[k] = max(most[k], n)
				}
				mu.Unlock()
				time.Sleep(time.Second)
				mu.Lock()
				running[kind]--
				running["all"]--
				mu.Unlock()
			}
		}
		var all sync.WaitGroup
		for range 3 {
			all.Go(func() { q.do(waiting, true, "", piece("plan")) })
			synctest.Wait()
		}
		for range 3 {
			all.Go(func() { q.do(looking, false, "", piece("update")) })
			synctest.Wait()
		}
		began := time.Now()
		q.do(entered, false, "", func() {})
		if waited := time.Since(began); waited > time.Second { // closed form: one piece of a second is done on the second place
			t.Errorf("a reading waited %v", waited)
		}
		all.Wait()
		if want := map[string]int{"plan": plansAtOnce, "update": mostAtOnce, "all": mostAtOnce}; most["plan"] != want["plan"] || most["all"] != want["all"] || most["update"] > want["update"] {
			t.Errorf("at once %v, want %v", most, want)
		}
	})
}

// TestAPieceThatBreaksOffMakesRoom: a panic in one is not the end of the queue.
func TestAPieceThatBreaksOffMakesRoom(t *testing.T) {
	q := &queue{}
	for range 2 * mostAtOnce {
		func() {
			defer func() { _ = recover() }() // as the server does
			q.do(waiting, true, "", func() { panic("broken") })
		}()
	}
	done := false
	q.do(nobody, true, "", func() { done = true })
	if !done || q.running != 0 || q.plans != 0 {
		t.Errorf("done %t, %d run", done, q.running)
	}
}
