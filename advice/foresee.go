package advice

import (
	"slices"
	"sync"

	"chargewright/diagnosis"
	"chargewright/planning"
	"chargewright/rig"
)

// foresight remembers what a belief says that procedures would read: each page of
// a step wants it, and a ticked line changes nothing about it.
type foresight struct {
	mu sync.Mutex
	by map[foreseenAt]*foreseen
}

// foreseenAt is what a prediction of one belief on one day hangs on.
type foreseenAt struct {
	procedure string
	rig       rig.State
}

// foreseen is what one procedure would read.
type foreseen struct {
	once   sync.Once
	expect []Expect
	warn   []string
	strips []Strip
	looks  []Class
	err    error
}

func (f *foresight) at(where foreseenAt) *foreseen {
	f.mu.Lock()
	defer f.mu.Unlock()
	x := f.by[where]
	if x == nil {
		x = &foreseen{}
		f.by[where] = x
	}
	return x
}

// foresee fills in what a step would read under each leading suspect. At a job's
// own desk a procedure is worked out once a hook-up.
func (d *Desk) foresee(out *Step, b *diagnosis.Belief, s planning.Step) error {
	if d.foresight == nil || s.Procedure.ID == "" { // a free reading is asked once
		return d.expect(out, b, s)
	}
	x := d.foresight.at(foreseenAt{s.Procedure.ID, s.Question.Setup.Rig})
	x.once.Do(func() {
		alone := Step{Expect: out.Expect, Warn: out.Warn}
		x.err = d.expect(&alone, b, s)
		x.expect, x.warn, x.strips, x.looks = alone.Expect, alone.Warn, alone.Strips, alone.Looks
	})
	out.Expect, out.Warn, out.Strips, out.Looks = slices.Clip(x.expect), slices.Clip(x.warn), x.strips, x.looks
	return x.err
}
