package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"chargewright/advice"
)

// RecordPDF writes the technician's record.
func RecordPDF(w io.Writer, r Record, c Cover) error {
	s := setRecord(r, c)
	f, err := footOf(r, c, r.SystemSHA, r.Practice, r.EventsSHA, r.Engine)
	if err != nil {
		return err
	}
	return s.write(w, meta{title: "Technician's record, job " + orDash(r.Job), subject: r.System.Name, date: c.Date}, f)
}

func setRecord(r Record, c Cover) *setter {
	s := newSetter(c.Paper)
	s.on = strings.Join(nonEmpty("Technician's record", "job "+orDash(r.Job), r.Vehicle.Note, c.Plate), " · ")
	s.masthead("Technician's record", []string{strings.Join(nonEmpty(r.Vehicle.Note, c.Plate, c.Customer), ", "), r.System.Name}, r.Job, c)
	s.facts("The vehicle and the complaint", r.Told(c))
	s.facts("As it stands", r.Stands())
	s.instruments(r.Instruments)
	s.section("Taken for granted", sentences(r.Assumed))
	s.log(r, c)
	if r.Repairs > 0 {
		s.pairs("Before and after the repairs", r.Before)
		s.section("The proof", nonEmpty(r.Proof))
	}
	s.note(Meaning + " " + OddsMeaning)
	s.signatures("Technician", "Checked by")
	s.lacking()
	return s
}

// OddsMeaning explains the odds of a record.
const OddsMeaning = "Odds say how much a reading by itself moved the odds of a cause, all other readings being known. Percentages of causes are those of this program's model, " +
	"as it stood when the entry was made. The vehicle maker's manual, local rules and qualified practice come first."

func sentences(list []string) []string {
	var out []string
	for _, x := range list {
		out = append(out, advice.Sentence(x))
	}
	return out
}

// Fact is a line of a list with a name in front.
type Fact struct{ Name, Text string }

// facts are a heading with named lines.
func (s *setter) facts(title string, list []Fact) {
	s.add(s.title(title))
	s.lines(list)
}

func (s *setter) lines(list []Fact) {
	const names = 40.0
	for i, f := range list {
		rows := s.across(cell{margin, names - gutter, f.Name, style{size: 9, grey: true}}, cell{margin + names, s.inner() - names, f.Text, tableType})
		for k := range rows {
			rows[k].keep = i == 0 && k == 0 && len(list) > 1
		}
		s.add(rows...)
	}
}

// Told is what the job says of the vehicle and the complaint, in words.
func (r Record) Told(c Cover) []Fact {
	told := strings.ReplaceAll(r.Complaint.Kind, "-", " ")
	if r.Complaint.Words != "" {
		told = strings.TrimPrefix(told+": “"+r.Complaint.Words+"”", ": ")
	}
	out := []Fact{{"Complaint", orDash(told)}}
	for _, l := range []struct {
		name string
		list []string
	}{{"It shows", r.Complaint.When}, {"Just before", r.Complaint.Before}, {"Noticed", r.Complaint.Noticed}, {"Used", r.Complaint.Use}} {
		if len(l.list) > 0 {
			out = append(out, Fact{l.name, strings.ReplaceAll(strings.Join(l.list, ", "), "-", " ")})
		}
	}
	if r.Opened != nil {
		out = append(out, Fact{"Opened", moment1(*r.Opened, c)})
	}
	if r.Vehicle.Volts > 0 {
		out = append(out, Fact{"Vehicle", fmt.Sprintf("%g\u00a0V", r.Vehicle.Volts)})
	}
	for _, t := range r.Conditions {
		out = append(out, Fact{advice.Capital(t.What) + " temperature", t.Words})
	}
	return out
}

// moment1 says a time.
func moment1(t time.Time, c Cover) string {
	t = in(t, c.Zone)
	return t.Format("2 January 2006, 15:04") + " " + zoneName(t)
}

// zoneName says which clock a time is by.
func zoneName(t time.Time) string {
	if name, offset := t.Zone(); name == "UTC" || offset == 0 && name == "" {
		return "UTC"
	}
	return "UTC" + strings.TrimSuffix(t.Format("-07:00"), ":00")
}

// Stands is how the job stands, in words.
func (r Record) Stands() []Fact {
	state := map[string]string{"open": "in hand", "waits": "waits", "proved": "mended and proved, not signed", "signed": "signed off"}[r.Standing]
	out := []Fact{{"The job", state}}
	var causes []string
	for _, x := range r.Causes {
		name := x.Name
		if x.Mended {
			name += " (mended)"
		}
		causes = append(causes, advice.Percent(x.Share)+"  "+name)
	}
	name := "Likely causes now"
	if r.Repairs > 0 {
		name = "Likely causes"
		out = append(out, Fact{"Nothing left", advice.Percent(r.NothingLeft) + " likely that no fault on the list is left"})
	}
	return append(out, Fact{name, strings.Join(causes, "\n")})
}

