package advice

import (
	"strings"

	"chargewright/unit"
)

// Format is the version of an answer. Older ones are never given another
// meaning.
const Format = 1

// Advice is the answer. Its JSON form is described by the schema
// output-diagnose; numbers stand in the unit that the unit beside them names by
// its UCUM code. Probabilities of Suspects, NoFault and NoneOfThese sum to 1.
type Advice struct {
	Format      int                 `json:"format"`
	Job         string              `json:"job,omitempty"`
	System      Named               `json:"system"`
	SystemHash  string              `json:"system_sha256"`
	Practice    string              `json:"practice_sha256"`
	Complaint   *Complaint          `json:"complaint,omitempty"`
	Told        []Heard             `json:"told"` // beside the kind of complaint
	Assumed     []string            `json:"assumed"`
	Order       []string            `json:"order"` // reading ids as they came
	Readings    map[string]*Reading `json:"readings"`
	Repairs     []Done              `json:"repairs"`
	Suspects    []Suspect           `json:"suspects"`
	NoFault     float64             `json:"no_fault"`
	NoneOfThese float64             `json:"none_of_these"`
	Mended      float64             `json:"nothing_left"` // probability that no fault of the list is left after the repairs
	Surprise    float64             `json:"p_surprise"`   // how often readings as odd as these would come
	Parameters  []Parameter         `json:"parameters"`
	Joints      []Joint             `json:"joints"`
	Rig         []At                `json:"rig"` // how it stands now, places not at rest
	Next        []Step              `json:"next"`
}

// Named is something of a file with its id.
type Named struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// Complaint says how the complaint was used.
type Complaint struct {
	Kind   string  `json:"kind"`
	Charge float64 `json:"state_of_charge"` // median before any reading
	Basis  string  `json:"basis"`
}

// Heard is a word that was told at intake, with what it says.
type Heard struct {
	Group string             `json:"group"` // when, before, noticed, use
	Word  string             `json:"word"`
	Bits  map[string]float64 `json:"bits"` // log2 p(word | fault) - log2 p(word), of those who complain of the same
}

// Reading is one reading with what it says.
type Reading struct {
	Procedure   string             `json:"procedure,omitempty"`
	Name        string             `json:"name"`
	Epoch       int                `json:"epoch"`
	Values      []Value            `json:"values"`
	PWrong      float64            `json:"p_wrong"`    // probability that a value of it is wrong
	PSurprise   float64            `json:"p_surprise"` // how often a reading as far out would come, given the others
	Unexplained bool               `json:"unexplained"`
	Bits        map[string]float64 `json:"bits"` // log2 p(reading | fault, the others) - log2 p(reading | the others)
}

// Value is one value of a reading, with the limits that it is held against.
type Value struct {
	Name       string   `json:"name"`
	How        string   `json:"how"`
	Value      *float64 `json:"value,omitempty"`
	Low        *float64 `json:"low,omitempty"`  // of a value that is known to a range
	High       *float64 `json:"high,omitempty"` // the same
	Unit       string   `json:"unit,omitempty"`
	U          float64  `json:"u,omitempty"` // standard uncertainty, k = 1
	Resolution float64  `json:"resolution,omitempty"`
	Class      string   `json:"class,omitempty"`
	Why        string   `json:"why,omitempty"` // not taken, why
	Verdict    string   `json:"verdict,omitempty"`
	PWithin    *float64 `json:"p_within,omitempty"`
	Limits     []Limit  `json:"limits,omitempty"`
	Notes      []string `json:"notes,omitempty"`
	Meant      *Meant   `json:"meant,omitempty"` // where it is probably wrong

	Dim unit.Dim `json:"-"`
}

