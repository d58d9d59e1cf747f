package main

import (
	"fmt"
	"math"
	"slices"

	"chargewright/prediction"
	"chargewright/truth"
)

// pair is a fault, how bad, and a procedure in whose setup it is looked at.
type pair struct {
	fault     string  // "" = sound
	magnitude float64 // SI; 0 = the fault has none
	procedure string
	resting   bool               // look for the regulator's other answer as well
	figures   map[string]float64 // figures that matter to the pair, in spreads
}

// pairLists are, by system, the spread of faults and rigs on which prediction is
// held against ngspice. For the first: every rectifier pattern that the vehicle
// knows, the machine's other faults, feed and earths, the regulator's feedback
// through its leads, charge and discharge, and the rig with the field jumped. For
// the others what their regulator and field have of their own.
var pairLists = map[string][]pair{
	first: firstPairs,
	"supply-side-contact": {
		{procedure: "battery-rest-volts"},
		{procedure: "charge-volts"},
		{procedure: "loaded-output"},
		{procedure: "quick-volts", resting: true},
		{procedure: "field-draw-supply"},
		{procedure: "full-field-supply"},
		{fault: "regulator-contacts-burnt", magnitude: 4, procedure: "loaded-output"},
		{fault: "regulator-second-stuck", procedure: "field-volts-supply"},
		{fault: "regulator-no-field", procedure: "field-feed-supply"},
		{fault: "regulator-winding-open", procedure: "charge-volts"},
		{fault: "regulator-earth", magnitude: 3, procedure: "charge-volts", resting: true},
		{fault: "regulator-earth-open", procedure: "quick-volts"},
		{fault: "regulator-unsteady", magnitude: 2, procedure: "charge-volts"},
		{fault: "reg-plug-feed-pin", magnitude: 0.6, procedure: "quick-volts", resting: true},
		{fault: "field-wire-earthed", magnitude: 1.5, procedure: "field-current-supply"},
		{fault: "rotor-earthed-a", magnitude: 2, procedure: "charge-volts"},
		{fault: "diode-short", procedure: "charge-volts"},
		{fault: "charge-wire-open", procedure: "stud-volts"},
	},
	"output-fed-earth-side": {
		{procedure: "battery-rest-volts"},
		{procedure: "sense-volts", resting: true},
		{procedure: "loaded-output"},
		{procedure: "field-draw-output"},
		{procedure: "full-field-output"},
		{fault: "sense-wire-open", procedure: "quick-volts"},
		{fault: "reg-plug-sense-pin", magnitude: 2, procedure: "walk-sense", resting: true},
		{fault: "regulator-full-field", procedure: "field-draw-key-off"},
		{fault: "regulator-full-field", procedure: "charge-volts"},
		{fault: "regulator-earth", magnitude: 0.3, procedure: "charge-volts", resting: true},
		{fault: "rotor-earthed-a", magnitude: 2, procedure: "drain"},
		{fault: "rotor-earthed-b", magnitude: 0.3, procedure: "plug-off-field-output"},
		{fault: "feed-joint-stud", magnitude: 0.08, procedure: "loaded-output"},
		{fault: "charge-wire-open", procedure: "sense-volts"},
		{fault: "diode-open", procedure: "ac-volts-low"},
	},
	"lamp-excited": {
		{procedure: "battery-rest-volts"},
		{procedure: "dplus-volts-key-on"},
		{procedure: "idle-volts"},
		{procedure: "dplus-volts"},
		{procedure: "dplus-volts-loaded"},
		{procedure: "ac-volts"},
		{fault: "lamp-blown", procedure: "quick-volts"},
		{fault: "lamp-blown", procedure: "blip-volts"},
		{fault: "lamp-led", magnitude: 1000, procedure: "quick-volts"},
		{fault: "lamp-led", magnitude: 1000, procedure: "dplus-volts-key-on"},
		{fault: "lamp-wire-earthed", magnitude: 0.2, procedure: "blip-volts"},
		{fault: "field-diode-open", procedure: "dplus-volts-loaded"},
		{fault: "field-diode-short", procedure: "dplus-volts"},
		{fault: "trio-joint", magnitude: 2, procedure: "dplus-volts"},
		{fault: "diode-open", procedure: "dplus-volts"},
		{fault: "diode-open-negative", procedure: "loaded-output"},
		{fault: "diode-short", procedure: "drain-charge-wire"},
		{fault: "diode-short", procedure: "dplus-volts-loaded"},
		{fault: "diode-short-negative", procedure: "dplus-volts"},
		{fault: "brush-lead-off", procedure: "dplus-volts-key-on"},
		{fault: "charge-wire-strands", magnitude: 0.06, procedure: "loaded-output"},
		{fault: "feed-joint-stud", magnitude: 0.02, procedure: "loaded-output"},
		{fault: "rotor-open", procedure: "dplus-volts-key-on"},
		{fault: "brush-worn", magnitude: 2, procedure: "loaded-output"},
		{fault: "regulator-no-field", procedure: "blip-volts"},
	},
	"lamp-excited-24": {
		{procedure: "half-rest-volts"},
		{procedure: "half-charge-volts"},
		{procedure: "dplus-volts-key-on"},
		{procedure: "crank-halves"},
		{procedure: "loaded-output"},
		{procedure: "half-load-rear"},
		{procedure: "walk-link-pair"},
		{fault: "middle-tapped", magnitude: 2.1, procedure: "half-charge-volts"},
		{fault: "middle-tapped", magnitude: 2.1, procedure: "middle-amps"},
		{fault: "second-battery-cell-down", magnitude: 2, procedure: "half-charge-volts"},
		{fault: "second-battery-worn", magnitude: 6, procedure: "crank-halves"},
		{fault: "link-poor", magnitude: 0.05, procedure: "walk-link-pair"},
		{fault: "isolator-minus", magnitude: 0.03, procedure: "crank-isolator-minus"},
		{fault: "lamp-blown", procedure: "blip-volts"},
		{fault: "lamp-led", magnitude: 2000, procedure: "quick-volts"},
		{fault: "field-diode-open", procedure: "idle-volts"},
		{fault: "diode-short", procedure: "drain-charge-wire"},
		{fault: "battery-cell-down", magnitude: 1.2, procedure: "half-charge-volts"},
	},
	"split-charge": {
		{procedure: "second-rest-volts"},
		{procedure: "second-charge-volts"},
		{procedure: "relay-drop"},
		{procedure: "relay-coil-volts"},
		{procedure: "crank-split"},
		{procedure: "battery-load"},
		{fault: "relay-stuck-open", procedure: "second-charge-volts"},
		{fault: "relay-stuck-closed", procedure: "crank-split"},
		{fault: "relay-earth-poor", magnitude: 400, procedure: "relay-coil-volts"},
		{fault: "relay-earth-poor", magnitude: 90, procedure: "second-charge-volts"},
		{fault: "relay-contacts-poor", magnitude: 0.1, procedure: "relay-drop"},
		{fault: "split-fuse-blown", procedure: "relay-drop"},
		{fault: "lamp-blown", procedure: "second-charge-volts"},
		{fault: "rotor-open", procedure: "dplus-volts-key-on"},
		{fault: "second-battery-worn", magnitude: 6, procedure: "second-loaded-volts"},
	},
	// Two machines. Light load is batteries near full; a spread of a set-point is 0.15 V.
	"coach-24": {
		{procedure: "half-rest-volts"},
		{procedure: "both-light-amps", figures: map[string]float64{"regulator.setpoint": 0.67, "second-regulator.setpoint": -0.67, "battery.soc": 2}},
		{procedure: "both-light-amps", figures: map[string]float64{"regulator.setpoint": -0.67, "second-regulator.setpoint": 0.67, "battery.soc": 2}},
		{procedure: "both-forced-amps", figures: map[string]float64{"regulator.setpoint": 0.67, "second-regulator.setpoint": -0.67}},
		{procedure: "both-idle-amps"},
		{procedure: "both-lamp-pins"},
		{fault: "second-rotor-open", procedure: "both-light-amps"},
		{fault: "second-rotor-open", procedure: "both-forced-amps"},
		{fault: "rotor-open", procedure: "both-forced-amps"},
		{fault: "second-diode-short", procedure: "both-forced-amps"},
		{fault: "diode-short", procedure: "both-idle-amps"},
		{fault: "second-battery-cell-down", magnitude: 2, procedure: "half-charge-volts"},
		{fault: "second-regulator-full-field", procedure: "both-light-amps"},
		{fault: "second-regulator-set-low", magnitude: 0.95, procedure: "both-forced-amps"},
		{fault: "second-stud-joint", magnitude: 0.05, procedure: "walk-second-stud"},
		{fault: "second-sense-wire-open", procedure: "both-forced-amps"},
		{fault: "second-lamp-blown", procedure: "both-lamp-pins"},
		// junction box, feeds, chassis, lines that two machines share
		{fault: "box-starter-ring", magnitude: 0.02, procedure: "walk-starter-cable"},
		{fault: "isolator-ring-minus", magnitude: 0.01, procedure: "crank-walk-minus"},
		{fault: "frame-joint-rear", magnitude: 0.03, procedure: "drop-chassis"},
		{fault: "saloon-fuse-joint", magnitude: 0.03, procedure: "drop-saloon-feed"},
		{fault: "second-sense-connector-open", procedure: "both-forced-amps"},
		{fault: "cluster-feed-open", procedure: "both-lamp-pins"},
	},
	"diode-splitter": {
		{procedure: "second-rest-volts"},
		{procedure: "stud-minus-volts"},
		{procedure: "splitter-drop"},
		{procedure: "splitter-drop-loaded"},
		{procedure: "drop-minus"},
		{procedure: "dplus-minus-volts"},
		{fault: "sense-before-splitter", procedure: "stud-minus-volts"},
		{fault: "sense-before-splitter", procedure: "splitter-drop"},
		{fault: "splitter-two-open", procedure: "splitter-drop"},
		{fault: "splitter-one-open", procedure: "stud-minus-volts"},
		{fault: "splitter-two-short", procedure: "splitter-drop-loaded"},
		{fault: "splitter-two-short", procedure: "splitter-plate-cold"},
		{fault: "splitter-joint-two", magnitude: 0.05, procedure: "splitter-drop-loaded"},
		{fault: "minus-wire-poor", magnitude: 0.05, procedure: "drop-minus"},
		{fault: "split-fuse-blown", procedure: "splitter-drop"},
		{fault: "second-battery-worn", magnitude: 6, procedure: "stud-minus-volts"},
	},
	"built-in-sense": {
		{procedure: "battery-rest-volts"},
		{procedure: "sense-volts-inside", resting: true},
		{procedure: "lamp-pin-key-on"},
		{procedure: "loaded-output"},
		{procedure: "loaded-output-idle"},
		{fault: "sense-wire-open", procedure: "sense-volts-inside"},
		{fault: "lamp-bulb-blown", procedure: "lamp-pin-running"},
		{fault: "lamp-wire-earthed", magnitude: 0.3, procedure: "lamp-pin-running"},
		{fault: "feed-joint-stud", magnitude: 0.06, procedure: "stud-volts"},
		{fault: "regulator-full-field", procedure: "drain"},
		{fault: "regulator-full-field", procedure: "lamp-pin-running"},
		{fault: "rotor-open", procedure: "lamp-pin-running"},
		{fault: "belt-slip", magnitude: 0.3, procedure: "loaded-output-idle"},
		{fault: "charge-wire-open", procedure: "sense-volts-inside"},
		{fault: "diode-open", procedure: "ac-volts-low"},
	},
	// In its narrow band this loop hunts in ngspice (docs/models/vehicles-built-in.md):
	// what is held is looked at with the band of an unsteady regulator, the rest at
	// full field, without field and with the engine off.
	"commanded": {
		{procedure: "battery-rest-volts"},
		{procedure: "plug-pins-commanded"},
		{fault: "regulator-unsteady", magnitude: 3, procedure: "readout-loads"},
		{fault: "regulator-unsteady", magnitude: 3, procedure: "default-volts"},
		{fault: "regulator-unsteady", magnitude: 3, procedure: "command-line-volts"},
		{fault: "regulator-no-field", procedure: "readout-loads"},
		{fault: "regulator-full-field", procedure: "command-line-volts"},
		{fault: "regulator-full-field", procedure: "drain"},
		{fault: "accessory-earth-post", magnitude: 1.5, procedure: "sensor-compare"},
		{fault: "overrunning-pulley", magnitude: 0.4, procedure: "loaded-output-idle"},
		{fault: "belt-slip", magnitude: 0.5, procedure: "readout-loads"},
	},
	"isolated-supply-side": {
		{procedure: "charge-volts"},
		{procedure: "full-field-supply"},
		{fault: "field-earth-off", procedure: "field-ends-supply"},
		{fault: "field-earth-poor", magnitude: 3, procedure: "loaded-output"},
		{fault: "field-earth-fed-blade", procedure: "field-feed-supply"},
		{fault: "field-feed-joint", magnitude: 0.4, procedure: "quick-volts", resting: true},
	},
}