func (s *setter) instruments(list []Instrument) {
	if len(list) == 0 {
		return
	}
	s.add(s.title("Instruments"))
	t := s.table(margin, column{w: 40, title: "Instrument"}, column{w: 62, title: "Ranges read in, and what they may be off by"}, column{w: 50, title: "Where that comes from"}, column{w: 26, title: "Calibrated"})
	for _, in := range list {
		t.line(advice.Capital(in.Name)+"\n"+in.ID, strings.Join(in.Off(), "\n"), in.Source+" ("+in.Basis+")", strings.Join(in.When(), "\n"))
	}
}

// Off is what the ranges that were read in may be off by.
func (in Instrument) Off() []string {
	if !in.Used {
		return []string{"to hand, not read"}
	}
	var out []string
	for _, a := range in.Ranges {
		out = append(out, strings.ReplaceAll(a.Quantity, "-", " ")+" "+a.Words)
	}
	return out
}

// When says when it was calibrated; of the workshop's own list each one that was
// read, as it stood then.
func (in Instrument) When() []string {
	if len(in.Named) > 0 {
		out := nonEmpty(in.Calibrated)
		for _, n := range in.Named {
			out = append(out, n.Words())
			if n.Figures != "" {
				out = append(out, "its own figures: "+n.Figures+", "+n.Source)
			}
		}
		return out
	}
	if in.Calibrated == "" {
		return []string{"not given"}
	}
	return []string{in.Calibrated}
}

// entryAt is where the text of an entry begins.
const entryAt = margin + 9

func (s *setter) log(r Record, c Cover) {
	s.add(s.title("What happened, in order"))
	if l := r.Clock(c); l != "" {
		rows := s.para(margin, l, noteType)
		rows[len(rows)-1].keep = true
		s.add(rows...)
	}
	for _, e := range r.Events {
		s.entry(e, c)
	}
}

// Clock says by which clock times are, once for all of them.
func (r Record) Clock(c Cover) string {
	for _, e := range r.Events {
		if e.Recorded != nil {
			return "Times are those of the journal, in " + zoneName(in(*e.Recorded, c.Zone)) + "."
		}
	}
	return "No times: the job was read from a file, which says only the order. Who took a reading, and with which device, is not in it either."
}

// entry is one event: its head, what was recorded, the reading, the causes.
func (s *setter) entry(e Entry, c Cover) {
	const side = 62.0
	end := margin + s.inner()
	right := noteType
	right.right = true
	head := s.across(
		cell{margin, 8, fmt.Sprint(e.N), strongType},
		cell{entryAt, end - side - gutter - entryAt, e.Title, strongType},
		cell{end - side, side, e.ByWhom(c), right},
	)
	head[0].above = 2.6
	head[0].pieces[1].mark, head[0].pieces[1].entry = 2, s.printable(fmt.Sprintf("%d %s", e.N, e.Title))
	for i := range head {
		head[i].keep = true
	}
	head[0].parts = []piece{s.line(margin, -0.6, end, 0.25)}
	s.add(head...)
	n := len(s.rows)
	for _, x := range e.Status() {
		s.add(s.para(entryAt, x, topType)...)
	}
	for _, x := range e.Says {
		s.add(s.para(entryAt, advice.Sentence(x), tableType)...)
	}
	for i := range s.rows[n:] {
		const few = 4 // of these lines stay with the reading
		s.rows[n+i].keep = s.rows[n+i].keep || len(s.rows)-n <= few && (e.Reading != nil || e.Correction != nil)
	}
	if t := e.Reading; t != nil {
		s.reading(e.N, t)
	}
	if k := e.Correction; k != nil {
		rows := s.para(entryAt, fmt.Sprintf("It read (entry %d): %s. It reads:", k.Event, strings.Join(k.Was, ", ")), tableType)
		rows[len(rows)-1].keep = true
		s.add(rows...)
		s.values(e.N, k.Values)
	}
	s.moved(e)
	s.rows[len(s.rows)-1].keep = false
}

// Status says that an entry was taken back or corrected.
func (e Entry) Status() []string {
	var out []string
	if e.BackBy > 0 {
		out = append(out, fmt.Sprintf("Taken back by entry %d: it counts for nothing since.", e.BackBy))
	}
	for _, n := range e.CorrectedBy {
		out = append(out, fmt.Sprintf("Corrected by entry %d: these are the values as they were entered first.", n))
	}
	return out
}

// ByWhom says when an entry was made, by whom and with what.
func (e Entry) ByWhom(c Cover) string {
	var out []string
	if e.Recorded != nil {
		out = append(out, in(*e.Recorded, c.Zone).Format("2 Jan 2006 15:04"))
		if e.At != nil && apart(*e.At, *e.Recorded) {
			out = append(out, "device's clock: "+in(*e.At, c.Zone).Format("2 Jan 15:04"))
		}
	}
	switch name := c.People[e.Person]; {
	case name != "":
		out = append(out, name)
	case e.Person != "":
		out = append(out, "account "+e.Person)
	case e.Recorded != nil:
		out = append(out, "who: not recorded")
	}
	if e.Device != "" {
		out = append(out, e.Device)
	}
	return strings.Join(out, " · ")
}

