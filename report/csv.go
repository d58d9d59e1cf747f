package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// csvHead is the first row: every column with the unit of its numbers. Columns
// that follow the value are in the value's own unit, which the column unit names
// by its UCUM code.
var csvHead = []string{
	"job", "entry", "recorded", "person", "device", "reading", "counts", "repairs before [1]", "procedure", "what", "value",
	"red lead", "black lead", "through", "how",
	"DC volts [V]", "AC volts [V]", "current [A]", "resistance [Ohm]", "specific gravity [1]", "engine speed [r/min]", "answer",
	"unit", "from [unit]", "to [unit]", "standard uncertainty [unit]",
	"limit from [unit]", "limit to [unit]", "limit holds at [Cel]", "limit source", "limit basis", "probability within [1]", "against the limit",
	"meter", "accuracy", "not taken because", "hook-up", "content sha256", "instrument",
}

// csvQuantities are the columns that a value may stand in.
var csvQuantities = []string{"volts", "ac-volts", "amps", "ohms", "density", "speed"}

// CSV writes the values of a record as a table for spreadsheet programs: RFC 4180,
// UTF-8, decimal point, one row for a value, units in the first row. Values that
// were corrected or taken back stand in it, and the column counts says so. A text
// that a spreadsheet program would take for a formula has an apostrophe before
// it.
func CSV(w io.Writer, r Record) error {
	sum, err := SHA256(r)
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{csvHead}
	repairs := 0
	for _, e := range r.Events {
		switch {
		case e.Reading != nil:
			for i := range e.Reading.Values {
				rows = append(rows, csvRow(r, e, e.Reading.ID, &e.Reading.Values[i], repairs, sum))
			}
		case e.Correction != nil:
			for i := range e.Correction.Values {
				rows = append(rows, csvRow(r, e, e.Correction.Reading, &e.Correction.Values[i], repairs, sum))
			}
		case e.Identified != nil:
			rows = append(rows, csvLooks(r, e, repairs, sum)...)
		case e.Kind == "repair" && e.BackBy == 0:
			repairs++
		}
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("the table cannot be written: %w", err)
	}
	return nil
}

// csvRow is one value.
func csvRow(r Record, e Entry, reading string, v *Value, repairs int, sum string) []string {
	recorded := ""
	if e.Recorded != nil {
		recorded = e.Recorded.Format(time.RFC3339)
	}
	procedure, what, hook := "", "", ""
	if t := takenOf(r, e, reading); t != nil {
		procedure, what, hook = t.Procedure, t.Name, stands(t)
	}
	out := []string{
		text(r.Job), strconv.Itoa(e.N), recorded, text(e.Person), text(e.Device), text(reading), counts(r, e, reading), strconv.Itoa(repairs),
		text(procedure), text(what), text(v.Box), text(v.Red), text(v.Black), text(v.Through), text(v.How),
	}
	for _, q := range csvQuantities {
		cell := ""
		if v.Quantity == q {
			cell = number(v.Value)
		}
		out = append(out, cell)
	}
	out = append(out, text(v.Class), text(v.Unit), number(v.Low), number(v.High), positive(v.U))
	if len(v.Limits) > 0 {
		l := v.Limits[0]
		out = append(out, number(l.Low), number(l.High), number(l.At), text(l.Source), text(l.Basis), number(&l.PWithin), text(l.Verdict))
	} else {
		out = append(out, "", "", "", "", "", "", "")
	}
	return append(out, text(v.Meter), text(v.Accuracy), text(v.Why), text(hook), sum, text(v.Instrument))
}

// csvLooks are what was seen of the vehicle, a row for each look, and what it comes
// to.
func csvLooks(r Record, e Entry, repairs int, sum string) [][]string {
	seen := append([]Seen{}, e.Identified.Looks...)
	seen = append(seen, Seen{"probability by what was seen [1]", number(&e.Identified.Probability)})
	var out [][]string
	for _, l := range seen {
		v := Value{Box: l.Ask, How: "class", Class: l.Say}
		row := csvRow(r, e, "", &v, repairs, sum)
		row[slices.Index(csvHead, "what")] = text(e.Title)
		out = append(out, row)
	}
	out[len(out)-1][slices.Index(csvHead, "how")] = "computed"
	return out
}

// takenOf is the reading that an entry is or corrects.
func takenOf(r Record, e Entry, id string) *Taken {
	if e.Reading != nil {
		return e.Reading
	}
	for i := range r.Events {
		if t := r.Events[i].Reading; t != nil && t.ID == id {
			return t
		}
	}
	return nil
}

func stands(t *Taken) string {
	var out []string
	for _, p := range t.HookUp {
		out = append(out, p.Name)
	}
	return strings.Join(out, "; ")
}

// counts says whether the values of an entry are those that the job stands on.
func counts(r Record, e Entry, reading string) string {
	switch {
	case e.BackBy > 0:
		return "taken back"
	case superseded(r, e, reading):
		return "corrected later"
	}
	return "yes"
}

// superseded says whether a later correction that stands has the same reading.
func superseded(r Record, e Entry, reading string) bool {
	for _, x := range r.Events {
		if x.N > e.N && x.BackBy == 0 && x.Correction != nil && x.Correction.Reading == reading {
			return true
		}
	}
	return false
}

// number is a figure with a decimal point and no exponent; a minus before it is
// no formula.
func number(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64)
}

func positive(x float64) string {
	if x <= 0 {
		return ""
	}
	return number(&x)
}

// formula finds where a spreadsheet program might begin one: at the head of a
// cell, or behind a sign that it may take for the end of one. Full-width forms are
// read as their narrow ones by some.
var formula = regexp.MustCompile(`(^|[,;|\t\r\n])([\s"'\x{00a0}]*)([=+\-@\x{ff1d}\x{ff0b}\x{ff0d}\x{ff20}])`)

// text is a text as a cell: an apostrophe stands where a formula could begin, and
// control signs are gone.
func text(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\r' || r == '\t':
			return ' '
		case r < 0x20 || r == 0x7f:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return formula.ReplaceAllString(s, "$1$2'$3")
}