var firstPairs = []pair{
	{procedure: "battery-rest-volts"},
	{procedure: "charge-volts"},
	{procedure: "ac-volts"},
	{procedure: "full-field-output"},
	{procedure: "loaded-output-idle"},
	{fault: "diode-open", procedure: "ac-volts-low"},
	{fault: "diode-short", procedure: "charge-volts"},
	{fault: "phase-open", procedure: "full-field-output"},
	{fault: "phase-short", procedure: "loaded-output-quick"},
	{fault: "phase-earth", procedure: "ac-volts-low"},
	{fault: "diodes-open-same-side", procedure: "full-field-output"},
	{fault: "diodes-open-opposite", procedure: "loaded-output"},
	{fault: "rotor-shorted-turns", magnitude: 0.7, procedure: "field-current"},
	{fault: "brush-worn", magnitude: 2, procedure: "full-field-output"},
	{fault: "belt-slip", magnitude: 0.25, procedure: "loaded-output"},
	{fault: "feed-joint-bulkhead-a", magnitude: 0.1, procedure: "drop-feed"},
	{fault: "earth-joint-block", magnitude: 0.05, procedure: "walk-earth-bolt"},
	{fault: "earth-joint-block", magnitude: 0.05, procedure: "crank-drop-earth"},
	{fault: "regulator-no-field", procedure: "field-ends"},
	{fault: "regulator-full-field", procedure: "charge-volts"},
	{fault: "control-wire-earthed", magnitude: 0.1, procedure: "quick-volts"},
	{fault: "regulator-earth", magnitude: 0.15, procedure: "charge-volts", resting: true},
	{fault: "regulator-earth", magnitude: 1, procedure: "charge-volts", resting: true},
	{fault: "regulator-earth", magnitude: 1.6, procedure: "quick-volts", resting: true},
	{fault: "field-feed-joint", magnitude: 0.2, procedure: "charge-volts", resting: true},
	{fault: "field-feed-joint", magnitude: 0.6, procedure: "quick-volts", resting: true},
	{fault: "ignition-switch-contacts", magnitude: 0.12, procedure: "reg-pin-volts", resting: true},
	{fault: "reg-plug-feed-pin", magnitude: 6, procedure: "idle-volts", resting: true},
	{fault: "reg-plug-feed-pin", magnitude: 15, procedure: "reg-pin-volts", resting: true},
	{fault: "regulator-set-high", magnitude: 1.06, procedure: "charge-volts"},
	{fault: "battery-cell-down", magnitude: 2, procedure: "loaded-output"},
	{fault: "battery-worn", magnitude: 6, procedure: "battery-load"},
	{fault: "capacitor-shorted", magnitude: 1, procedure: "drain-charge-wire"},
	{fault: "charge-wire-open", procedure: "stud-volts"},
	{fault: "rotor-open", procedure: "field-feed-key-on"},
	{fault: "rotor-earthed-b", magnitude: 0.3, procedure: "plug-off-field"},
}

