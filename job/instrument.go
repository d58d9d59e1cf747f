package job

import (
	"strings"

	"chargewright/meter"
	"chargewright/question"
)

// InstrumentBody is one of the workshop's instruments as the list had it when a
// reading was taken with it. It is copied into the reading: what the list says
// later changes no record.
type InstrumentBody struct {
	Meter      string       `json:"meter"` // what it stands in for: an instrument of the catalogue
	ID         string       `json:"id"`    // in the workshop's list
	Name       string       `json:"name"`
	Serial     string       `json:"serial,omitempty"`
	Calibrated string       `json:"calibrated,omitempty"` // 2026-03-02; "" = not known
	Due        string       `json:"due,omitempty"`
	Figures    []FigureBody `json:"figures,omitempty"` // of its own; none = the catalogue's
	Source     string       `json:"source,omitempty"`  // of its figures
}

// FigureBody is an instrument's own limit of error for a kind of quantity.
type FigureBody struct {
	Kind    string  `json:"kind"`
	Percent float64 `json:"percent"` // of the reading
	Counts  float64 `json:"counts"`
}

// Words name the instrument.
func (b InstrumentBody) Words() string {
	if b.Serial == "" {
		return b.Name
	}
	return b.Name + ", no. " + strings.TrimPrefix(b.Serial, "no. ")
}

// Figured says whether the instrument has figures of its own for a kind.
func (b InstrumentBody) Figured(kind string) bool {
	for _, f := range b.Figures {
		if f.Kind == kind {
			return true
		}
	}
	return false
}

// instrument is what it stands in for, with its own figures.
func (b InstrumentBody) instrument() (meter.Instrument, bool) {
	in, ok := meter.Find(b.Meter)
	var own []meter.Figure
	for _, f := range b.Figures {
		own = append(own, meter.Figure(f))
	}
	return in.With(own), ok
}

// Standards are values with the standard uncertainty [SI] of the instruments that
// they were read with, where those have figures of their own; the others are left
// to the catalogue. A value over every range is left as it is.
func Standards(values []ValueBody, seek []question.Observable, with []InstrumentBody) []ValueBody {
	out := append([]ValueBody(nil), values...)
	for i := range out {
		if i >= len(seek) || out[i].How != string(question.Measured) {
			continue
		}
		for _, b := range with {
			in, ok := b.instrument()
			if !ok || b.Meter != seek[i].Meter || !b.Figured(string(seek[i].Kind)) {
				continue
			}
			if u, _, _, err := in.Standard(string(seek[i].Kind), out[i].X); err == nil {
				out[i].U = u
			}
		}
	}
	return out
}