// apart says whether the device's clock and the journal's differ by more than is
// lost on the way.
func apart(a, b time.Time) bool {
	const way = 2 * time.Minute
	d := a.Sub(b)
	return d > way || d < -way
}

// Stood says how the vehicle stood while a reading was taken.
func (t Taken) Stood() string {
	var stands []string
	for _, p := range t.HookUp {
		stands = append(stands, p.Name)
	}
	text := "Hook-up: " + strings.Join(stands, "; ")
	if len(stands) == 0 {
		text = "Hook-up: as the vehicle rolled in"
	}
	if len(t.Held) > 0 {
		text += ". Held by hand: " + strings.Join(t.Held, ", ")
	}
	text += map[string]string{"yes": ". The complaint showed meanwhile", "no": ". The complaint did not show meanwhile"}[t.Showing]
	if t.Basis != "entered" {
		text += ". Basis: " + t.Basis
	}
	return text + "."
}

// reading is the hook-up and the values of a reading.
func (s *setter) reading(n int, t *Taken) {
	rows := s.para(entryAt, t.Stood(), tableType)
	rows[len(rows)-1].keep = true
	s.add(rows...)
	s.values(n, t.Values)
	for _, o := range t.Odd {
		s.add(s.para(entryAt, o, topType)...)
	}
}

// values are a table: what, reading, limit, within it or not, by which meter.
func (s *setter) values(n int, list []Value) {
	t := s.table(entryAt, column{w: 42, title: "Value, and where"}, column{w: 29, title: "Reading"}, column{w: 40, title: "Limit today, its source"}, column{w: 31, title: "Within it?"}, column{w: 35, title: "Meter, accuracy"})
	t.st = finelyType
	t.of(margin, fmt.Sprint(n))
	for _, v := range list {
		limits, calls := v.Against()
		t.line(v.Box+"\n"+v.Leads, v.Reads(), limits, calls, orDash(strings.Join(v.By(), "\n")))
	}
}

// By is the meter that a value was read with, and what it may be off by.
func (v Value) By() []string { return nonEmpty(meterName(v.Meter), v.Instrument, v.Accuracy) }

// Reads is a value with its doubt, which keeps to its sign.
func (v Value) Reads() string {
	return strings.TrimSpace(v.Shown + " " + strings.Replace(v.Doubt, "± ", "±\u00a0", 1))
}

func meterName(id string) string {
	for _, in := range catalogue() {
		if in.ID == id {
			return in.Name
		}
	}
	return id
}

// Against are the limits of a value with source and basis, and what it is against
// each of them, a line each.
func (v Value) Against() (limits, calls string) {
	var ls, cs []string
	for i, l := range v.Limits {
		ls = append(ls, l.Words+"\n"+l.Source+"\nbasis: "+l.Basis)
		switch {
		case i == 0:
			cs = append(cs, l.Call)
		case l.Call == v.Limits[0].Call:
			cs = append(cs, "second limit: the same")
		default:
			cs = append(cs, "second limit: "+l.Call)
		}
	}
	if len(ls) == 0 {
		return "no limit", "–"
	}
	return strings.Join(ls, "\n"), strings.Join(cs, "\n")
}

// Moved says where an entry moved the causes: a heading, and a line each.
func (e Entry) Moved() (head string, list []string) {
	if len(e.Causes) == 0 {
		return "", nil
	}
	head = "Likely causes, before → after:"
	if e.Causes[0].Before == nil {
		head = "Likely causes before any reading:"
	}
	for _, x := range leading(e.Causes, 6) {
		list = append(list, x.shown())
	}
	if e.NothingLeft != nil {
		list = append(list, "No fault on the list left: "+advice.Percent(*e.NothingLeft)+" likely")
	}
	return head, list
}

// moved is what a reading says of the causes, and where an entry moved them.
func (s *setter) moved(e Entry) {
	head, list := e.Moved()
	if head == "" {
		return
	}
	half := (margin + s.inner() - entryAt) / 2
	causes := strings.Join(append([]string{head}, list...), "\n")
	st := finelyType
	cells := []cell{{entryAt, 2*half - gutter, causes, st}}
	if e.Reading != nil {
		speaks := "What it says, the other readings known:\n" + strings.Join(e.Reading.Speaks, "\n")
		if len(e.Reading.Speaks) == 0 {
			speaks = "It speaks for or against no leading cause."
		}
		cells = []cell{{entryAt, half - gutter, speaks, st}, {entryAt + half, half, causes, st}}
	}
	rows := s.across(cells...)
	rows[0].above = 1.2
	if n := len(s.rows); s.rows[n-1].above == 0 {
		s.rows[n-1].keep = true
	}
	s.add(rows...)
}

// leading are the first n causes that count, and what is left over of all others.
func leading(list []Shift, n int) []Shift {
	var out []Shift
	for _, x := range list {
		const little = 0.01
		counts := x.After >= little || x.Before != nil && *x.Before >= little
		if counts && (len(out) < n || x.ID == "others") {
			out = append(out, x)
		}
	}
	return out
}
