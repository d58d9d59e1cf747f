package web

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"chargewright/web/page"
)

// manualSection is a part of the form of a manual's figures, and of the file that is made
// of it: key is where it stands there, each of its boxes a line.
type manualSection struct {
	key, title string
	id         string // what the figure is called in the file, and with blanks for hyphens on the page; "" = it has no id
	list       bool   // one of several: the file has a list there
	inside     string // the section of the file that it is a part of, if it is
	open       bool   // stands open on a form that nobody has filled in
	boxes      []manualBox
}

// manualBox is a box of the form: key is what it is called in the file, unit what a bare
// number is given. One with choices is picked from, and one for wires from those of the
// template.
type manualBox struct {
	key, label, note, unit string
	choices                []page.Choice
	text                   bool // words, and no amount
	wires                  bool
}

var (
	manualPage = manualBox{key: "page", label: "Page", text: true}
	tolerance  = manualBox{key: "tolerance", label: "Tolerance", note: "A bare number is per cent; none with a range.", unit: "%"}
	speed      = manualBox{key: "speed", label: "At a speed of", unit: "rpm"}
	whose      = manualBox{key: "whose", label: "Of the", choices: []page.Choice{{ID: "alternator", Text: "alternator"}, {ID: "engine", Text: "engine"}}}
	warmth     = manualBox{key: "temperature", label: "At", unit: "degC", note: "Degrees Celsius."}
	windings   = manualBox{key: "windings", label: "Windings", choices: []page.Choice{{ID: "cold", Text: "cold"}, {ID: "hot", Text: "hot"}}}
)

// manualSections are the form of a manual's figures.
var manualSections = func() []manualSection {
	out := []manualSection{
		{key: "machine", title: "Alternator", open: true, boxes: []manualBox{
			{key: "pole-pairs", label: "Pairs of poles", text: true},
			{key: "pulley-ratio", label: "Engine pulley over its own", note: "Such as 2.1.", text: true},
			manualPage,
		}},
	}
	for n, more := range []string{", one at least", "", ""} {
		no := strconv.Itoa(n + 1)
		out = append(out, manualSection{key: "outputs", title: "Output " + no + more, id: "output-" + no, list: true, open: n == 0, boxes: []manualBox{
			{key: "amps", label: "Amps", unit: "A"},
			tolerance,
			{key: "volts", label: "At volts", unit: "V"},
			{key: "speed", label: "And a speed of", unit: "rpm"},
			whose,
			windings,
			{key: "field", label: "Its field held at", note: "Amps or volts with their unit, such as 2.5 A; empty: at the output's own volts."},
			{key: "less-field", label: "Its field is fed", note: "Where it is fed inside the machine this must be said.", choices: []page.Choice{{ID: "", Text: "from outside"}, {ID: "true", Text: "inside, amps are those of the stud"}, {ID: "false", Text: "inside, amps with the field's"}}},
			manualPage,
		}})
	}
	out = append(out,
		manualSection{key: "cut-in", title: "Where output begins", id: "cut-in-speed", list: true, boxes: []manualBox{
			speed,
			whose,
			tolerance,
			{key: "volts", label: "At volts", unit: "V"},
			windings,
			{key: "amps", label: "Amps that count as begun", unit: "A", note: "Empty: 1 A."},
			manualPage,
		}},
		manualSection{key: "field-current", title: "Field current", id: "field-current", list: true, boxes: []manualBox{
			{key: "amps", label: "Amps", unit: "A"}, tolerance, {key: "volts", label: "At volts across the field", unit: "V"}, warmth, manualPage,
		}},
		manualSection{key: "rotor", title: "Rotor winding", id: "rotor-ohms", list: true, boxes: []manualBox{
			{key: "ohms", label: "Between the rings", unit: "Ohm"}, tolerance, warmth, manualPage,
		}},
		manualSection{key: "stator", title: "Stator winding", id: "stator-ohms", list: true, boxes: []manualBox{
			{key: "ohms", label: "Between two ends", unit: "Ohm"}, tolerance, warmth, manualPage,
		}},
		manualSection{key: "regulated", title: "Regulated voltage", id: "regulated-volts", list: true, boxes: []manualBox{
			{key: "volts", label: "Volts", unit: "V"},
			tolerance,
			{key: "temperature", label: "Regulator at", unit: "degC", note: "Degrees Celsius."},
			{key: "at", label: "Measured at the", choices: []page.Choice{{ID: "battery", Text: "battery"}, {ID: "regulator", Text: "regulator"}}},
			manualPage,
		}},
		manualSection{key: "battery", title: "Battery", boxes: []manualBox{{key: "capacity", label: "Capacity", unit: "Ah"}, manualPage}},
		manualSection{key: "cold-cranking", inside: "battery", title: "Cold cranking", id: "cold-cranking", boxes: []manualBox{
			{key: "amps", label: "Amps", unit: "A"},
			tolerance,
			{key: "standard", label: "Held for", choices: []page.Choice{{ID: "sae", Text: "30 s to 7.2 V"}, {ID: "en", Text: "10 s to 7.5 V"}}},
			manualPage,
		}},
	)
	for n := range 3 {
		out = append(out, manualSection{key: "wires", title: "Wire " + strconv.Itoa(n+1), list: true, boxes: []manualBox{
			{key: "wire", label: "Which", wires: true},
			{key: "area", label: "Cross-section", unit: "mm2", note: "Or a gauge, such as 10 AWG."},
			{key: "length", label: "Length", unit: "m"},
			manualPage,
		}})
	}
	return out
}()

