package advice

import "slices"

// proofReadings prove a repair: idle, 1250 rpm without and with loads, both
// drops, the drain. Source: common practice.
var proofReadings = []string{"idle-volts", "charge-volts", "loaded-output", "drop-feed", "drop-earth", "drain"}

// ProofReadings are the procedures of the proof, in order.
func ProofReadings() []string { return slices.Clone(proofReadings) }

// ProofLine is one reading of the proof, before and after the repairs.
type ProofLine struct {
	Procedure, Name string
	Minutes         string
	Before, After   *Reading // nil = not taken
	BeforeID        string
	AfterID         string
}

// Proof is the list of readings that prove the repairs, with what stands of
// them. A reading counts as after when no repair came later.
func (s *Standing) Proof() []ProofLine {
	var out []ProofLine
	for _, id := range proofReadings {
		p, ok := s.Board.Procedure(id)
		if !ok {
			continue
		}
		line := ProofLine{Procedure: id, Name: p.Name, Minutes: MinutesWords(s.work(id))}
		for _, rid := range s.Advice.Order {
			r := s.Advice.Readings[rid]
			switch {
			case r.Procedure != id:
			case r.Epoch == len(s.In.Repairs):
				line.After, line.AfterID = r, rid
			default:
				line.Before, line.BeforeID = r, rid
			}
		}
		out = append(out, line)
	}
	return out
}

// Mended says how sure it is that nothing on the list is left.
func (s *Standing) Mended() string { return Percent(s.Advice.Mended) }

// RepairName puts a repair into words, "" for one that is not known.
func (d *Desk) RepairName(class string) string { return d.repairName(class) }
