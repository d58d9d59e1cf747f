package main

import (
	"fmt"

	"chargewright/advice"
)

// proofText sets the readings before the repair beside those after it.
func (d *demonstration) proofText(t *text) {
	if len(d.ours.proof) == 0 {
		return
	}
	t.head("PROOF: the same vehicle after the repair")
	last := d.ours.proof[len(d.ours.proof)-1]
	in := last.in
	in.Readings = append(append(in.Readings[:0:0], in.Readings...), *last.reading)
	at := len(in.Readings) - len(d.ours.proof)
	for i := range d.ours.proof {
		r, err := d.desk.Reading(in, &last.after, at+i)
		if err != nil {
			return // every reading was described when it was taken
		}
		t.line(2, "%s", r.Name)
		for _, v := range r.Values {
			t.reading(v)
			for _, n := range v.Notes {
				t.hang("        note: ", n)
			}
			if b := d.before(in, r.Procedure, v.Name, at); b != "" {
				t.line(8, "before the repair: %s", b)
			}
		}
	}
	t.line(2, "That nothing on the list is left: %s (%s).", percent(d.ours.sound), advice.Odds(d.ours.sound))
}

// before is a value as it was read before the repair, "" if it was not.
func (d *demonstration) before(in advice.Input, procedure, name string, until int) string {
	for i := until - 1; i >= 0; i-- {
		if in.Readings[i].Question.Procedure != procedure {
			continue
		}
		r, err := d.desk.Reading(in, &d.ours.proof[0].belief, i)
		if err != nil {
			return ""
		}
		for _, v := range r.Values {
			if v.Name == name {
				return shown(v)
			}
		}
	}
	return ""
}

// costText sets this job beside other ways of working on the same vehicle with
// the same meters and the same noise.
func (d *demonstration) costText(t *text) {
	t.head("WHAT IT TOOK, against other orders on the same vehicle")
	widths := []int{35, 8, 7, 9, 6}
	t.columns(2, widths, "", "minutes", "parts", "readings", "moves", "repairs")
	row := func(name string, p *played) {
		repairs := fmt.Sprintf("%d", p.repairs)
		switch {
		case !p.cured && len(d.hidden.faults) > 0:
			repairs += ", not cured"
		case p.wrong > 0:
			repairs += fmt.Sprintf(", %d in vain", p.wrong)
		}
		t.columns(2, widths, name, fmt.Sprintf("%.0f", p.minutes), fmt.Sprintf("%.0f", p.money), fmt.Sprintf("%d", p.tests), fmt.Sprintf("%d", p.moves), repairs)
	}
	row("this program's", d.ours)
	for _, o := range d.others {
		row(o.name, o.played)
	}
	labour := d.desk.Practice.Labour.Amount
	t.line(2, "Minutes hold the hook-ups, the waiting, the repair and its proof. At %.0f an hour (%s) this job came to %.0f with parts; the others to %s.",
		labour, d.desk.Practice.Labour.Basis, money(d.ours, labour), d.otherMoney(labour))
	t.line(2, "The other orders are given the same reasoning from each reading and stop at %.0f %% or after %d readings; only what to read next differs.", 100*sureFixed, enough)
	if b, err := readBenchmark(); err == nil && d.desk.System.ID == demoSystem { // held by a test; measured on that one
		t.line(2, "%s", b.words())
	}
}

func money(p *played, labour float64) float64 { return p.minutes/60*labour + p.money }

func (d *demonstration) otherMoney(labour float64) string {
	out := ""
	for i, o := range d.others {
		if i > 0 {
			out += " and "
		}
		out += fmt.Sprintf("%.0f", money(o.played, labour))
	}
	return out
}
