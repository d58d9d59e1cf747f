package web

import (
	"cmp"
	"errors"
	"regexp"
	"slices"
	"strings"

	"chargewright/advice"
	"chargewright/fit"
	"chargewright/problem"
	"chargewright/system"
	"chargewright/web/page"
)

// What the package fit says is for whoever writes a file; here it is said for whoever
// fills in the form: by the names of its boxes, without keys, ids and lines.

// headBoxes are what the boxes at the head of the form are called.
var headBoxes = map[string]string{
	"template": "Wired like", "id": "Short name of its file", "name": "What the vehicle is called", "manual": "The manual", "basis": "These figures are",
}

// inBoxes turns what would be written into a file into what is written into a box.
var inBoxes = strings.NewReplacer(
	"with tolerance: 5 %, or {low: …, high: …}", "with its tolerance, or its range with “to” between",
	"tolerance: 5 %, or the range as {low: …, high: …}", "5 %, or its range with “to” between",
	"tolerance: 5 %", "5 %",
	"less-field: true if they are, else less-field: false", "the one of the two that holds",
	"field: 2.5 A, or field: 12 V", "2.5 A, or 12 V",
	"machine: {pulley-ratio: 2.3, page: …}, or alternator: … rpm", "the ratio, such as 2.3, or the alternator's own speed",
	"; if it is the alternator's: alternator: …", "; or it is the alternator's",
	"; if it is the engine's: engine: …", "; or it is the engine's",
	"the id of a wire of the template", "one of the list",
	"+-", "±", "degC", "°C", "mm2", "mm²", "Ohm", "Ω",
)

// problemsOf puts what is wrong with the file at the boxes that its lines are of.
func (f *figuresFile) problemsOf(err error) (out page.Problems) {
	var list problem.List
	if !errors.As(err, &list) {
		return page.Problems{{Text: err.Error()}}
	}
	list.Sort()
	for _, p := range list {
		x := f.problemOf(p)
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}

var (
	missing = regexp.MustCompile(`^(?:.*: )?([a-z-]+) (?:is missing|is empty|has no value)$`)
	byID    = regexp.MustCompile(`^(?:[a-z-]+ )?(?:output-[0-9]|cut-in-speed|field-current|rotor-ohms|stator-ohms|regulated-volts|cold-cranking): `)
	speedIs = regexp.MustCompile(`^(?:engine|alternator): ([0-9]+ rpm),.*`)
)

// problemOf is a problem in the form's own words, at its box.
func (f *figuresFile) problemOf(p problem.Problem) page.Problem {
	n, field := noSection, ""
	if p.Line >= 1 && p.Line <= len(f.of) {
		n, field = f.in[p.Line-1], f.of[p.Line-1]
	}
	what, instead := byID.ReplaceAllString(p.What, ""), p.Instead
	key := ""
	if m := missing.FindStringSubmatch(what); m != nil {
		key = m[1]
		instead = strings.TrimPrefix(instead, key+": ")
	}
	if n == noSection || headBoxes[field] != "" {
		switch {
		case key == "outputs":
			return page.Problem{Field: manualSections[1].field(1, &manualSections[1].boxes[0]), Text: "Output 1 is empty: without an output nothing tells how large the machine is"}
		case headBoxes[key] != "":
			field, what = key, "“"+headBoxes[key]+"” is empty"
			if key == "template" {
				instead = "one of the list"
			}
		}
		return page.Problem{Field: field, Text: inWords(what, instead)}
	}
	m := &manualSections[n]
	switch {
	case strings.Contains(what, "it has no tolerance"):
		key, what = "tolerance", "“Tolerance” is empty, and without one nothing tells how far the figure may be missed"
	case strings.Contains(what, "at which speed"):
		key, what = "speed", "the speed is empty"
	case strings.Contains(what, "is fed inside"):
		key = "less-field"
	case strings.Contains(what, "no pulley ratio"):
		n, m, key = 0, &manualSections[0], "pulley-ratio"
	}
	instead = speedIs.ReplaceAllString(instead, "$1")
	for i := range m.boxes {
		if b := &m.boxes[i]; b.key == key {
			field = m.field(n, b)
			if missing.MatchString(p.What) {
				what = "“" + b.label + "” is empty"
			}
		}
	}
	title, _, _ := strings.Cut(m.title, ",")
	return page.Problem{Field: field, Text: title + ": " + inWords(what, instead)}
}

func inWords(what, instead string) string {
	if instead != "" {
		what += ". Write instead: " + instead
	}
	return inBoxes.Replace(what)
}

// onPage says what a report says of figures and wires by their names.
func onPage(x *fit.Figures) *strings.Replacer {
	var pairs [][2]string
	for n := range manualSections {
		if id := manualSections[n].id; id != "" {
			pairs = append(pairs, [2]string{id, strings.ReplaceAll(id, "-", " ")})
		}
	}
	for _, e := range x.Template.Elements {
		if e.Kind == system.Wire {
			pairs = append(pairs, [2]string{e.ID, e.Name})
		}
	}
	slices.SortFunc(pairs, func(a, b [2]string) int { return cmp.Compare(len(b[0]), len(a[0])) }) // w-ign stands in w-ign-in
	out := []string{"+-", "±", "degC", "°C", "V.s", "V·s", "(sae: ", "(down to ", "(en: ", "(down to "}
	for _, p := range pairs {
		out = append(out, p[0], p[1])
	}
	return strings.NewReplacer(out...)
}

// met is how a figure is met, with the side in words.
func met(misfit float64) string {
	m := offSide.FindStringSubmatch(fit.Missed(misfit))
	if m == nil {
		return fit.Missed(misfit)
	}
	words := m[3] + map[string]string{"+": " above", "-": " below"}[m[2]]
	if m[1] != "" {
		words = "missed, " + words
	}
	return words
}

var offSide = regexp.MustCompile(`^(MISSED by )?([+-])([0-9.]+ of its tolerance)$`)

var inLine = regexp.MustCompile(`, line [0-9]+\)`)

// contradiction is a conflict in words, without the ids and lines of the file.
func contradiction(c fit.Conflict, by *strings.Replacer) string {
	words := strings.TrimPrefix(c.Words, strings.Join(c.Figures, " and ")+": ")
	return advice.Sentence(by.Replace(inLine.ReplaceAllString(words, ")")))
}
