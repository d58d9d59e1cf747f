package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/meter"
	"chargewright/question"
	"chargewright/web/page"
)

// instrumentChanged is the kind of event of the workshop's list of instruments:
// one of them as it is from then on. Nothing is taken out of the list.
const instrumentChanged job.Kind = "instrument"

// instrumentBody is an instrument of the workshop from an event on.
type instrumentBody struct {
	job.InstrumentBody
	Withdrawn bool   `json:"withdrawn,omitempty"` // not read with any more
	Why       string `json:"why,omitempty"`
}

// owned is an instrument with its history.
type owned struct {
	instrumentBody
	history []job.Event
}

var errNoInstrument = errors.New("there is no such instrument")

// instruments are those of the workshop, by name; seen is the last event of the
// list.
func (s *Server) instruments(ctx context.Context) (list []*owned, seen int, err error) {
	events, err := s.Journal.Read(ctx, journal.Instruments, 0)
	if err != nil {
		return nil, 0, err
	}
	by := map[string]*owned{}
	for _, e := range events {
		var b instrumentBody
		if err := json.Unmarshal(e.Body, &b); err != nil || e.Kind != instrumentChanged || e.V != 1 {
			return nil, 0, fmt.Errorf("event %d of the instruments is of a newer program: %s, version %d (%w)", e.Seq, e.Kind, e.V, err)
		}
		x := by[b.ID]
		if x == nil {
			x = &owned{}
			by[b.ID] = x
			list = append(list, x)
		}
		x.instrumentBody, x.history = b, append(x.history, e)
	}
	slices.SortStableFunc(list, func(a, b *owned) int {
		return strings.Compare(a.Meter+"\n"+strings.ToLower(a.Name), b.Meter+"\n"+strings.ToLower(b.Name))
	})
	return list, len(events), nil
}

func (s *Server) instrument(ctx context.Context, id string) (*owned, int, error) {
	list, seen, err := s.instruments(ctx)
	if err != nil {
		return nil, 0, err
	}
	for _, x := range list {
		if x.ID == id {
			return x, seen, nil
		}
	}
	return nil, seen, errNoInstrument
}

// dueSoon is how long before its day a calibration is called for (common
// practice: time to send it away).
const dueSoon = 30 * 24 * time.Hour

// calibrationWords say how an instrument's calibration stands on a day, and
// whether it wants looking after.
func calibrationWords(b job.InstrumentBody, now time.Time) (words string, wanting bool) {
	at, err := time.Parse(time.DateOnly, b.Calibrated)
	if err != nil {
		return "Calibration not known", true
	}
	words = "Calibrated " + at.Format(dayFormat)
	due, err := time.Parse(time.DateOnly, b.Due)
	if err != nil {
		return words + ", no day given for the next", false
	}
	today, _ := time.Parse(time.DateOnly, now.Format(time.DateOnly)) // what was formatted so can be read so
	left := due.Sub(today)
	n := plural(int(max(left, -left)/(24*time.Hour)), "day", "days")
	switch {
	case left < 0:
		return words + ". Overdue by " + n + ", since " + due.Format(dayFormat), true
	case left == 0:
		return words + ". Due today", true
	case left <= dueSoon:
		return words + ". Due in " + n + ", on " + due.Format(dayFormat), true
	}
	return words + ", due " + due.Format(dayFormat), false
}

func meterKind(id string) string {
	in, ok := meter.Find(id)
	if !ok {
		return id
	}
	return advice.Capital(in.Name)
}

