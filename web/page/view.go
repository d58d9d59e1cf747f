// Package page is what is shown: one templ component for each page and part,
// with the plain values that it needs. It decides nothing and computes nothing;
// its texts are finished figures of advice and report, its pictures finished
// drawings. It refuses nothing either: every text is escaped as it is written.
//
// Open layout.templ first, then job.templ.
package page

import (
	"strconv"
	"strings"

	"chargewright/advice"
)

// Shell is what every page has around it.
type Shell struct {
	Title, Head, Sub string
	Nav              []Link
	Static           string // where assets lie, with a slash at the end
	Theme            string // "" follows the system
	Keys             bool   // single keys work
	Letter           bool   // pages are printed on Letter paper, not on A4
	Demo             string
	User             string
	Who              string // id of the account that is signed in; "" = none is, or none is asked for
	SignedIn         bool
	May              May
	Version          string
	Here             string // this page's address
	Closed           bool   // the job is signed: it is reopened before anything is done on it
	Job, Live        string // base address of the job; its live stream
	Seq              int    // last event that the page knows
	Follow           bool   // shows news by itself while nobody types
	Again            string // asked for at once: what this page waits for; "" = it waits for nothing
	Passkeys         bool   // the page asks the device for one
}

// May is what whoever looks may do: a page shows no way to anything else.
type May struct{ Look, Desk, Measure, Mend, Close, Systems, Instruments, People bool }

// Link is a place to go.
type Link struct {
	Text, To string
	Here     bool
}

// Problem is what is wrong at a field, or with the whole form where Field is "".
type Problem struct{ Field, Text string }

// Problems of a form.
type Problems []Problem

// At are the problems of a field.
func (p Problems) At(field string) []string {
	var out []string
	for _, x := range p {
		if x.Field == field {
			out = append(out, x.Text)
		}
	}
	return out
}

// Hidden is what every form that records something carries.
type Hidden struct {
	Event string // id of the event that it makes
	Seen  int    // last event that the page knew
}

func seen(h Hidden) string { return strconv.Itoa(h.Seen) }

// Figure is the drawn circuit for wide and narrow pages.
type Figure struct{ Wide, Narrow, Whole string }

// Jobs is the list of jobs.
type Jobs struct {
	Unrecorded []Link // jobs that something was sent for which could not be recorded
	Groups     []JobGroup
	Query      string
	More       string // address of the next page, "" = none
	None       bool   // the workshop has no job at all
}

// JobGroup is jobs in one state.
type JobGroup struct {
	Name string
	Jobs []JobLine
}

// JobLine is one job of the list.
type JobLine struct {
	To, ID, Vehicle, Complaint string
	Next, NextNote             string
	Share                      []advice.Portion
	Leads                      string // what leads, in words
}

// Intake is the form of a new job.
type Intake struct {
	Hidden
	Opened   string
	Systems  []Choice
	Kinds    []Choice
	When     []Choice
	Before   []Choice
	Noticed  []Choice
	Use      []Choice
	Meters   []Choice
	Job      string
	Customer string
	Plate    string
	Contact  string
	Volts    string
	Note     string
	Words    string
	Ambient  string
	Looks    []Field   // what was seen of the vehicle, as it travels
	Seen     []string  // the same in words
	SeenSays string    // what it says of the system that is ticked
	Same     []JobLine // jobs that have the number already
	Twice    string    // the number that may be used all the same; "" = nothing is asked
	Problems Problems
}

// Choice is one of several.
type Choice struct {
	ID, Text, Note string
	On             bool
}

// Unrecorded is a form that was said to have arrived and could not be recorded.
type Unrecorded struct {
	What, When, Who, Why string
	Held                 []string // what was written into it
	Away                 string   // where it is put away

	Hidden
	Again   string // where it is entered as it was sent; "" = not by this person, or not without a look
	Ticket  string
	Reading string
	Fields  []Field
}

// Job is the page of a job as it stands.
type Job struct {
	Shell
	Hidden
	Unrecorded []Unrecorded

	Step      advice.Step
	Key       string // what is being done: a procedure, repair or free reading, as a query
	Verb      string // Next, Chosen …
	Cost      string // of the step
	Why       string
	Rig       []string
	Done      string // hook-up lines done since the last reading, in words
	DoneLines []string
	Ticked    string // what was ticked last, where that can be taken back
	Lines     []advice.Line
	Watch     []advice.Cautions
	Against   []string
	Figure    Figure
	Entry     Entry
	Strips    []advice.Strip
	Causes    []CauseLine
	Money     advice.Cost
	Ways      []WayLine
	Repairs   string // address of the form of a repair
	Refused   string
	Waits     string
	Undo      string // what undo would take back, "" = nothing
	Lately    []LogLine
	Readings  int
	Signed    bool
	Standing  string // what the step is when it measures nothing: repair, no-fault, beyond
	Working   []string
	Cautions  []advice.Cautions // of the step itself
	After     bool              // the hook-up lines come after the repair: it is dead already
	Joints    []string
	Plain     bool   // a ticked line brings the whole page again, with script too
	Untick    string // that no line was ticked
}

// CauseLine is a likely cause in the list.
type CauseLine struct {
	advice.Portion
	Where, Note string
}

// WayLine is another way on.
type WayLine struct {
	To, Name, Note, Cost string
	N                    int
}

