package report

import (
	"encoding/json"
	"time"

	"chargewright/advice"
)

// RecordFormat is the version of the data of a technician's record. Older ones
// are never given another meaning.
const RecordFormat = 1

// Record is all that happened to a job, in order, with what was made of it at the
// time: the technician's record, and the export of a job. Its JSON form is
// described by the schema output-report-record; numbers stand in the unit that
// the unit beside them names by its UCUM code.
type Record struct {
	Format      int          `json:"format"`
	Job         string       `json:"job,omitempty"`
	System      advice.Named `json:"system"`
	SystemSHA   string       `json:"system_sha256"`
	Practice    string       `json:"practice_sha256"`
	Engine      string       `json:"engine"`
	EventsSHA   string       `json:"events_sha256"`
	Vehicle     Vehicle      `json:"vehicle"`
	Customer    string       `json:"customer,omitempty"` // id; names stand nowhere in a record
	Opened      *time.Time   `json:"opened,omitempty"`
	Complaint   Complaint    `json:"complaint"`
	Conditions  []Condition  `json:"conditions"`
	Assumed     []string     `json:"assumed"`
	Instruments []Instrument `json:"instruments"`
	Events      []Entry      `json:"events"`
	Causes      []Cause      `json:"causes"` // as it stands now, likeliest first
	NothingLeft float64      `json:"nothing_left"`
	Repairs     int          `json:"repairs"`
	Before      []Pair       `json:"before_after"`
	Proof       string       `json:"proof"`
	Standing    string       `json:"standing"` // open, waits, proved, signed
}

// Vehicle is what the job says of the vehicle.
type Vehicle struct {
	Volts float64 `json:"volts,omitempty"`
	Note  string  `json:"note,omitempty"`
}

// Complaint is what the customer said.
type Complaint struct {
	Kind    string   `json:"kind,omitempty"`
	Words   string   `json:"words,omitempty"`
	When    []string `json:"when,omitempty"`
	Before  []string `json:"before,omitempty"`
	Noticed []string `json:"noticed,omitempty"`
	Use     []string `json:"use,omitempty"`
}

// Condition is a temperature that limits were worked out for.
type Condition struct {
	What  string   `json:"what"`
	Value *float64 `json:"value,omitempty"` // none = worked out from the air and the engine's running
	Unit  string   `json:"unit"`
	U     float64  `json:"u,omitempty"` // standard uncertainty [K]
	Words string   `json:"words"`
}

// Instrument is a meter that was to hand or was read.
type Instrument struct {
	ID         string     `json:"id"`
	Name       string     `json:"name"`
	Used       bool       `json:"used"`
	Ranges     []Accuracy `json:"ranges"` // that were read in
	Source     string     `json:"source"` // of its accuracy
	Basis      string     `json:"basis"`
	Calibrated string     `json:"calibrated,omitempty"` // as somebody said; "" = not given
	Named      []Named    `json:"named,omitempty"`      // of the workshop's list, as they stood when they were read
}

// Named is one instrument of the workshop's list.
type Named struct {
	ID         string `json:"id"`
	Name       string `json:"name"`
	Serial     string `json:"serial,omitempty"`
	Calibrated string `json:"calibrated,omitempty"` // 2026-03-02; none = not known
	Due        string `json:"due,omitempty"`
	Figures    string `json:"figures,omitempty"` // of its own, in words
	Source     string `json:"source,omitempty"`  // of them
	Readings   int    `json:"readings"`
}

// Accuracy is what a range may be wrong by.
type Accuracy struct {
	Quantity string  `json:"quantity"`
	Full     float64 `json:"full"`
	Unit     string  `json:"unit"`
	Words    string  `json:"words"`
}

// Entry is one event.
type Entry struct {
	N           int             `json:"n"` // its place in the job, from 1
	ID          string          `json:"id"`
	Kind        string          `json:"kind"`
	V           int             `json:"v"`
	Body        json.RawMessage `json:"body"` // as it was recorded
	At          *time.Time      `json:"at,omitempty"`
	Recorded    *time.Time      `json:"recorded,omitempty"`
	Person      string          `json:"person,omitempty"` // id of an account
	Device      string          `json:"device,omitempty"`
	Engine      string          `json:"engine,omitempty"`
	Title       string          `json:"title"`
	Says        []string        `json:"says"` // what was recorded, in words
	Reading     *Taken          `json:"reading,omitempty"`
	Correction  *Correction     `json:"correction,omitempty"`
	Identified  *Identified     `json:"identified,omitempty"`
	Causes      []Shift         `json:"causes,omitempty"`       // where they moved
	NothingLeft *float64        `json:"nothing_left,omitempty"` // after a repair: probability that no fault of the list is left
	BackBy      int             `json:"taken_back_by,omitempty"`
	CorrectedBy []int           `json:"corrected_by,omitempty"`
}

