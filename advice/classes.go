package advice

// Class is one answer of a look, with what it would lead to.
type Class struct {
	Name   string
	Chance string
	Leads  []Portion
}

// classes says for every answer of a look which causes it would leave.
func (d *Desk) classes(names []string, p map[string][]float64, order []string, share map[string]float64, none float64) []Class {
	var out []Class
	for k, name := range names {
		c := Class{Name: name}
		total := none / float64(len(names))
		for _, id := range order {
			if p[id] != nil && share[id] >= toldFrom {
				total += share[id] * p[id][k]
			}
		}
		for _, id := range order {
			after := 0.0
			if p[id] != nil && share[id] >= toldFrom && total > 0 {
				after = share[id] * p[id][k] / total
			}
			if after >= 0.1 && len(c.Leads) < 3 {
				letter := d.letter(orNoFault(id))
				c.Leads = append(c.Leads, Portion{ID: id, Letter: letter, Name: d.suspectName(id), Share: after, Fill: Fill(letter)})
			}
		}
		sortBy(c.Leads, func(p Portion) float64 { return p.Share })
		c.Leads = lay(c.Leads)
		c.Chance = Percent(total)
		out = append(out, c)
	}
	return out
}
