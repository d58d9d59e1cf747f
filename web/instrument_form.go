package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"chargewright/advice"
	"chargewright/job"
	"chargewright/journal"
	"chargewright/meter"
	"chargewright/web/page"
)

func (s *Server) newInstrumentPage(w http.ResponseWriter, r *http.Request) {
	_, seen, err := s.instruments(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	in, ok := meter.Find(r.FormValue("meter"))
	if !ok {
		s.noInstrument(w, r)
		return
	}
	s.showInstrumentForm(w, r, http.StatusOK, page.InstrumentForm{Hidden: s.hidden(seen), To: "/instruments", Meter: in.ID}, nil)
}

func (s *Server) noInstrument(w http.ResponseWriter, r *http.Request) {
	s.sorry(w, r, http.StatusNotFound, "There is no such instrument", "The address names an instrument that this workshop does not have.")
}

// quantityWords are the kinds of quantity as the form calls them.
var quantityWords = map[string]string{"volts": "DC volts", "ac-volts": "AC volts", "amps": "Current", "ohms": "Resistance", "density": "Specific gravity", "speed": "Speed"}

// showInstrumentForm shows the form of an instrument of a kind; x is one that is
// there already.
func (s *Server) showInstrumentForm(w http.ResponseWriter, r *http.Request, code int, v page.InstrumentForm, x *owned) {
	in, _ := meter.Find(v.Meter) // the callers have looked
	v.Kind, v.Usual = advice.Capital(in.Name), in.Source+" ("+in.Basis+")"
	title := "New: " + in.Name
	if x != nil {
		title = x.Words()
		v.Withdrawn, v.Why = x.Withdrawn, x.Why
		v.Calibration, v.Wanting = calibrationWords(x.InstrumentBody, s.Now())
		for _, e := range slices.Backward(x.history) {
			l, err := s.instrumentChange(r, e)
			if err != nil {
				s.broken(w, r, err)
				return
			}
			v.Changes = append(v.Changes, l)
		}
	}
	if len(v.Figures) == 0 {
		for _, kind := range in.Kinds() {
			f := page.InstrumentFigure{Kind: kind, Name: quantityWords[kind]}
			if x != nil {
				for _, own := range x.Figures {
					if own.Kind == kind {
						f.Percent, f.Counts = figure(own.Percent), figure(own.Counts)
					}
				}
			}
			v.Figures = append(v.Figures, f)
		}
	}
	v.Shell, v.Title = s.shell(r, title), title
	s.show(w, r, code, page.InstrumentPage(v))
}

func figure(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// instrumentChange is one line of an instrument's history.
func (s *Server) instrumentChange(r *http.Request, e job.Event) (page.PersonChange, error) {
	var b instrumentBody
	if err := json.Unmarshal(e.Body, &b); err != nil {
		return page.PersonChange{}, err
	}
	by, err := s.personName(r, e.Person)
	words, _ := calibrationWords(b.InstrumentBody, e.Recorded)
	what := b.Words() + ". " + words + "."
	if len(b.Figures) > 0 {
		what += " With figures of its own: " + b.Source + "."
	}
	if b.Withdrawn {
		what = strings.TrimSpace("Withdrawn. " + b.Why)
	}
	return page.PersonChange{When: e.Recorded.In(s.Now().Location()).Format("2 January 2006, 15:04"), By: by, What: what}, err
}

func (s *Server) instrumentPage(w http.ResponseWriter, r *http.Request) {
	x, seen, err := s.instrument(r.Context(), r.PathValue("instrument"))
	if errors.Is(err, errNoInstrument) {
		s.noInstrument(w, r)
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	s.showInstrumentForm(w, r, http.StatusOK, page.InstrumentForm{
		Hidden: s.hidden(seen), To: "/instruments/" + x.ID, Meter: x.Meter, Name: x.Name, Serial: x.Serial, Calibrated: x.Calibrated, Due: x.Due, Source: x.Source,
	}, x)
}

// enterInstrument enters a new instrument.
func (s *Server) enterInstrument(w http.ResponseWriter, r *http.Request) { s.takeInstrument(w, r, nil) }

// changeInstrument writes down what is different about an instrument.
func (s *Server) changeInstrument(w http.ResponseWriter, r *http.Request) {
	x, _, err := s.instrument(r.Context(), r.PathValue("instrument"))
	switch {
	case errors.Is(err, errNoInstrument):
		s.noInstrument(w, r)
	case err != nil:
		s.broken(w, r, err)
	default:
		s.takeInstrument(w, r, x)
	}
}

func (s *Server) takeInstrument(w http.ResponseWriter, r *http.Request, x *owned) {
	if err := r.ParseForm(); err != nil {
		s.tooMuch(w, r)
		return
	}
	h, err := carried(r)
	if err != nil {
		s.sorry(w, r, http.StatusBadRequest, "This was not taken", advice.Sentence(err.Error()))
		return
	}
	b := instrumentBody{InstrumentBody: job.InstrumentBody{Meter: r.FormValue("meter"), ID: "i-" + h.Event}}
	to := "/instruments"
	if x != nil {
		b.Meter, b.ID, to = x.Meter, x.ID, "/instruments/"+x.ID
	}
	in, ok := meter.Find(b.Meter)
	if !ok {
		s.noInstrument(w, r)
		return
	}
	v := instrumentOf(r, in, &b)
	v.Hidden, v.To, v.Meter = h, to, b.Meter
	if r.FormValue("do") == "withdraw" {
		b, v.Problems = x.withdrawn(strings.TrimSpace(r.FormValue("why")))
		v.Why = b.Why
	}
	if len(v.Problems) > 0 {
		s.showInstrumentForm(w, r, http.StatusUnprocessableEntity, v, x)
		return
	}
	s.keepInstrument(w, r, h, b, v, x)
}

// withdrawn is an instrument that is not read with any more.
func (x *owned) withdrawn(why string) (instrumentBody, page.Problems) {
	if x == nil {
		return instrumentBody{}, page.Problems{{Text: "An instrument that is not on the list cannot be withdrawn"}}
	}
	b := x.instrumentBody
	b.Withdrawn, b.Why = true, why
	if long := tooLong(why); long != "" {
		return b, page.Problems{{Field: "why", Text: long}}
	}
	return b, nil
}

func (s *Server) keepInstrument(w http.ResponseWriter, r *http.Request, h page.Hidden, b instrumentBody, v page.InstrumentForm, x *owned) {
	e, err := s.event(r, h, instrumentChanged, b)
	if err == nil {
		_, err = s.Journal.Append(r.Context(), journal.Instruments, h.Seen, []job.Event{e})
	}
	switch {
	case errors.As(err, new(*journal.Reused)):
		s.sorry(w, r, http.StatusConflict, "This form was sent before", "It was recorded then, with something else in it. Open the instrument again and change it from there.")
	case errors.As(err, new(*journal.Moved)):
		_, seen, err := s.instruments(r.Context())
		if err != nil {
			s.broken(w, r, err)
			return
		}
		v.Hidden = s.hidden(seen)
		v.Problems = page.Problems{{Text: "Somebody else changed the list of instruments since this page was made. Look at it, then send this once more"}}
		s.showInstrumentForm(w, r, http.StatusConflict, v, x)
	case err != nil:
		s.broken(w, r, err)
	default:
		http.Redirect(w, r, "/instruments", http.StatusSeeOther)
	}
}

// instrumentOf reads the form of an instrument: everything that is wrong at once,
// each at its field.
func instrumentOf(r *http.Request, in meter.Instrument, b *instrumentBody) page.InstrumentForm {
	v := page.InstrumentForm{Name: r.FormValue("name"), Serial: r.FormValue("serial"), Calibrated: r.FormValue("calibrated"), Due: r.FormValue("due"), Source: r.FormValue("source")}
	say := func(field, text string) { v.Problems = append(v.Problems, page.Problem{Field: field, Text: text}) }
	b.Name, b.Serial, b.Source = strings.TrimSpace(v.Name), strings.TrimSpace(v.Serial), strings.TrimSpace(v.Source)
	if b.Name == "" {
		say("name", "Write what it is called here, such as the number on its label")
	}
	for field, text := range map[string]string{"name": b.Name, "serial": b.Serial, "source": b.Source} {
		if long := tooLong(text); long != "" {
			say(field, long)
		}
	}
	b.Calibrated, b.Due = dateOf(v.Calibrated), dateOf(v.Due)
	for _, f := range []struct{ field, typed, read string }{{"calibrated", v.Calibrated, b.Calibrated}, {"due", v.Due, b.Due}} {
		if strings.TrimSpace(f.typed) != "" && f.read == "" {
			say(f.field, "“"+f.typed+"” is no day. Write it as 2026-03-02")
		}
	}
	switch {
	case b.Due != "" && b.Calibrated == "":
		say("due", "A day for the next calibration wants that of the last one")
	case b.Due != "" && b.Due <= b.Calibrated:
		say("due", "The next calibration comes after the last one, which was on "+b.Calibrated)
	}
	for _, kind := range in.Kinds() {
		f := page.InstrumentFigure{Kind: kind, Name: quantityWords[kind], Percent: r.FormValue("percent-" + kind), Counts: r.FormValue("counts-" + kind)}
		own, why := figureOf(f)
		if why != "" {
			say("percent-"+kind, f.Name+": "+why)
		} else if own != nil {
			b.Figures = append(b.Figures, *own)
		}
		v.Figures = append(v.Figures, f)
	}
	if len(b.Figures) > 0 && b.Source == "" {
		say("source", "Write where its figures come from, such as the page of its data sheet")
	}
	return v
}

// dateOf is a day as it is kept; "" when it is none.
func dateOf(text string) string {
	t, err := time.Parse(time.DateOnly, strings.TrimSpace(text))
	if err != nil {
		return ""
	}
	return t.Format(time.DateOnly)
}

// figureOf reads the figures of a quantity: nil where both boxes are empty.
func figureOf(f page.InstrumentFigure) (*job.FigureBody, string) {
	if strings.TrimSpace(f.Percent+f.Counts) == "" {
		return nil, ""
	}
	read := func(text string) (float64, bool) {
		text = strings.ReplaceAll(strings.TrimSpace(text), ",", ".")
		if text == "" {
			return 0, true
		}
		const most = 1000 // what is off by more is no instrument
		x, err := strconv.ParseFloat(text, 64)
		return x, err == nil && x >= 0 && x <= most
	}
	percent, okP := read(f.Percent)
	counts, okC := read(f.Counts)
	switch {
	case !okP || !okC:
		return nil, "write plain numbers, such as 0.3 and 2"
	case percent == 0 && counts == 0:
		return nil, "no instrument is exact: write its figures, or leave both empty"
	}
	return &job.FigureBody{Kind: f.Kind, Percent: percent, Counts: counts}, ""
}
