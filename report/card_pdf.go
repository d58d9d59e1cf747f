package report

import (
	"fmt"
	"io"
	"strings"

	"chargewright/advice"
	"chargewright/drawing"
)

// CardPDF writes the job card. A card that was read back from its JSON has no
// drawings.
func CardPDF(w io.Writer, k Card, c Cover) error {
	s, err := setCard(k, c)
	if err != nil {
		return err
	}
	f, err := footOf(k, c, k.SystemSHA, k.Practice, k.EventsSHA, k.Engine)
	if err != nil {
		return err
	}
	return s.write(w, meta{title: "Job card, job " + orDash(k.Job), subject: k.System.Name, date: c.Date}, f)
}

func setCard(k Card, c Cover) (*setter, error) {
	s := newSetter(c.Paper)
	s.on = strings.Join(nonEmpty("Job card", "job "+orDash(k.Job), k.Vehicle.Note, c.Plate), " · ")
	s.masthead("Job card", []string{strings.Join(nonEmpty(k.Vehicle.Note, c.Plate, c.Customer), ", "), k.System.Name}, k.Job, c)
	s.cardHead(k)
	for i, step := range k.Steps {
		if err := s.step(k, step, i > 0); err != nil {
			return nil, err
		}
	}
	s.lacking()
	return s, nil
}

// Stand says how things stand before the first step.
func (k Card) Stand() []Fact {
	told := strings.ReplaceAll(k.Complaint.Kind, "-", " ")
	if k.Complaint.Words != "" {
		told = strings.TrimPrefix(told+": “"+k.Complaint.Words+"”", ": ")
	}
	var causes, stands []string
	for _, x := range k.Causes {
		causes = append(causes, strings.TrimSpace(x.Letter+"  "+x.Name)+" "+advice.Percent(x.Share))
	}
	for _, p := range k.Stands {
		stands = append(stands, p.Name)
	}
	if len(stands) == 0 {
		stands = []string{"as the vehicle rolled in"}
	}
	air := "not given"
	for _, t := range k.Conditions {
		if t.What == "air" && t.Value != nil {
			air = t.Words + "; limits are worked out for it. At the vehicle now: ________ °C"
		}
	}
	list := []Fact{{"Complaint", orDash(told)}, {"Likely causes now", strings.Join(causes, "; ")}, {"Air", air}, {"It stands", strings.Join(stands, "; ")}}
	for _, a := range k.Against {
		list = append(list, Fact{"Put right first", a})
	}
	return list
}

// CardFirst stands before the first step.
const CardFirst = "The vehicle maker's manual, local rules and qualified practice come before anything on this card. Tick what is done, in this order."

// cardHead says how things stand before the first step.
func (s *setter) cardHead(k Card) {
	n := len(s.rows)
	s.lines(k.Stand())
	s.rows[n].above = 2
	s.note(CardFirst)
}

// step is one step: what it is for, the drawing, the hook-up to tick, the work,
// the blanks, room for notes.
func (s *setter) step(k Card, x CardStep, fresh bool) error {
	s.stepHead(x, fresh)
	if err := s.stepPicture(k, x); err != nil {
		return err
	}
	if len(x.Confirm) > 0 {
		s.bold("See first that it stands so; nobody has yet")
		s.ticks(x.Confirm)
	}
	if len(x.Lines) > 0 {
		s.bold("Hook-up")
	}
	for _, l := range x.Lines {
		s.cardLine(l)
	}
	s.work(x)
	s.blanks(x)
	s.expect(x)
	s.bold("Notes")
	last := &s.rows[len(s.rows)-1]
	last.keep = false
	last.fills = 8
	return nil
}

// stepHead is a step's number, name, what leads to it, why, and what it takes.
func (s *setter) stepHead(x CardStep, fresh bool) {
	head := s.across(cell{margin, 10, fmt.Sprint(x.N), stepType}, cell{margin + 10, s.inner() - 10, strings.TrimPrefix(x.Verb+": "+x.Name, "Next: "), stepType})
	head[0].above, head[0].first = 3, fresh
	head[0].pieces[0].mark, head[0].pieces[0].entry = 1, s.printable(fmt.Sprintf("%d %s", x.N, x.Name))
	for i := range head {
		head[i].keep = true
	}
	if !fresh {
		head[0].parts = []piece{s.line(margin, -1.2, margin+s.inner(), 0.35)}
	}
	s.add(head...)
	put := func(text string, st style) {
		if text == "" {
			return
		}
		rows := s.para(margin+10, text, st)
		for i := range rows {
			rows[i].keep = true
		}
		s.add(rows...)
	}
	put(x.LeadsHere(), strongType)
	put(strings.TrimSpace(advice.Sentence(x.Why)+" "+advice.Sentence(x.Cost)), tableType)
	for _, w := range x.Warn {
		put("! "+advice.Sentence(w), topType)
	}
	s.rows[len(s.rows)-1].keep = x.picture == nil
}