// Limit is a limit at the temperature of the reading.
type Limit struct {
	ID        string   `json:"id"`
	Low       *float64 `json:"low,omitempty"`
	High      *float64 `json:"high,omitempty"`
	Unit      string   `json:"unit"`
	At        *float64 `json:"at,omitempty"` // temperature that it holds for
	AtUnit    string   `json:"at_unit,omitempty"`
	Condition string   `json:"condition"`
	Source    string   `json:"source"`
	Basis     string   `json:"basis"`
	PWithin   float64  `json:"p_within"`
	Verdict   string   `json:"verdict"`
}

// Done is a repair that was done.
type Done struct {
	ID     string `json:"id"`
	Repair string `json:"repair,omitempty"`
	Name   string `json:"name"`
	Cured  string `json:"cured"`
	Back   bool   `json:"came_back,omitempty"` // the complaint did, after the job was signed: cured is what counts now
}

// CameBack says that the complaint is back although the last repair was done, and
// the job signed since: what was read before proves nothing.
func (a *Advice) CameBack() bool { n := len(a.Repairs); return n > 0 && a.Repairs[n-1].Back }

// Gone says whether the complaint is gone since, in words.
func (d Done) Gone() string {
	out := map[string]string{"yes": "yes", "no": "no", "unknown": "not known yet"}[d.Cured]
	switch {
	case !d.Back:
		return out
	case d.Cured == "no":
		return "no, it came back"
	}
	return "for a while"
}

// Suspect is a group of faults that no test on the vehicle separates.
type Suspect struct {
	ID          string  `json:"id"`
	Name        string  `json:"name"`
	Faults      []Share `json:"faults"`
	Repair      string  `json:"repair"`
	RepairName  string  `json:"repair_name"`
	Mended      bool    `json:"mended"` // every repair that it needs was done
	Probability float64 `json:"probability"`
}

// Share is a fault's part of a suspect's probability.
type Share struct {
	Fault        string  `json:"fault"`
	Name         string  `json:"name"`
	Share        float64 `json:"share"`
	Intermittent float64 `json:"intermittent"` // part of it in which it does not show now
	Note         string  `json:"note,omitempty"`
}

// Parameter is a figure of the vehicle as the readings have it.
type Parameter struct {
	ID       string  `json:"id"`
	Name     string  `json:"name"`
	Unit     string  `json:"unit"`
	Median   float64 `json:"median"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Coverage float64 `json:"coverage"`
	Given    string  `json:"given"` // fault id that it is given

	Dim unit.Dim `json:"-"`
}

// Joint is a resistance of the leading suspect and the heat that it makes when
// the alternator gives its rated current.
type Joint struct {
	ID    string  `json:"id"`
	Name  string  `json:"name"`
	Ohms  float64 `json:"ohms"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Unit  string  `json:"unit"`
	Amps  float64 `json:"amps"`
	Watts float64 `json:"watts"`
	Given string  `json:"given"`
}

// At is a place and where it stands.
type At struct {
	Place    string `json:"place"`
	Position string `json:"position"`
	Name     string `json:"name"` // both in words
	Short    string `json:"-"`    // as one says it
}

// Step is one thing that can be done next.
type Step struct {
	Do      string            `json:"do"` // test, look, repeat, repair, no-fault, beyond
	Body    Body              `json:"body"`
	Name    string            `json:"name"`
	FromRig map[string]string `json:"from_rig"`
	ToRig   map[string]string `json:"to_rig"`
	Confirm []At              `json:"confirm"` // assumed, not seen: see these first
	Hookup  []Move            `json:"hookup"`
	LeadsAt int               `json:"leads_at"` // moves of the hook-up before the meter's leads go on
	Minutes Minutes           `json:"minutes"`
	Money   float64           `json:"money"` // parts, in the workshop's own currency
	Bits    float64           `json:"bits"`  // expected, about which repair is needed
	Chance  float64           `json:"chance,omitempty"`
	Tells   []string          `json:"separates"`
	Why     string            `json:"why"`
	Warn    []string          `json:"warn"`
	Expect  []Expect          `json:"expect"`
	Cut     bool              `json:"cut"`
	Work    int               `json:"work"`

	LeadsStay bool `json:"-"` // the engine turns throughout: the leads that are on already serve

	Strips []Strip `json:"-"` // where the reading of each box would land
	Looks  []Class `json:"-"` // what each answer of a look would lead to
}