// Taken is a reading as it stood when it was entered.
type Taken struct {
	ID        string      `json:"id"`
	Procedure string      `json:"procedure,omitempty"`
	Name      string      `json:"name"`
	HookUp    []advice.At `json:"hook_up"` // places not at rest
	Held      []string    `json:"held,omitempty"`
	Showing   string      `json:"showing,omitempty"`
	Basis     string      `json:"basis"`
	Values    []Value     `json:"values"`
	Speaks    []string    `json:"speaks"` // for and against, the other readings known
	Odd       []string    `json:"odd,omitempty"`
	PWrong    float64     `json:"p_wrong"`
}

// Value is one value of a reading.
type Value struct {
	Box        string   `json:"box"`
	Quantity   string   `json:"quantity"`
	Leads      string   `json:"leads,omitempty"`
	Red        string   `json:"red,omitempty"`
	Black      string   `json:"black,omitempty"`
	Through    string   `json:"through,omitempty"`
	How        string   `json:"how"`
	Value      *float64 `json:"value,omitempty"`
	Low        *float64 `json:"low,omitempty"`
	High       *float64 `json:"high,omitempty"`
	Unit       string   `json:"unit,omitempty"`
	U          float64  `json:"u,omitempty"` // standard uncertainty, k = 1
	Resolution float64  `json:"resolution,omitempty"`
	Class      string   `json:"class,omitempty"`
	Why        string   `json:"why,omitempty"`
	Shown      string   `json:"shown"`
	Doubt      string   `json:"doubt,omitempty"` // 19 times in 20
	Meter      string   `json:"meter,omitempty"` // instrument id
	Accuracy   string   `json:"accuracy,omitempty"`
	Instrument string   `json:"instrument,omitempty"` // of the workshop's list
	Call       string   `json:"call,omitempty"`       // against the first limit, and how likely within
	Limits     []Limit  `json:"limits"`
	Notes      []string `json:"notes,omitempty"`
}

// Bound is a limit at a temperature, with where it comes from.
type Bound struct {
	ID        string   `json:"id"`
	Low       *float64 `json:"low,omitempty"`
	High      *float64 `json:"high,omitempty"`
	Unit      string   `json:"unit"`
	At        *float64 `json:"at,omitempty"`
	AtUnit    string   `json:"at_unit,omitempty"`
	Words     string   `json:"words"`
	Condition string   `json:"condition"`
	Source    string   `json:"source"`
	Basis     string   `json:"basis"`
}

// Limit is a limit at the temperature of the reading, with what the value is
// against it.
type Limit struct {
	Bound
	PWithin float64 `json:"p_within"`
	Likely  string  `json:"likely"`
	Verdict string  `json:"verdict"`
	Call    string  `json:"call"` // verdict and likelihood in words, or why it is not to be called yet
}

// Identified is what was seen of the vehicle, and how likely that makes what the
// job is on.
type Identified struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	Basis       string  `json:"basis"` // of the shares that the looks were weighed by
	Looks       []Seen  `json:"looks"`
}

// Seen is a look with its answer.
type Seen struct {
	Ask string `json:"ask"`
	Say string `json:"say"`
}

// Correction puts other values in place of those of a reading, which stay at
// their event.
type Correction struct {
	Reading string   `json:"reading"`
	Event   int      `json:"event"` // of the reading
	Was     []string `json:"was"`
	Values  []Value  `json:"values"`
}

// Cause is a likely cause with its share.
type Cause struct {
	ID     string  `json:"id"`
	Name   string  `json:"name"`
	Share  float64 `json:"share"`
	Mended bool    `json:"mended"` // every repair that it needs was done
}

// Shift is a cause before and after an event.
type Shift struct {
	ID     string   `json:"id"`
	Name   string   `json:"name"`
	Before *float64 `json:"before,omitempty"` // none = before any reading
	After  float64  `json:"after"`
}
