package report

import (
	"fmt"
	"strings"
	"time"

	"chargewright/job"
)

// named puts the workshop's own instruments at the values that they read.
func named(values []Value, with []job.InstrumentBody) {
	for i := range values {
		v := &values[i]
		for _, b := range with {
			if b.Meter != v.Meter || v.Meter == "" {
				continue
			}
			v.Instrument = b.Words()
			if own := ownFigure(b, v.Quantity); own != "" && v.U > 0 {
				v.Accuracy = own
			}
		}
	}
}

// ownFigure is an instrument's own limit of error for a quantity, in words.
func ownFigure(b job.InstrumentBody, kind string) string {
	for _, f := range b.Figures {
		if f.Kind == kind {
			return fmt.Sprintf("own figures: ±\u00a0(%g\u00a0%% + %g)", f.Percent, f.Counts) + map[bool]string{true: "\u00a0count", false: "\u00a0counts"}[f.Counts == 1]
		}
	}
	return ""
}

// named are the workshop's instruments that stood in for a meter of the catalogue,
// each state of one once: it may have been calibrated between two readings.
func (d *desk) named(meter string) []Named {
	var out []Named
	at := map[Named]int{}
	for _, e := range d.j.Entries {
		b, is := e.Body.(job.ReadingBody)
		if !is || e.Back {
			continue
		}
		for _, in := range b.Instruments {
			if in.Meter != meter {
				continue
			}
			var own []string
			for _, f := range in.Figures {
				own = append(own, strings.ReplaceAll(f.Kind, "-", " ")+" "+strings.TrimPrefix(ownFigure(in, f.Kind), "own figures: "))
			}
			n := Named{ID: in.ID, Name: in.Name, Serial: in.Serial, Calibrated: in.Calibrated, Due: in.Due, Figures: strings.Join(own, "; "), Source: in.Source}
			i, seen := at[n]
			if !seen {
				i = len(out)
				at[n] = i
				out = append(out, n)
			}
			out[i].Readings++
		}
	}
	return out
}

// Words name an instrument with its calibration.
func (n Named) Words() string {
	out := job.InstrumentBody{Name: n.Name, Serial: n.Serial}.Words() + ": "
	if n.Calibrated == "" {
		return out + "calibration not known"
	}
	out += "calibrated " + day(n.Calibrated)
	if n.Due != "" {
		out += ", due " + day(n.Due)
	}
	return out
}

// day is a date as people write it.
func day(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("2 January 2006")
}