func (s *Server) instrumentsPage(w http.ResponseWriter, r *http.Request) {
	list, _, err := s.instruments(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	v := page.Instruments{Shell: s.shell(r, "Instruments")}
	chosen := chosenHere(r)
	for _, x := range list {
		l := page.InstrumentLine{ID: x.ID, To: "/instruments/" + x.ID, Name: x.Words(), Kind: meterKind(x.Meter)}
		l.Calibration, l.Wanting = calibrationWords(x.InstrumentBody, s.Now())
		if x.Withdrawn {
			l.Calibration, l.Wanting = strings.TrimSpace("Withdrawn. "+x.Why), false
			v.Withdrawn = append(v.Withdrawn, l)
			continue
		}
		v.List = append(v.List, l)
		if l.Wanting {
			v.Wanting++
		}
		i := slices.IndexFunc(v.Here, func(c page.HereChoice) bool { return c.Meter == x.Meter })
		if i < 0 {
			i = len(v.Here)
			v.Here = append(v.Here, page.HereChoice{Meter: x.Meter, Kind: l.Kind})
		}
		v.Here[i].Choices = append(v.Here[i].Choices, page.Choice{ID: x.ID, Text: x.Words(), On: slices.Contains(chosen, x.ID)})
	}
	for _, in := range meter.Catalogue() {
		v.Kinds = append(v.Kinds, page.Link{Text: advice.Capital(in.Name), To: "/instruments/new?meter=" + in.ID})
	}
	s.show(w, r, http.StatusOK, page.InstrumentsPage(v))
}

// A device remembers which instruments lie beside it.
const instrumentsCookie = "chargewright-instruments"

func chosenHere(r *http.Request) []string {
	return strings.FieldsFunc(cookie(r, instrumentsCookie), func(c rune) bool { return c == '.' })
}

// instrumentsHere keeps which instruments a device's readings are taken with.
func (s *Server) instrumentsHere(w http.ResponseWriter, r *http.Request) {
	list, _, err := s.instruments(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	var ids []string
	for _, x := range list {
		if !x.Withdrawn && r.FormValue("here-"+x.Meter) == x.ID {
			ids = append(ids, x.ID)
		}
	}
	s.setCookie(w, instrumentsCookie, strings.Join(ids, "."), year)
	http.Redirect(w, r, "/instruments", http.StatusSeeOther)
}

// instrumentsOf are the instruments that a reading is taken with: for each meter
// that it asks for the one that the form names, else the one that this device has
// chosen, else the only one there is. Where there are several and none is chosen
// it is not said.
func (s *Server) instrumentsOf(r *http.Request, seek []question.Observable) ([]job.InstrumentBody, error) {
	list, _, err := s.instruments(r.Context())
	if err != nil {
		return nil, err
	}
	chosen := chosenHere(r)
	if named, in := r.Form["with"]; in {
		chosen = strings.Fields(strings.Join(named, " "))
	}
	var out []job.InstrumentBody
	var done []string
	for _, o := range seek {
		if o.Meter == "" || o.Kind == question.Look || slices.Contains(done, o.Meter) {
			continue
		}
		done = append(done, o.Meter)
		var there, picked []job.InstrumentBody
		for _, x := range list {
			if x.Meter != o.Meter || x.Withdrawn {
				continue
			}
			there = append(there, x.InstrumentBody)
			if slices.Contains(chosen, x.ID) {
				picked = append(picked, x.InstrumentBody)
			}
		}
		switch {
		case len(picked) == 1:
			out = append(out, picked[0])
		case len(there) == 1:
			out = append(out, there[0])
		}
	}
	return out, nil
}

// withWords says on the form of a reading which instruments it is taken with, and
// what their calibration wants.
func (s *Server) withWords(r *http.Request, e *entry) {
	list, _, err := s.instruments(r.Context())
	if err != nil {
		s.Log.Error("the instruments cannot be listed", "why", err)
		return
	}
	if len(list) == 0 {
		return
	}
	with, err := s.instrumentsOf(r, e.seek)
	if err != nil {
		return // said above
	}
	for _, b := range with {
		e.With = append(e.With, b.ID)
		say := b.Words()
		if words, wanting := calibrationWords(b, s.Now()); wanting {
			say += " (" + words + ")"
		}
		e.WithWords = append(e.WithWords, say)
	}
	for _, o := range e.seek {
		known := slices.ContainsFunc(with, func(b job.InstrumentBody) bool { return b.Meter == o.Meter })
		say := meterKind(o.Meter) + ": which one is not said"
		if known || o.Kind == question.Look || slices.Contains(e.WithWords, say) || !slices.ContainsFunc(list, func(x *owned) bool { return x.Meter == o.Meter && !x.Withdrawn }) {
			continue
		}
		e.WithWords = append(e.WithWords, say)
	}
}