// Body is what a step consists of: a procedure or a repair.
type Body struct {
	Procedure string     `json:"procedure,omitempty"`
	Question  string     `json:"question,omitempty"` // of a look
	Classes   []string   `json:"classes,omitempty"`
	Leads     []Lead     `json:"leads,omitempty"`
	Hold      []Hold     `json:"hold,omitempty"`
	Repair    string     `json:"repair,omitempty"`
	Lines     []string   `json:"lines"`
	Cautions  []Cautions `json:"cautions"`
}

// Lead says where a meter goes for one box of the form.
type Lead struct {
	Box     string `json:"box"`
	Kind    string `json:"quantity"`
	Unit    string `json:"unit"`
	Meter   string `json:"meter"`
	Red     *Point `json:"red,omitempty"`
	Black   *Point `json:"black,omitempty"`
	Through *Named `json:"through,omitempty"`
	Forward string `json:"forward,omitempty"` // which way counts positive
	Watch   bool   `json:"watch,omitempty"`   // read off the watch meter, which is on these points

	Dim        unit.Dim `json:"-"`
	N          int      `json:"-"` // number of the box where there are several, else 0
	Of         string   `json:"-"` // which of two wires it is round, where its name does not say
	Instrument string   `json:"-"` // what the drawing calls it: meter, clamp meter, ammeter, watch meter
}

// Point is a test point with its number on the drawing.
type Point struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	Number   int    `json:"number,omitempty"`
	Terminal string `json:"terminal,omitempty"`
}

// Hold is what is adjusted by hand.
type Hold struct {
	What string  `json:"what"`
	At   float64 `json:"at"`
	Unit string  `json:"unit"`
}

// Cautions is one caution with its text; it stands where it applies.
type Cautions struct {
	ID   string `json:"id"`
	Text string `json:"text"`
}

// Parts is a caution up to its first stop, the stop with it, and what follows. What
// stands before a colon says nothing by itself ("Full field: ...").
func (c Cautions) Parts() (head, rest string) {
	for i := range len(c.Text) - 1 {
		if strings.IndexByte(".;", c.Text[i]) >= 0 && c.Text[i+1] == ' ' { // no decimal point
			return c.Text[:i+1], strings.TrimSpace(c.Text[i+1:])
		}
	}
	return c.Text, ""
}

// Short is a caution for whoever has read it before: its first part.
func (c Cautions) Short() string {
	head, rest := c.Parts()
	if rest == "" {
		return head
	}
	return head[:len(head)-1] + "."
}

// Move is one line of the hook-up.
type Move struct {
	Place    string     `json:"place"`
	From     string     `json:"from"`
	To       string     `json:"to"`
	Say      string     `json:"say"`
	Minutes  float64    `json:"minutes"`
	Cautions []Cautions `json:"cautions"`
}

// Minutes of a step.
type Minutes struct {
	Work    float64 `json:"work"`
	Hookup  float64 `json:"hookup"`
	Waiting float64 `json:"waiting"`
}

// Expect is what a step would read under one suspect; Suspect is its id, or
// no-fault.
type Expect struct {
	Suspect string    `json:"suspect"`
	Name    string    `json:"name"`
	Values  []Range   `json:"values,omitempty"`
	Classes []float64 `json:"classes,omitempty"` // in the order of the body's classes
}

// Range is a predicted value with its central 90 % interval, the meter's own
// doubt left out.
type Range struct {
	Name   string  `json:"name"`
	Unit   string  `json:"unit"`
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`

	Resolution float64  `json:"resolution,omitempty"` // of the meter
	Dim        unit.Dim `json:"-"`
}
