package advice

import (
	"slices"
	"strings"

	"chargewright/system"
)

// wheres are the places of a vehicle at which repairs are done, with the parts there, in
// the order of the current: what a part that is not listed belongs to is anything else.
var wheres = []struct {
	name  string
	parts []string
}{
	{"Alternator, belt, bracket", []string{
		"alternator", "second-alternator", "rectifier", "capacitor", "brushes", "pulley", "overrunning-pulley", "belt", "belt-2", "bracket", "bracket-2",
	}},
	{"Regulator and field", []string{
		"regulator", "regulator-earth", "regulator-plug", "regulator-plug-2", "regulator-wires", "field-leads", "field-earth", "field-wire", "control-wire",
		"feed-wire", "sense-wire", "sense-wire-2", "command-line", "feedback-line", "control-unit", "battery-sensor",
	}},
	{"Charge wire", []string{
		"charge-wire", "charge-wire-2", "minus-wire", "junction-stud", "bulkhead-connector", "fusible-link", "ammeter", "splitter", "split-relay", "split-wire",
		"split-link", "relay-wire", "relay-earth", "junction-box", "strip-fuse-2",
	}},
	{"Batteries and their cables", []string{
		"battery", "second-battery", "battery-clamps", "battery-cable", "series-link", "isolator", "isolator-rings", "starter", "starter-cable",
		"starter-stud", "jump-post",
	}},
	{"Earths", []string{"earth-cable", "second-earth", "body-strap", "body-lead", "chassis-cable", "frame-joints"}},
	{"Dash, key, lamps", []string{
		"dash-harness", "ignition-switch", "feed-connector", "lamp", "lamp-2", "lamp-wire", "lamp-wire-2", "lamp-fuse", "warning-lamp", "dash-line", "cluster",
	}},
	{"Lines to what draws", []string{"front-feed", "headlamp-line", "stop-line", "saloon-feed", "lights-line", "fan-line", "fan-2-line", "kitchen-line"}},
	{anythingElse, nil},
}

const anythingElse = "Anything else"

// whereOf says where on the vehicle a repair is done: where the parts of the faults are
// that it cures.
func whereOf(sys *system.System, repair string) string {
	for _, f := range sys.Faults {
		if f.Repair != repair {
			continue
		}
		for _, w := range wheres {
			if slices.Contains(w.parts, f.Part) {
				return w.name
			}
		}
	}
	return anythingElse
}

// likelyRepair is the share from which a repair stands first on the list, likeliest
// first; the others follow by where they are on the vehicle.
const likelyRepair = 0.01

// RepairGroup is a part of the list of repairs.
type RepairGroup struct {
	Name    string
	Choices []RepairChoice
}

// RepairGroups are all repairs, those that are likely first and the others by where they
// are done.
func (s *Standing) RepairGroups() []RepairGroup {
	groups := []RepairGroup{{Name: "Likely now"}}
	for _, w := range wheres {
		groups = append(groups, RepairGroup{Name: w.name})
	}
	for _, c := range s.Repairs() {
		k := 0
		if c.Share < likelyRepair {
			where := whereOf(s.System, c.ID)
			k = slices.IndexFunc(groups, func(g RepairGroup) bool { return g.Name == where })
		}
		groups[k].Choices = append(groups[k].Choices, c)
	}
	for _, g := range groups[1:] {
		slices.SortStableFunc(g.Choices, func(a, b RepairChoice) int { return strings.Compare(a.Name, b.Name) })
	}
	return slices.DeleteFunc(groups, func(g RepairGroup) bool { return len(g.Choices) == 0 })
}
