package web

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/system"
)

// library is every system that a job may be opened on: those that are shipped,
// and those that the workshop keeps. A job stays on the bytes that it was opened
// with, whatever the library says later.
type library struct {
	s  *Server
	mu sync.Mutex
	by map[string]*kept // by the hash of its bytes
}

// kept is a system with what its jobs share.
type kept struct {
	system  *system.System
	shipped bool
	made    func() (*advice.Prepared, error)
}

func (k *kept) prepare() (*advice.Prepared, error) { return k.made() }

func newLibrary(s *Server) *library { return &library{s: s, by: map[string]*kept{}} }

func (l *library) remember(sys *system.System, shipped bool) *kept {
	l.mu.Lock()
	defer l.mu.Unlock()
	sum := journal.Sum(sys.SHA256).String()
	if k := l.by[sum]; k != nil {
		return k
	}
	shelf := l.s.Shelf
	k := &kept{system: sys, shipped: shipped, made: sync.OnceValues(func() (*advice.Prepared, error) {
		return advice.Prepare(sys, shelf.PracticeOf(sys), shelf.Catalogue, advice.DefaultSettings())
	})}
	l.by[sum] = k
	return k
}

// ready takes over a system that is prepared.
func (l *library) ready(p *advice.Prepared) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.by[journal.Sum(p.System.SHA256).String()] = &kept{system: p.System, shipped: true, made: func() (*advice.Prepared, error) { return p, nil }}
}

// shelf is what a job on a system may speak of.
func (l *library) shelf(sys *system.System) job.Shelf {
	out := l.s.Shelf
	out.System = func(string) (*system.System, error) { return sys, nil }
	return out
}

// pinned is the system of the bytes that an opening names.
func (l *library) pinned(ctx context.Context, name, sum string) (*kept, error) {
	l.mu.Lock()
	k := l.by[sum]
	l.mu.Unlock()
	if k != nil {
		return k, nil
	}
	parsed, err := journal.ParseSum(sum)
	if err != nil {
		return nil, err
	}
	data, err := l.s.Journal.Content(ctx, parsed)
	if err != nil {
		return nil, err
	}
	sys, err := system.Parse(name+".yaml", data)
	if err != nil {
		return nil, fmt.Errorf("the system that the job was opened on cannot be read by this program: %w", err)
	}
	return l.remember(sys, false), nil
}

// Events of the workshop's own systems.
const (
	systemsStream          = journal.Systems
	systemKept    job.Kind = "system"
)

// systemBody says that the workshop keeps a system under its id from now on.
type systemBody struct {
	ID     string `json:"id"`
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
}

// shipped are the systems of the program, read once: nobody here changes one.
var shipped = sync.OnceValues(func() (out []*system.System, err error) {
	for _, id := range system.Library() {
		sys, err := system.ByID(id)
		if err != nil {
			return nil, err
		}
		out = append(out, sys)
	}
	return out, nil
})

// list is every system by id: a workshop's own in place of a shipped one of the
// same id.
func (l *library) list(ctx context.Context) ([]*kept, int, error) {
	by := map[string]*kept{}
	all, err := shipped()
	if err != nil {
		return nil, 0, err
	}
	for _, sys := range all {
		by[sys.ID] = l.remember(sys, true)
	}
	events, err := l.s.Journal.Read(ctx, systemsStream, 0)
	if err != nil {
		return nil, 0, err
	}
	for _, e := range events {
		var b systemBody
		if err := json.Unmarshal(e.Body, &b); err != nil {
			return nil, 0, fmt.Errorf("event %d of the systems: %w", e.Seq, err)
		}
		if e.Kind != systemKept || e.V != 1 {
			return nil, 0, fmt.Errorf("event %d of the systems is of a newer program: %s, version %d", e.Seq, e.Kind, e.V)
		}
		k, err := l.pinned(ctx, b.ID, b.SHA256)
		if err != nil {
			return nil, 0, err
		}
		by[b.ID] = k
	}
	var out []*kept
	for _, k := range by {
		out = append(out, k)
	}
	slices.SortFunc(out, func(a, b *kept) int {
		if a.system.Name < b.system.Name {
			return -1
		}
		return 1
	})
	return out, len(events), nil
}

var errNoSystem = errors.New("there is no such system")

func (l *library) find(ctx context.Context, id string) (*kept, error) {
	all, _, err := l.list(ctx)
	if err != nil {
		return nil, err
	}
	for _, k := range all {
		if k.system.ID == id {
			return k, nil
		}
	}
	return nil, errNoSystem
}

// keep writes a system down for good and makes it the one of its id.
func (l *library) keep(ctx context.Context, sys *system.System, eventID, device, person string, seen int) error {
	sum := journal.Sum(sha256.Sum256(sys.Source))
	if err := l.s.Journal.Keep(ctx, sum, sys.Source); err != nil {
		return err
	}
	body, err := json.Marshal(systemBody{ID: sys.ID, Name: sys.Name, SHA256: sum.String()})
	if err != nil {
		return err
	}
	_, err = l.s.Journal.Append(ctx, systemsStream, seen, []job.Event{{
		ID: eventID, Kind: systemKept, V: 1, Body: body, Device: device, Person: person, Engine: l.s.Version,
	}})
	return err
}
