package job

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"strconv"
	"sync"
	"time"

	"chargewright/internal/yamlread"
	"chargewright/meter"
	"chargewright/problem"
	"chargewright/question"
	"chargewright/system"
	"chargewright/unit"
)

// FileFormat is the newest job-file format that is read. All older ones are.
const FileFormat = 1

// Shelf is what a job may speak of.
type Shelf struct {
	System    func(name string) (*system.System, error) // by id or path
	Catalogue question.Catalogue
	Practice  *system.Practice // nil: repairs are not checked
	// Own are the practice figures of arrangements that have rates of their own,
	// by the id of the system, each read when a job is on that system.
	Own map[string]func() *system.Practice
}

// PracticeOf is the practice figures for a system; nil when there are none.
func (s Shelf) PracticeOf(sys *system.System) *system.Practice {
	if own := s.Own[sys.Arrangement]; own != nil {
		return own()
	}
	return s.Practice
}

// Library is the shelf of what is shipped. Systems are found by id only.
func Library() (Shelf, error) {
	c, err := question.Library()
	if err != nil {
		return Shelf{}, err
	}
	s := Shelf{System: system.ByID, Catalogue: c, Own: map[string]func() *system.Practice{}}
	if s.Practice, err = system.DefaultPractice(); err != nil {
		return Shelf{}, err
	}
	for _, id := range system.OwnPractice() {
		s.Own[id] = sync.OnceValue(func() *system.Practice {
			p, err := system.PracticeFor(id)
			if err != nil {
				panic(err) // it is shipped, and the library's tests read every one
			}
			return p
		})
	}
	return s, nil
}

// Read reads a job file and folds it. The error is a problem.List with every
// problem in the file.
func Read(file string, data []byte, shelf Shelf) (*Job, error) {
	events, err := Parse(file, data, shelf)
	if err != nil {
		return nil, err
	}
	return Fold(events, shelf)
}

// Parse reads a job file into events. Only format and system must stand there.
// What else is left out is not guessed here: the fold says what it takes for
// granted in Job.Assumed. The error is a problem.List with every
// problem in the file.
func Parse(file string, data []byte, shelf Shelf) ([]Event, error) {
	f, top := yamlread.Open(file, data)
	r := &fileReader{f: f, shelf: shelf, readings: map[string][]want{}, ids: map[string]yamlread.Pos{}}
	m := top.Map("job")
	r.opening(m)
	if r.s != nil {
		r.log(m)
	} else {
		m.May("log")
		m.May("readings")
	}
	m.Done()
	if err := f.Err(); err != nil {
		return nil, err
	}
	return r.events, nil
}

// fileReader turns one job file into events.
type fileReader struct {
	f     *yamlread.File
	shelf Shelf
	s     *system.System

	events   []Event
	ids      map[string]yamlread.Pos // readings and repairs
	order    []string                // ids of readings, as they came
	readings map[string][]want       // what the values of a reading must be
	taken    int                     // readings so far
	mended   int                     // repairs so far
}

// record appends an event. Bodies hold only text, finite numbers and lists of
// them, which always encode.
func (r *fileReader) record(kind Kind, body any) {
	bytes, err := json.Marshal(body)
	if err != nil {
		r.f.Add(yamlread.Pos{}, "cannot be recorded: "+err.Error(), "plain numbers and words")
		return
	}
	n := len(r.events) + 1
	r.events = append(r.events, Event{ID: "e" + strconv.Itoa(n), Seq: n, Kind: kind, V: bodyFormat, Body: bytes})
}

