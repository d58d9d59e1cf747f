package report

import (
	"chargewright/advice"
	"chargewright/drawing"
	"chargewright/system"
)

// CardFormat is the version of the data of a job card. Older ones are never given
// another meaning.
const CardFormat = 1

// Card is what a technician takes to the vehicle: the next step and those that
// are likely to follow, each with its hook-up, the limits at today's temperature
// and blanks to fill. Its JSON form is described by the schema output-report-card.
type Card struct {
	Format     int          `json:"format"`
	Job        string       `json:"job,omitempty"`
	System     advice.Named `json:"system"`
	SystemSHA  string       `json:"system_sha256"`
	Practice   string       `json:"practice_sha256"`
	Engine     string       `json:"engine"`
	EventsSHA  string       `json:"events_sha256"`
	Vehicle    Vehicle      `json:"vehicle"`
	Complaint  Complaint    `json:"complaint"`
	Conditions []Condition  `json:"conditions"`
	Assumed    []string     `json:"assumed"`
	Stands     []advice.At  `json:"stands"`  // places not at rest
	Against    []string     `json:"against"` // rules that the hook-up breaks as it is
	Causes     []CardCause  `json:"causes"`
	Steps      []CardStep   `json:"steps"`

	sys *system.System
}

// CardCause is a likely cause with the letter that marks it on the drawing.
type CardCause struct {
	Letter string  `json:"letter,omitempty"`
	Name   string  `json:"name"`
	Share  float64 `json:"share"`
}

// CardStep is one step.
type CardStep struct {
	N         int               `json:"n"`
	When      []string          `json:"when"`             // what must have come out before it; none = it is next
	Chance    float64           `json:"chance,omitempty"` // that it follows
	Do        string            `json:"do"`
	Verb      string            `json:"verb"`
	Name      string            `json:"name"`
	Procedure string            `json:"procedure,omitempty"`
	Repair    string            `json:"repair,omitempty"`
	Why       string            `json:"why"`
	Cost      string            `json:"cost"`
	Confirm   []string          `json:"confirm"`
	Warn      []string          `json:"warn"`
	Lines     []CardLine        `json:"lines"` // the hook-up
	Hold      []string          `json:"hold"`
	Watch     []advice.Cautions `json:"watch"` // while it is read
	Work      []string          `json:"work"`
	Cautions  []advice.Cautions `json:"cautions"` // of the work, not told at a line
	Boxes     []Box             `json:"boxes"`
	Question  string            `json:"question,omitempty"` // of a look
	Answers   []Answer          `json:"answers,omitempty"`
	Expect    []Expected        `json:"expect"`

	picture *drawing.Options // nil = nothing to draw
}

// Drawing is what the circuit of a step shows; nil = there is nothing to draw.
func (x CardStep) Drawing() *drawing.Options { return x.picture }

// CardLine is one line of a hook-up, to tick.
type CardLine struct {
	N        int               `json:"n"`
	Say      string            `json:"say"`
	Leads    []string          `json:"leads,omitempty"`
	Cautions []advice.Cautions `json:"cautions"`
	Again    []AsAt            `json:"again,omitempty"` // cautions that stand in full at an earlier line
}

// AsAt points to a caution.
type AsAt struct {
	Line  int    `json:"line"`
	ID    string `json:"id"`
	Begin string `json:"begin"`
}

// Box is a blank for one value.
type Box struct {
	Name     string   `json:"name"`
	Quantity string   `json:"quantity"`
	Leads    string   `json:"leads,omitempty"`
	Units    []string `json:"units"` // usual one first
	Meter    string   `json:"meter,omitempty"`
	Optional bool     `json:"optional,omitempty"`
	Limits   []Bound  `json:"limits"`
}

// Answer is one answer of a look.
type Answer struct {
	Name   string `json:"name"`
	Chance string `json:"chance"`
}

// Expected is what a step would read under one cause.
type Expected struct {
	Letter string `json:"letter,omitempty"`
	Name   string `json:"name"`
	Words  string `json:"words"`
}