// Entry is the form of a reading.
type Entry struct {
	Hidden
	Base, Key string // address of the job, the step's query
	Reading   string // id of the reading
	Procedure string
	Kind      string // of a free reading
	Red       string
	Black     string
	Through   string
	Boxes     []Box
	Question  string // of a look
	Classes   []ClassChoice
	Preview   *Preview
	Problems  Problems
	Ask       *advice.Question // about an odd value
	AskBox    int
	Showing   string
	CouldNot  string // address
	Else      string
	Leads     string   // in words where a reading would lead
	With      []string // ids of the instruments that it is taken with
	WithWords []string // the same in words; none = the workshop has entered none
}

// ClassChoice is an answer of a look.
type ClassChoice struct {
	advice.Class
	On bool
}

// Box is one box of a reading.
type Box struct {
	Name, Label, Value string
	Meter              string
	Units              []string
	Unit               string
	Optional           bool
}

// Preview is what a reading would do, before it is entered.
type Preview struct {
	advice.Change
	Sure bool // asked about and kept
}

// Verdict is the page of one reading.
type Verdict struct {
	Shell
	Hidden
	Change   advice.Change
	Taken    string
	Next     Link
	NextNote string
	Pending  bool   // what it does to the causes is being worked out
	Soon     string // where that, or the next step, will stand, which is being worked out; "" = all is here
	Correct  string
	Again    string // address where it is taken again
	Undo     bool
	Proof    string // how far the proof is that it belongs to; "" = it belongs to none
	Meant    *Meant // what a wrong value was probably meant to be
}

// Meant is the form that corrects a slip with one press.
type Meant struct {
	Hidden
	Fields    []Field
	Text, Why string
}

// LogLine is one event in the log.
type LogLine struct {
	Time, What, Value, Limit, Weight, Why string
	Letters                               []advice.WeightLine
	Back                                  bool
	To                                    string
	Correct                               string
}

// Log is everything that happened.
type Log struct {
	Shell
	Hidden
	Lines   []LogLine
	Undo    string
	Assumed []string
	Waits   string
	WaitFor []Choice
	What    string
	Head    string

	Problems Problems
}

// Correct is the form of a correction.
type Correct struct {
	Shell
	Hidden
	Name     string
	To       string // where the form goes
	Ask      *advice.Question
	AskBox   int
	Reading  string
	Boxes    []Box
	Classes  []Choice
	Question string
	Why      string
	Problems Problems
}

// CouldNot is the form for a test that could not be done.
type CouldNot struct {
	Shell
	Hidden
	Entry
	Name      string
	Procedure string
	Reasons   []Choice
	Own       string
	Problems  Problems
}

// Else is what may be done instead.
type Else struct {
	Shell
	Query          string // words that the tests shown hold; "" = all are shown
	Vehicle, Bench []WayLine
	Barred         []WayLine
}

// Free is a reading between two points.
type Free struct {
	Job
	Kinds    []Choice
	Points   []advice.Point
	Branches []advice.Named
	Maps     []Map // for a wide page and a narrow one
	Problem  *advice.Refused
	Ready    bool
	Say      string
}

// Map is a picture with points to tap.
type Map struct {
	Class   string // the pages that it is for
	Picture string
	Taps    []Tap
	Box     string // of the picture
}

// Tap is a point on the picture that can be tapped.
type Tap struct{ X, Y, To, Label string }

// Stands is the form that says how the vehicle stands.
type Stands struct {
	Shell
	Hidden
	Places  []advice.PlaceChoice
	Against []string
	Problem string
}

// Repair is the form of a repair that was done.
type Repair struct {
	Shell
	Hidden
	Step     *advice.Step
	Lines    []advice.Line
	After    bool // the lines come after the work
	Chosen   string
	Groups   []advice.RepairGroup
	Query    string // words that were looked for
	Found    int    // repairs that have them
	What     string
	Cured    string
	Problems Problems
	Chance   string
}

// Proof is the list of readings that prove the repairs.
type Proof struct {
	Shell
	Hidden
	Lines    []ProofLine
	Repairs  []string
	Left     string // probability that nothing is left
	Note     string
	Covers   bool
	Leads    bool
	Proved   bool
	Problems Problems
	Taken    int
}

// ProofLine is one reading of the proof.
type ProofLine struct {
	Name, Minutes, Before, After, Says, Limit, To string
	Done                                          bool
}

// Text joins paragraphs of a text.
func join(list []string, with string) string { return strings.Join(list, with) }

// pos writes a position on a strip as a share of its width.
func pos(t float64) string { return strconv.FormatFloat(t, 'f', 4, 64) }

// outline is a hump as the points of a polyline in a box of one by one, the
// ground line below.
func outline(list []advice.Spot) string {
	var b strings.Builder
	for i, s := range list {
		b.WriteString([]string{"L", "M"}[btoi(i == 0)])
		b.WriteString(pos(s.X) + " " + pos(s.Y) + " ")
	}
	return b.String()
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Moved says what came between a form and its job, and keeps what it held.
type Moved struct {
	Shell
	Hidden
	Head, Say  string
	To, ToText string // where to go without it
	Action     string // where the form goes
	Again      string // what its button says; "" = it is not offered
	Reading    string // the id that a reading of it would have
	Between    []LogLine
	Typed      []string // what it held, in words
	Fields     []Field
}

// Field is what a form held.
type Field struct{ Name, Value string }