// LeadsHere says when a step is due; "" = it is next.
func (x CardStep) LeadsHere() string {
	if len(x.When) == 0 {
		return ""
	}
	if x.When[0] == "instead" || x.When[0] == "to prove it" {
		return advice.Capital(x.When[0]) + "."
	}
	return fmt.Sprintf("Only after step 1, when %s (about %s likely). With the true figures entered the plan may be another.", strings.Join(x.When, "; or when "), advice.Percent(x.Chance))
}

// stepPicture is the drawn circuit, hooked up.
func (s *setter) stepPicture(k Card, x CardStep) error {
	if x.picture == nil || k.sys == nil {
		return nil
	}
	sheet, err := drawing.New(k.sys, drawing.Wide)
	if err != nil {
		return err
	}
	scene, err := sheet.Draw(*x.picture)
	if err != nil {
		return err
	}
	high := s.inner() * scene.H / scene.W
	s.add(row{above: 1, high: high + 1, pieces: []piece{{kind: picture, x0: margin, y0: 0, x1: margin + s.inner(), y1: high, scene: scene, text: scene.Desc}}})
	return nil
}

// bold is a small heading within a step.
func (s *setter) bold(text string) {
	s.add(row{above: 1.6, high: strongType.line(), keep: true, pieces: []piece{s.words(margin, 0, text, strongType)}})
}

// ticked is where a line's words begin behind its box and number.
const ticked = margin + 12

// tick is a line with a box before it.
func (s *setter) tick(n, text string) {
	at := ticked
	if n == "" {
		at = margin + 5.5
	}
	rows := s.across(cell{margin + 5.5, 6, n, tableType}, cell{at, s.inner() - at + margin, text, tableType})
	y := (tableType.line() - 3.2) / 2
	rows[0].pieces = append([]piece{{kind: frame, x0: margin, y0: y, x1: margin + 3.2, y1: y + 3.2, weight: 0.3}}, rows[0].pieces...)
	rows[0].above = 0.8
	s.add(rows...)
}

// ticks are short lines with boxes, two side by side where they fit.
func (s *setter) ticks(list []string) {
	half := s.inner() / 2
	short := func(i int) bool { return i < len(list) && s.width(list[i], tableType) < half-8 }
	for i := 0; i < len(list); i++ {
		if !short(i) || !short(i+1) {
			s.tick("", list[i])
			continue
		}
		s.tick("", list[i])
		r := &s.rows[len(s.rows)-1]
		y := (tableType.line() - 3.2) / 2
		x := margin + half
		r.pieces = append(r.pieces, piece{kind: frame, x0: x, y0: y, x1: x + 3.2, y1: y + 3.2, weight: 0.3}, s.words(x+5.5, 0, list[i+1], tableType))
		i++
	}
}

// cardLine is one line of the hook-up with its cautions.
func (s *setter) cardLine(l CardLine) {
	text := strings.Join(nonEmpty(append([]string{l.Say}, l.Leads...)...), "\n")
	s.tick(fmt.Sprint(l.N), text)
	for _, c := range l.Cautions {
		s.caution(c.Text)
	}
	for _, a := range l.Again {
		s.caution(fmt.Sprintf("as at line %d: %s", a.Line, a.Begin))
	}
}

// caution stands under the line that it is about, marked by a black post.
func (s *setter) caution(text string) {
	s.rows[len(s.rows)-1].keep = true
	rows := s.across(cell{ticked + 4, s.inner() - ticked - 4 + margin, text, finelyType})
	for i := range rows {
		rows[i].pieces = append([]piece{{kind: filled, x0: ticked, y0: 0.4, x1: ticked + 1.4, y1: rows[i].high}}, rows[i].pieces...)
	}
	s.add(rows...)
}

