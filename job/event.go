package job

import "time"

// Kind is what kind of thing happened.
type Kind string

// The kinds of event. A kind and its version are never used for another body.
const (
	Opened     Kind = "opened"
	Took       Kind = "reading"
	FoundRig   Kind = "rig"
	CouldNot   Kind = "could-not"
	Corrected  Kind = "correct"
	Repaired   Kind = "repair"
	bodyFormat      = 1 // V of every body below
)

// Event is one thing that happened to a job. The envelope knows no body: Body
// is kept as the bytes that were written, so that a hash over it stays good.
type Event struct {
	ID       string    `json:"id"` // given by who records it; recording the same id twice is once
	Stream   string    `json:"stream,omitempty"`
	Seq      int       `json:"seq"` // place in the stream, from 1: the order, whatever clocks say
	Kind     Kind      `json:"kind"`
	V        int       `json:"v"`
	Body     []byte    `json:"body"`
	At       time.Time `json:"at,omitzero"`       // as the device claims
	Recorded time.Time `json:"recorded,omitzero"` // as the server saw it
	Device   string    `json:"device,omitempty"`
	Person   string    `json:"person,omitempty"`
	Seen     int       `json:"seen,omitempty"`   // last Seq the device knew; 0 = all before this one
	Engine   string    `json:"engine,omitempty"` // version of the program that recorded it
}

// OpenedBody begins a job.
type OpenedBody struct {
	Job        string      `json:"job,omitempty"`
	System     string      `json:"system"`        // id in the library, or a path
	SHA256     string      `json:"system_sha256"` // of the system file's bytes, hex
	Vehicle    Vehicle     `json:"vehicle,omitzero"`
	Customer   string      `json:"customer,omitempty"` // id in the workshop's table of customers: no name or plate stands in an event
	Opened     time.Time   `json:"opened,omitzero"`
	Complaint  *Complaint  `json:"complaint,omitempty"`
	Conditions *Conditions `json:"conditions,omitempty"`
	Meters     []string    `json:"meters,omitempty"` // instrument ids to hand
}

// Vehicle is what the job file says of the vehicle.
type Vehicle struct {
	Volts float64 `json:"volts,omitempty"` // nominal [V]
	Note  string  `json:"note,omitempty"`
}

// Complaint is what the customer says. The lists hold words of the vocabulary
// in words.go.
type Complaint struct {
	Kind    string   `json:"kind"`
	Words   string   `json:"words,omitempty"` // the customer's own
	When    []string `json:"when,omitempty"`
	Before  []string `json:"before,omitempty"`
	Noticed []string `json:"noticed,omitempty"`
	Use     []string `json:"use,omitempty"`
}

// Conditions are temperatures [K]; nil = derive it.
type Conditions struct {
	Ambient   *float64 `json:"ambient_k,omitempty"`
	Battery   *float64 `json:"battery_k,omitempty"`
	Regulator *float64 `json:"regulator_k,omitempty"`
	Rotor     *float64 `json:"rotor_k,omitempty"`
	Hot       bool     `json:"hot,omitempty"` // bay soaked: 15 minutes under load
}

// ReadingBody is one reading as it was entered. Either Procedure is given, or
// Quantity with Between or Through.
type ReadingBody struct {
	ID        string            `json:"id"`
	Procedure string            `json:"procedure,omitempty"`
	Quantity  string            `json:"quantity,omitempty"`
	Between   []string          `json:"between,omitempty"` // red, black
	Through   string            `json:"through,omitempty"`
	Meter     string            `json:"meter,omitempty"`
	Rig       map[string]string `json:"rig,omitempty"` // place to position, seen so
	Held      []HeldBody        `json:"held,omitempty"`
	With      []WithBody        `json:"with,omitempty"` // what stood on the other meters
	Values    []ValueBody       `json:"values"`
	Showing   string            `json:"showing,omitempty"` // yes, no, "" = cannot tell
	Seat      int               `json:"seat,omitempty"`
	Hot       bool              `json:"hot,omitempty"`
	Basis     string            `json:"basis,omitempty"` // entered unless given

	Instruments []InstrumentBody `json:"instruments,omitempty"` // that it was read with; none = not said
}

// HeldBody is what was adjusted by hand, and to what [SI].
type HeldBody struct {
	What   string  `json:"what"`
	Target float64 `json:"target"`
}

// WithBody is a value read beside the reading.
type WithBody struct {
	What  string    `json:"what"` // see words.go
	Value ValueBody `json:"value"`
}

// ValueBody is one value, SI.
type ValueBody struct {
	How   string  `json:"how"`
	X     float64 `json:"x,omitempty"`
	Lo    float64 `json:"lo,omitempty"`
	Hi    float64 `json:"hi,omitempty"`
	U     float64 `json:"u,omitempty"`
	Class string  `json:"class,omitempty"`
	Why   string  `json:"why,omitempty"`
}

// RigBody says how the vehicle was found: place to position. Places not named
// stay as they were.
type RigBody struct {
	Rig   map[string]string `json:"rig"`
	Leads []string          `json:"leads,omitempty"` // that are on for the next reading: red/black point, or the wire of a clamp
}

// CouldNotBody is a procedure that could not be done.
type CouldNotBody struct {
	Procedure string `json:"procedure"`
	Why       string `json:"why"`
}

// CorrectBody replaces the values of an earlier reading.
type CorrectBody struct {
	ID     string      `json:"id"`
	Values []ValueBody `json:"values"`
	Why    string      `json:"why"`
}

// RepairBody is work done on the vehicle. What follows belongs to a new epoch.
type RepairBody struct {
	ID     string `json:"id"`
	Part   string `json:"part,omitempty"`
	Repair string `json:"repair,omitempty"` // repair id of the practice file
	What   string `json:"what,omitempty"`
	Cured  string `json:"cured"` // yes, no, unknown
}