func (r *fileReader) opening(m *yamlread.Map) {
	b := OpenedBody{}
	system.ReadFormat(m, FileFormat)
	b.Job = m.May("id").Text()
	name := m.Need("system", "the id of a system, such as isolated-earth-side, or a path to a system file")
	b.System = name.Text()
	if b.System != "" {
		s, err := r.shelf.System(b.System)
		switch {
		case err != nil:
			what, instead := refused(b.System, err)
			name.Add(what, instead)
		default:
			r.s, b.SHA256 = s, hex.EncodeToString(s.SHA256[:])
		}
	}
	b.Vehicle = r.vehicle(m.May("vehicle").Map("vehicle"))
	b.Opened = readTime(m.May("opened"))
	b.Complaint = r.complaint(m.May("complaint").Map("complaint"))
	b.Conditions = r.conditions(m.May("conditions").Map("conditions"))
	known := instruments()
	for _, n := range m.May("meters").List() {
		if id := n.OneOf(known...); id != "" {
			b.Meters = append(b.Meters, id)
		}
	}
	r.record(Opened, b)
}

// refused is what is said of a system that cannot be had, and what to write
// instead: the shelf's own words where it knows none of that name.
func refused(id string, err error) (what, instead string) {
	what, instead = "system "+id+": ", yamlread.Suggest(id, system.Library())
	var list problem.List
	switch errors.As(err, &list); {
	case len(list) == 0:
		return what + err.Error(), instead
	case len(list) > 1:
		return what + strconv.Itoa(len(list)) + " problems in its file, the first: " + list[0].String(), ""
	case list[0].File == "" && list[0].Line == 0:
		return list[0].What, list[0].Instead
	}
	return what + "a problem in its file: " + list[0].String(), ""
}

func instruments() []string {
	var out []string
	for _, x := range meter.Catalogue() {
		out = append(out, x.ID)
	}
	return out
}

func (r *fileReader) vehicle(m *yamlread.Map) Vehicle {
	var v Vehicle
	volts := m.May("volts")
	v.Volts = volts.Quantity(unit.Volt, yamlread.Positive)
	if r.s != nil && v.Volts > 0 && v.Volts != r.s.Volts {
		volts.Add("the vehicle has "+unit.Format(unit.Volt, v.Volts)+" and system "+r.s.ID+" is for "+unit.Format(unit.Volt, r.s.Volts),
			"a system for that voltage")
	}
	v.Note = m.May("note").Text()
	m.Done()
	return v
}

// readTime reads a time with its offset from UTC; zero when absent.
func readTime(n yamlread.Node) time.Time {
	s := n.Text()
	if s == "" {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		n.Add(strconv.Quote(s)+" is not a time with its offset", "2026-11-25T09:10:00+00:00")
		return time.Time{}
	}
	return t
}

func (r *fileReader) complaint(m *yamlread.Map) *Complaint {
	if !m.Present() {
		return nil
	}
	c := &Complaint{Kind: m.Need("kind", "no-charge, low-charge, overcharge, flat-battery or other").OneOf(ComplaintKinds...)}
	c.Words = m.May("words").Text()
	for _, n := range m.May("when").Items() {
		w := n.OneOf(Occasions()...)
		if own, spoken := spokenOccasions[w]; spoken {
			w = own
		}
		if w != "" {
			c.When = append(c.When, w)
		}
	}
	c.Before = words(m.May("before"), BeforeWords)
	c.Noticed = words(m.May("noticed"), NoticedWords)
	c.Use = words(m.May("use"), UseWords)
	m.Done()
	return c
}

func words(n yamlread.Node, known []string) []string {
	var out []string
	for _, item := range n.Items() {
		if w := item.OneOf(known...); w != "" {
			out = append(out, w)
		}
	}
	return out
}

func (r *fileReader) conditions(m *yamlread.Map) *Conditions {
	if !m.Present() {
		return nil
	}
	// From the coldest start to a soaked bay [K]; a rotor may be hotter.
	kelvin := func(n yamlread.Node) *float64 {
		if !n.Present() {
			return nil
		}
		k := n.Quantity(unit.Kelvin, yamlread.Within(213.15, 523.15, "between -60 degC and 250 degC"))
		return &k
	}
	c := &Conditions{
		Ambient: kelvin(m.May("ambient")), Battery: kelvin(m.May("battery")),
		Regulator: kelvin(m.May("regulator")), Rotor: kelvin(m.May("rotor")),
		Hot: m.May("hot").Yes(),
	}
	m.Done()
	return c
}
