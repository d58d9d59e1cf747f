package rig

import "sync"

// Table keeps the ways to the hook-ups that a planner wants, so that its inner
// loops do not search. It fills as it is asked and may be shared by goroutines.
type Table struct {
	rig     *Rig
	targets []Target

	mu   sync.RWMutex
	ways map[wayKey]way
}

type wayKey struct {
	from State
	to   int
}

type way struct {
	plan Plan
	err  error
}

// NewTable makes an empty table for the targets, which are then spoken of by
// their index.
func (r *Rig) NewTable(targets []Target) *Table {
	return &Table{rig: r, targets: targets, ways: map[wayKey]way{}}
}

// Len is the number of targets.
func (t *Table) Len() int { return len(t.targets) }

// To is Path to a target, remembered. The plan's steps are shared: do not
// change them.
func (t *Table) To(from State, target int) (Plan, error) {
	key := wayKey{from, target}
	t.mu.RLock()
	w, ok := t.ways[key]
	t.mu.RUnlock()
	if !ok {
		w.plan, w.err = t.rig.Path(from, t.targets[target])
		t.mu.Lock()
		t.ways[key] = w
		t.mu.Unlock()
	}
	return w.plan, w.err
}