// work is what is done once it is hooked up, with what is held and watched.
func (s *setter) work(x CardStep) {
	if len(x.Work)+len(x.Hold) == 0 {
		return
	}
	name := "Then"
	if x.Repair != "" {
		name = "The repair"
	}
	s.bold(name)
	for i, w := range x.Work {
		s.tick(fmt.Sprint(i+1), w)
		if i == 0 {
			for _, c := range append(x.Watch, x.Cautions...) {
				s.caution(c.Text)
			}
		}
	}
	for _, h := range x.Hold {
		s.add(s.para(ticked, advice.Sentence(h), topType)...)
	}
}

// blanks are what is filled in: value, unit, time, meter.
func (s *setter) blanks(x CardStep) {
	if x.Question != "" {
		s.bold(x.Question)
		for _, a := range x.Answers {
			s.tick("", a.Name)
		}
		s.rows[len(s.rows)-1].keep = true
		s.add(row{above: 1, high: 7, pieces: []piece{s.words(ticked, 1.5, "Time ____________   By ____________________", tableType)}})
		return
	}
	if len(x.Boxes) == 0 {
		if x.Repair != "" {
			s.add(row{above: 2, high: 7, pieces: []piece{s.words(margin, 1.5, "Done at ____________   By ____________________   Part fitted ______________________________", tableType)}})
		}
		return
	}
	t := s.table(margin, column{w: 48, title: "What is read, and where"}, column{w: 46, title: "Limit today, its source"}, column{w: 44, title: "Reading, unit"}, column{w: 18, title: "Time"}, column{w: 30, title: "Meter"})
	t.st = finelyType
	for i, b := range x.Boxes {
		if len(x.Boxes) > 1 {
			b.Name = fmt.Sprintf("%d  %s", i+1, b.Name) // as the drawing numbers the meters
		}
		n := len(s.rows)
		s.blank(t, b)
		for k := range s.rows[n:] { // all of them on one page
			s.rows[n+k].keep = i < len(x.Boxes)-1 || n+k < len(s.rows)-1
		}
	}
}

// blank is one line of blanks: boxes to write in beside what is asked.
func (s *setter) blank(t *table, b Box) {
	const high = 9.0
	name := b.Name
	if b.Optional {
		name += " (may be left out)"
	}
	limits := strings.Join(b.LimitWords(), "\n")
	n := len(s.rows)
	t.line(name+"\n"+b.Leads, limits, "", "", b.Meter+"\nno. ____________")
	r := &s.rows[n]
	r.high = max(r.high, high+2*cellTop)
	r.pieces[len(r.pieces)-1] = s.line(margin, r.high, margin+s.inner(), 0.12)
	x := margin + t.cols[0].w + t.cols[1].w
	write := t.cols[2].w - gutter - 14
	box := func(x0, x1 float64) piece {
		return piece{kind: frame, x0: x0, y0: cellTop, x1: x1, y1: cellTop + high - 1, weight: 0.3}
	}
	r.pieces = append(r.pieces, box(x, x+write))
	for i, u := range b.Units {
		if i < 3 {
			y := cellTop + float64(i)*3.2
			r.pieces = append(r.pieces, piece{kind: frame, x0: x + write + 2, y0: y + 0.5, x1: x + write + 4.4, y1: y + 2.9, weight: 0.25}, s.words(x+write+5.4, y, u, footType))
		}
	}
	x += t.cols[2].w
	r.pieces = append(r.pieces, box(x, x+t.cols[3].w-gutter))
}

// LimitWords are the limits of a blank with where they come from.
func (b Box) LimitWords() []string {
	var out []string
	for _, l := range b.Limits {
		out = append(out, l.Words+"\n"+l.Source+" ("+l.Basis+")")
	}
	if len(out) == 0 {
		return []string{"no limit: it counts by what it says of the causes"}
	}
	return out
}

// expect is what each likely cause would make it read.
func (s *setter) expect(x CardStep) {
	if len(x.Expect) == 0 {
		return
	}
	s.bold("What it would read, nine times in ten")
	for _, e := range x.Expect {
		rows := s.across(cell{margin, 10, e.Letter, topType}, cell{margin + 10, 62, e.Name, finelyType}, cell{margin + 75, s.inner() - 75, e.Words, finelyType})
		s.add(rows...)
	}
}