// pairSpread spreads the figures of the pairs a little, so that no two vehicles
// are alike and none stands at the medians.
const pairSpread = 0.7

// pairs solves every pair with our model's physics.
func (w *world) pairs() (*fixture, []task, error) {
	const seed = 20
	if len(pairLists[w.model.Sys.ID]) == 0 {
		return nil, nil, fmt.Errorf("no pairs are listed for %s: list them in pairs.go", w.model.Sys.ID)
	}
	f := truth.NewFixture(w.model, "faults and rigs with the physics of our own model, for checking prediction; made by internal/vehiclegen", w.version, truth.Options{}, seed)
	var tasks []task
	for k, p := range pairLists[w.model.Sys.ID] {
		v, err := w.pairVehicle(p, seed, uint64(k))
		if err != nil {
			return nil, nil, err
		}
		f.Vehicles = append(f.Vehicles, truth.Record(w.model, v))
		proc := w.procedures[p.procedure]
		if proc == nil {
			return nil, nil, fmt.Errorf("pair %d: no procedure %s", k, p.procedure)
		}
		q, err := truth.Question(w.model, proc)
		if err != nil {
			return nil, nil, err
		}
		tasks = append(tasks, task{k, q.Setup, f.Options})
		if p.resting {
			tasks = append(tasks, task{k, q.Setup, truth.Options{Resting: true}})
		}
	}
	return f, tasks, nil
}

