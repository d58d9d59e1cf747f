package job

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"chargewright/advice"
	"chargewright/identify"
	"chargewright/system"
)

// Identified is that somebody looked at what is fitted: before the job was
// opened, or afterwards.
const Identified Kind = "identified"

// IdentifiedBody says by which looks the arrangement of a job was chosen or
// confirmed. Words and shares are those of the program that recorded it, since a
// newer one may ask and weigh otherwise.
type IdentifiedBody struct {
	System      string     `json:"system"`          // that of the job, by id
	Name        string     `json:"name"`            // of its arrangement; the system's own where the catalogue has none
	Looks       []LookBody `json:"looks"`           // in the catalogue's order
	Probability float64    `json:"probability"`     // of its arrangement, by the looks alone
	Other       *OtherBody `json:"other,omitempty"` // that the looks speak for more
	Basis       string     `json:"basis"`           // of the shares that the looks were weighed by
}

// LookBody is one look: its question and what was seen, by id and in words.
type LookBody struct {
	Look   string `json:"look"`
	Answer string `json:"answer"`
	Ask    string `json:"ask"`
	Say    string `json:"say"`
}

// OtherBody is what the vehicle is likelier to be than what was chosen.
type OtherBody struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
}

// IdentifiedBy weighs what was seen of a vehicle whose job is on a system. The
// error is a problem.List with every answer that is none.
func IdentifiedBy(lib *identify.Catalogue, s *system.System, answers map[string]string) (IdentifiedBody, error) {
	b := IdentifiedBody{System: s.ID, Name: s.Name, Basis: lib.Basis}
	if err := lib.Check(answers); err != nil {
		return b, err
	}
	for _, l := range lib.Looks {
		for _, a := range l.Answers {
			if a.ID == answers[l.ID] {
				b.Looks = append(b.Looks, LookBody{Look: l.ID, Answer: a.ID, Ask: l.Ask, Say: a.Say})
			}
		}
	}
	w := lib.Weigh(answers)
	own, known := w.Of(s.ID, s.Arrangement)
	if known {
		b.Name, b.Probability = own.Name(), fourth(own.Probability)
	}
	switch likeliest := w.Findings[0]; {
	case w.None >= likeliest.Probability:
		b.Other = &OtherBody{Name: "none of these kinds", Probability: fourth(w.None)}
	case !known || likeliest.Name() != own.Name():
		b.Other = &OtherBody{Name: likeliest.Name(), Probability: fourth(likeliest.Probability)}
	}
	return b, nil
}

// fourth rounds a share to the fourth place, so that the same looks give the same
// bytes on every machine.
func fourth(p float64) float64 { return math.Round(p*1e4) / 1e4 }

// Title says what was identified, and by how much.
func (b IdentifiedBody) Title() string {
	looks := "looks"
	if len(b.Looks) == 1 {
		looks = "look"
	}
	return fmt.Sprintf("Identified by %d %s: %s", len(b.Looks), looks, b.Name)
}

// Says is what the looks say of the arrangement, and what they speak for more.
func (b IdentifiedBody) Says() string {
	out := advice.Percent(b.Probability) + " likely by what was seen (shares: " + b.Basis + ")"
	if b.Other != nil {
		out += "; it speaks more for: " + b.Other.Name + ", " + advice.Percent(b.Other.Probability)
	}
	return out
}

// Seen are the looks as sentences.
func (b IdentifiedBody) Seen() []string {
	var out []string
	for _, l := range b.Looks {
		out = append(out, l.Ask+" "+advice.Capital(l.Say))
	}
	return out
}

// identified applies an identification: a job stays on the arrangement that it
// was opened with, since its readings were weighed on it.
func (f *folder) identified(e Event) error {
	var b IdentifiedBody
	if err := decode(e, &b); err != nil {
		return err
	}
	switch {
	case b.System != f.j.SystemID:
		return fmt.Errorf("the job is on system %s and stays there; open a new job on %s", f.j.SystemID, b.System)
	case len(b.Looks) == 0:
		return errors.New("nothing was looked at")
	case math.IsNaN(b.Probability) || b.Probability < 0 || b.Probability > 1:
		return fmt.Errorf("a probability of %g is none", b.Probability)
	}
	for _, l := range b.Looks {
		if strings.TrimSpace(l.Ask) == "" || strings.TrimSpace(l.Say) == "" {
			return fmt.Errorf("look %s does not say what was asked or seen", l.Look)
		}
	}
	f.j.Identified = &b
	f.add(e, "", -1, b)
	return nil
}
