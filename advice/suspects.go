package advice

import (
	"strings"

	"chargewright/diagnosis"
	"chargewright/planning"
)

// named is how small a share of its group a fault may have and still be named
// with it.
const named = 0.15

func (d *Desk) describeSuspects(a *Advice, b *diagnosis.Belief) {
	a.Suspects = []Suspect{}
	mended, ids := map[string]bool{}, b.SuspectIDs(d.groups)
	for i := range b.Hyps {
		left := planning.Remaining(b, i)
		if left == "" {
			a.Mended += b.Posterior(i)
		}
		if len(b.Hyps[i].Faults) > 0 && left == "" {
			mended[ids[i]] = true
		}
	}
	for _, s := range b.Suspects(d.groups) {
		out := Suspect{ID: s.ID, Repair: s.Repair, RepairName: d.repairName(s.Repair), Mended: mended[s.ID], Probability: s.Probability}
		var names []string
		for _, f := range s.Faults {
			name := d.faultName(f.Fault)
			out.Faults = append(out.Faults, Share{Fault: f.Fault, Name: name, Share: f.Share, Intermittent: f.Intermittent, Note: d.faultNote(f.Fault)})
			if len(names) == 0 || f.Share > named*s.Probability {
				names = append(names, name)
			}
		}
		out.Name = strings.Join(names, ", or ")
		a.Suspects = append(a.Suspects, out)
	}
}

// faultOf is hypothesis i's own name, "no-fault" for the sound vehicle.
func (d *Desk) faultOf(b *diagnosis.Belief, i int) string {
	if len(b.Hyps[i].Faults) == 0 {
		return noFault
	}
	var ids []string
	for _, f := range b.Hyps[i].Faults {
		ids = append(ids, d.System.Faults[f].ID)
	}
	return strings.Join(ids, "+")
}

const (
	noFault = "no-fault"
	noneOf  = "none-of-these"
)

// faultName puts a fault, or two joined by +, into words.
func (d *Desk) faultName(id string) string {
	return d.eachFault(id, " and ", func(i int) string { return d.System.Faults[i].Name })
}

// Name puts a fault's id, or two joined by +, into words.
func (d *Desk) Name(fault string) string { return d.faultName(fault) }

func (d *Desk) faultNote(id string) string {
	return d.eachFault(id, " ", func(i int) string { return d.System.Faults[i].Note })
}

func (d *Desk) eachFault(id, join string, say func(int) string) string {
	var out []string
	for _, one := range strings.Split(id, "+") {
		if i, ok := d.Model.FaultIndex(one); ok && say(i) != "" {
			out = append(out, say(i))
		}
	}
	return strings.Join(out, join)
}

// leader is the hypothesis that the leading suspect is judged by: its likeliest
// one that shows. False when nothing is suspected.
func (d *Desk) leader(a *Advice, b *diagnosis.Belief) (int, bool) {
	if len(a.Suspects) == 0 {
		return 0, false
	}
	best, found, ids := 0, false, b.SuspectIDs(d.groups)
	for i := range b.Hyps {
		h := &b.Hyps[i]
		if len(h.Faults) == 0 || h.Intermittent || ids[i] != a.Suspects[0].ID || len(h.Fits) == 0 {
			continue
		}
		if !found || b.Posterior(i) > b.Posterior(best) {
			best, found = i, true
		}
	}
	return best, found
}