func (w *world) pairVehicle(p pair, seed, k uint64) (truth.Vehicle, error) {
	var faults []int
	if p.fault != "" {
		i, ok := w.model.FaultIndex(p.fault)
		if !ok {
			return truth.Vehicle{}, fmt.Errorf("pair %d: no fault %s", k, p.fault)
		}
		if has := w.model.Sys.Faults[i].Magnitude != nil; has != (p.magnitude != 0) {
			return truth.Vehicle{}, fmt.Errorf("pair %d: give fault %s a magnitude if and only if it takes one", k, p.fault)
		}
		faults = []int{i}
	}
	v := truth.Figures(chance(seed, k), w.model, faults, truth.DrawOptions{Spread: pairSpread})
	for id, z := range p.figures {
		k := slices.IndexFunc(w.model.Coords, func(c prediction.Coordinate) bool { return c.ID == id })
		if k < 0 {
			return truth.Vehicle{}, fmt.Errorf("pair %d: no figure %s", k, id)
		}
		v.Z[k] = z
	}
	if p.magnitude != 0 {
		v.Comp = prediction.Component{}
		v.Comp.Mean[0] = math.Log10(p.magnitude)
	}
	v.Name = fmt.Sprintf("%s, %s", v.Name, p.procedure)
	return v, nil
}