// field is the name of a box in the form.
func (m *manualSection) field(n int, b *manualBox) string {
	return m.key + "-" + strconv.Itoa(n) + "-" + b.key
}

// figuresFile is a file that is made of a form, and which box each line is of.
type figuresFile struct {
	text strings.Builder
	of   []string // by line, from the first
	in   []int    // the section of each line; noSection: the head's
	now  int
}

const noSection = -1

func (f *figuresFile) line(field, text string) {
	f.text.WriteString(text + "\n")
	f.of, f.in = append(f.of, field), append(f.in, f.now)
}

// quoted is a text as a value of the file.
func quoted(text string) string {
	b, _ := json.Marshal(text) // a string always has one
	return string(b)
}

// figuresOf writes the figures file that a form says. A part of which nothing is filled in is left
// out.
func figuresOf(r *http.Request) *figuresFile {
	f := &figuresFile{now: noSection}
	f.line("", "format: 1")
	for _, key := range []string{"template", "id", "name", "manual", "basis"} {
		if v := strings.TrimSpace(r.FormValue(key)); v != "" {
			f.line(key, key+": "+quoted(v))
		}
	}
	last := ""
	for n := range manualSections {
		m := &manualSections[n]
		if !m.filled(r, n) {
			continue
		}
		f.now = n
		first, indent, top := m.field(n, &m.boxes[0]), "  ", cmp.Or(m.inside, m.key)
		if top != last {
			f.line(first, top+":")
		}
		switch last = top; {
		case m.inside != "":
			f.line(first, "  "+m.key+":")
			indent = "    "
		case m.list:
			f.line(first, "  -")
			indent = "    "
		}
		if m.id != "" {
			f.line(first, indent+"id: "+m.id)
		}
		m.write(f, r, n, indent)
	}
	return f
}

// filled says whether something was written into a section.
func (m *manualSection) filled(r *http.Request, n int) bool {
	return slices.ContainsFunc(m.boxes, func(b manualBox) bool {
		return b.choices == nil && !b.wires && strings.TrimSpace(r.FormValue(m.field(n, &b))) != ""
	})
}

// write writes the lines of a section.
func (m *manualSection) write(f *figuresFile, r *http.Request, n int, indent string) {
	speedOf := ""
	for i := range m.boxes {
		b := &m.boxes[i]
		if b.key == "whose" {
			speedOf = b.picked(r.FormValue(m.field(n, b)))
		}
	}
	for i := range m.boxes {
		b := &m.boxes[i]
		key, v := b.key, strings.TrimSpace(r.FormValue(m.field(n, b)))
		switch {
		case b.key == "speed":
			key = speedOf
		case b.choices != nil:
			v = b.picked(v)
		}
		if v != "" && b.key != "whose" {
			f.line(m.field(n, b), indent+key+": "+b.value(v))
		}
	}
}

// picked is what was picked, or what stands first.
func (b *manualBox) picked(v string) string {
	for _, c := range b.choices {
		if c.ID == v {
			return v
		}
	}
	return b.choices[0].ID
}

// What stands before an amount of which a manual gives one end.
const (
	atLeast = "at least "
	atMost  = "at most "
)

// value is what was written as the file wants it: what was picked and plain numbers as they
// are, an amount with its unit, two with "to" between them or one end as a range, words in quotes.
func (b *manualBox) value(v string) string {
	switch low, high, ranged := strings.Cut(v, " to "); {
	case b.choices != nil:
		return v
	case b.text:
		if isNumber(v) && b.key != "page" {
			return v
		}
	case strings.HasPrefix(v, atLeast):
		return "{low: " + quoted(withUnit(strings.TrimPrefix(v, atLeast), b.unit)) + "}"
	case strings.HasPrefix(v, atMost):
		return "{high: " + quoted(withUnit(strings.TrimPrefix(v, atMost), b.unit)) + "}"
	case ranged:
		high = withUnit(high, b.unit)
		if isNumber(low) { // 3.0 to 3.5 A
			low += strings.TrimLeft(high, "+-0123456789.,")
		}
		return "{low: " + quoted(withUnit(low, b.unit)) + ", high: " + quoted(high) + "}"
	default:
		return quoted(withUnit(v, b.unit))
	}
	return quoted(v)
}

func isNumber(v string) bool {
	_, err := strconv.ParseFloat(strings.TrimSpace(v), 64)
	return err == nil
}

// withUnit gives a bare number the unit of its box; a comma is a point.
func withUnit(v, unit string) string {
	v = strings.ReplaceAll(strings.TrimSpace(v), ",", ".")
	if isNumber(v) && unit != "" {
		return v + " " + unit
	}
	return v
}
