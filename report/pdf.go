package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Cover is what a paper says beside its data: names stand nowhere else.
type Cover struct {
	Workshop, Customer, Plate string
	Date                      time.Time         // of the paper and of the file; zero = neither has one
	Signed                    string            // who and when, "" = not signed
	Note                      string            // what the signer wrote
	Head                      string            // hash of the journal's last event, "" = not said
	Paper                     Paper             // "" = A4
	Zone                      *time.Location    // that times are said in; nil = as they were recorded
	People                    map[string]string // what the accounts are called, by id
}

// PDF writes the customer's sheet.
func PDF(w io.Writer, r Report, c Cover) error {
	s := setReport(r, c)
	f, err := footOf(r, c, r.SystemSHA, r.Practice, r.EventsSHA, r.Engine)
	if err != nil {
		return err
	}
	return s.write(w, meta{title: r.Title, subject: "Customer's sheet, job " + orDash(r.Job), date: c.Date}, f)
}

// footOf says what a paper rests on.
func footOf(v any, c Cover, system, practice, events, engine string) (foot, error) {
	sum, err := SHA256(v)
	f := foot{content: sum}
	of := fmt.Sprintf("system %.12s · practice figures %.12s · chargewright %s", system, practice, engine)
	if events != "" {
		of = fmt.Sprintf("Events %.12s · ", events) + of
	}
	f.lines = append(f.lines, of)
	if c.Head != "" {
		f.lines = append(f.lines, "Journal "+c.Head)
	}
	return f, err
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func setReport(r Report, c Cover) *setter {
	s := newSetter(c.Paper)
	s.on = strings.Join(nonEmpty(r.Title, "job "+orDash(r.Job), r.Vehicle, c.Plate), " · ")
	s.masthead(r.Title, []string{strings.Join(nonEmpty(r.Vehicle, c.Plate, c.Customer), ", ")}, r.Job, c)
	s.section("What was wrong", append(said(r), r.Wrong...))
	s.section("What was done", r.Done)
	s.pairs("Before and after", r.Before)
	s.readings(r.Readings)
	s.section("The proof", nonEmpty(r.Proof))
	s.section("Worth watching", r.Watch)
	s.section("Time and cost", []string{fmt.Sprintf("%s of work, about %s: %s.", r.Time, r.Cost, r.CostNote)})
	if c.Signed != "" {
		s.section("Signed", nonEmpty(strings.TrimSpace(c.Signed+". "+c.Note)))
	}
	if len(r.Done) > 0 {
		s.signatures("Mended by", "Proved by", "Customer")
	} else {
		s.signatures("Looked at by", "Customer")
	}
	s.lacking()
	return s
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, x := range list {
		if x != "" {
			out = append(out, x)
		}
	}
	return out
}

func said(r Report) []string {
	switch {
	case r.Words != "":
		return []string{"You told us: " + strings.TrimRight(r.Words, ".") + "."}
	case r.Complaint != "":
		return []string{"You told us: " + r.Complaint + "."}
	}
	return nil
}

// masthead is the head of the first page: what it is and of what, whose, when.
func (s *setter) masthead(title string, under []string, jobID string, c Cover) {
	const side = 52.0
	left, right := s.inner()-side-gutter, margin+s.inner()
	var r row
	put := func(x, y float64, st style, lines []string) float64 {
		for _, l := range lines {
			r.pieces = append(r.pieces, s.words(x, y, l, st))
			y += st.line()
		}
		r.high = max(r.high, y)
		return y
	}
	y := put(margin, 0, titleType, s.few(title, left, titleType))
	for _, u := range under {
		if u != "" {
			y = put(margin, y, bodyType, s.few(u, left, bodyType))
		}
	}
	shop, small := strongType, noteType
	shop.right, small.right = true, true
	y = 0
	if c.Workshop != "" {
		y = put(right, 1, shop, s.few(c.Workshop, side, shop))
	}
	list := []string{"Job " + orDash(jobID)}
	if !c.Date.IsZero() {
		list = append(list, c.Date.Format("2 January 2006"))
	}
	for _, l := range list {
		y = put(right, y, small, s.few(l, side, small))
	}
	r.high += 1.5
	r.pieces = append(r.pieces, s.line(margin, r.high, right, 0.6))
	s.add(r)
}

// few is a text in three lines at most: the head of a page is for names.
func (s *setter) few(text string, w float64, st style) []string {
	const most = 3
	lines := s.wrap(text, w, st)
	if len(lines) > most {
		lines = append(lines[:most-1:most-1], s.fitted(strings.Join(lines[most-1:], " "), w, st))
	}
	return lines
}

// beside is where the axes of pairs begin, as a share of the line.
const beside = 0.46

// pairs draws readings before and after the repairs: hollow before, solid after,
// the limit as a box. The figures stand beside it.
func (s *setter) pairs(title string, list []Pair) {
	if len(list) == 0 {
		return
	}
	s.add(s.title(title), s.key())
	names, axis, figure := beside*s.inner(), 0.31*s.inner(), 0.11*s.inner()
	for i, p := range list {
		rows := s.across(
			cell{margin, names - gutter, p.Name, topType},
			cell{margin + names + axis + gutter, figure, orDash(p.Before), tableType},
			cell{margin + names + axis + figure + 2*gutter, s.inner() - names - axis - figure - 2*gutter, p.After, topType},
		)
		r := rows[0]
		if p.Scale != nil {
			r.pieces = append(r.pieces, s.scale(p.Scale, margin+names, axis, bodyType.line()/2)...)
		}
		r.above = 1.2
		if limit := s.para(margin, orNone(p.Limit), noteType); len(limit) > 0 {
			r.keep = true
			s.add(r)
			s.add(limit...)
		} else {
			s.add(r)
		}
		if i < len(list)-1 {
			s.rows[len(s.rows)-1].keep = false
		}
	}
}

func orNone(limit string) string {
	if limit == "" {
		return "no limit"
	}
	return limit
}

// key says what the marks of pairs mean.
func (s *setter) key() row {
	x, y := margin+beside*s.inner(), noteType.line()/2
	r := row{high: noteType.line() + 1, keep: true}
	r.pieces = append(r.pieces, s.dot(x+1.5, y, false), s.words(x+4.5, 0, "before", noteType))
	r.pieces = append(r.pieces, s.dot(x+22, y, true), s.words(x+25, 0, "after", noteType))
	r.pieces = append(r.pieces, piece{kind: frame, x0: x + 38, y0: y - 1.5, x1: x + 45, y1: y + 1.5, weight: 0.25}, s.words(x+47, 0, "within the limit", noteType))
	return r
}

// dot is a mark: hollow before the repairs, solid after.
func (s *setter) dot(x, y float64, after bool) piece {
	kind, r := hollow, 1.4
	if after {
		kind = solid
	}
	return piece{kind: kind, x0: x - r, y0: y - r, x1: x + r, y1: y + r, weight: 0.35}
}

// scale is a pair on its axis.
func (s *setter) scale(p *Scale, x, w, y float64) []piece {
	out := []piece{s.line(x, y, x+w, 0.12)}
	if p.Low != nil || p.High != nil {
		from, to := 0.0, 1.0
		if p.Low != nil {
			from = *p.Low
		}
		if p.High != nil {
			to = *p.High
		}
		out = append(out, piece{kind: frame, x0: x + from*w, y0: y - 2, x1: x + to*w, y1: y + 2, weight: 0.25})
	}
	if p.Before != nil {
		out = append(out, s.dot(x+*p.Before*w, y, false))
	}
	return append(out, s.dot(x+p.After*w, y, true))
}

// readings are a table with a line for every value that has a limit; what was
// read beside it stands with it.
func (s *setter) readings(list []Reading) {
	if len(list) == 0 {
		return
	}
	s.add(s.title("The readings"))
	cols := []column{{w: 50, title: "What"}, {w: 44, title: "Reading"}, {w: 50, title: "Limit and its source"}, {w: 38, title: "Within it?"}}
	timed := slices.ContainsFunc(list, func(r Reading) bool { return r.Taken != "" })
	if timed {
		cols = append([]column{{w: 15, title: "Taken"}}, cols...)
	}
	t := s.table(margin, cols...)
	t.st = finelyType
	for _, cells := range readingLines(list) {
		if !timed {
			cells = cells[1:]
		}
		t.line(cells...)
	}
	s.note(Meaning)
}

// readingLines are the cells of the table: taken, what, reading, limit, within.
func readingLines(list []Reading) [][]string {
	var out [][]string
	for i, r := range list {
		value := kept(strings.TrimSpace(r.Value + " " + strings.Replace(r.Doubt, "± ", "±\u00a0", 1)))
		if r.Box != "" && r.Box != r.Name && !plainly(list, i) {
			value = r.Box + ": " + value
		}
		if n := len(out); n > 0 && r.Name == "" && r.Limit == "" {
			out[n-1][2] += "\n" + value
			continue
		}
		limit, call := strings.TrimSuffix(r.Limit+", "+r.Source, ", "), "–"
		switch {
		case r.Limit == "":
			limit = "no limit"
		case r.Says == notYet:
			call = notYet
		default:
			call = strings.TrimPrefix(r.Says+": "+r.Likely+" likely within", ": ")
		}
		out = append(out, []string{r.Taken, r.Name, value, limit, call})
	}
	return out
}

// plainly says whether the first value of a reading needs no name beside the
// reading's own: no other value of it is of the same unit.
func plainly(list []Reading, i int) bool {
	if list[i].Name == "" {
		return false
	}
	unitOf := func(v string) string { return v[strings.LastIndexAny(v, "\u00a0 ")+1:] }
	for k := i + 1; k < len(list) && list[k].Name == ""; k++ {
		if strings.TrimPrefix(unitOf(list[k].Value), "m") == strings.TrimPrefix(unitOf(list[i].Value), "m") {
			return false
		}
	}
	return true
}

// notYet is what advice says of a value that is not to be called yet.
const notYet = "Not to be called yet"

// Meaning explains the figures.
const Meaning = "A figure like ± 0.07\u00a0V means: 19 times in 20 the true value lies that near. “Likely within” is how likely the true value keeps the limit, " +
	"given what the meter can tell; near a limit it says so instead of calling it."

// signatures are lines to sign on.
func (s *setter) signatures(who ...string) {
	gap := 5.0
	w := (s.inner() - gap*float64(len(who)-1)) / float64(len(who))
	r := row{above: 2, high: 12 + noteType.line()}
	for i := len(s.rows) - 1; i >= 0 && i > len(s.rows)-6; i-- {
		if s.rows[i].heading() {
			break
		}
		s.rows[i].keep = true // nobody signs a page with nothing on it
	}
	for i, name := range who {
		x := margin + float64(i)*(w+gap)
		r.pieces = append(r.pieces, s.line(x, 11, x+w, 0.25), s.words(x, 11.6, name, noteType))
	}
	s.add(r)
}

// note explains what stands above it.
func (s *setter) note(text string) {
	if n := len(s.rows); n > 0 {
		s.rows[n-1].keep = true
	}
	rows := s.para(margin, text, noteType)
	rows[0].above = 1
	s.add(rows...)
}

// lacking says so when a sign could not be printed.
func (s *setter) lacking() {
	if s.lacks {
		s.add(s.para(margin, "□ stands for a sign that the printed type does not have; the JSON form of this paper has it.", noteType)...)
	}
}
