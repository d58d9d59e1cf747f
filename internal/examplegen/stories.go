package main

import "slices"

// story is one example: who says what, what is really wrong, and what was read.
type story struct {
	System     string // "" = the first
	File       string
	Complaint  string
	Words      string
	Story      string
	Faults     []fault
	Figures    map[string]float64 // whitened figures that the story fixes
	Meters     []string
	Procedures []string
	Seed       uint64
}

// fault is what is really wrong, and how bad, SI.
type fault struct {
	ID        string
	Magnitude float64
}

// kit is what lies in the van: no series ammeters.
var kit = []string{"dmm", "dc-clamp", "ma-clamp"}

// flat and full are the state of charge of a battery, in spreads of the
// system's own about its median.
const (
	flat = -1.2
	full = 1.4
)

// storiesOf are the stories of one system, in order.
func storiesOf(system string) []story {
	var out []story
	for _, s := range stories {
		if s.System == system || s.System == "" && system == first {
			out = append(out, s)
		}
	}
	return out
}

// first is the system of stories that name none.
const first = "isolated-earth-side"

// systems are those that stories are told of, in order.
func systems() []string {
	out := []string{first}
	for _, s := range stories {
		if s.System != "" && !slices.Contains(out, s.System) {
			out = append(out, s.System)
		}
	}
	return out
}

var stories = []story{
	{
		File: "no-charge", Complaint: "no-charge", Words: "the ammeter shows discharge all the time",
		Story: `No charge. An invented saloon of about 1970, and every reading in this file is
invented too: an independent circuit simulator solved the whole vehicle in the
time domain and the answers went through meters with their noise
(internal/examplegen, examples/source).
What is really wrong: the rotor winding is open.`,
		Faults: []fault{{ID: "rotor-open"}}, Figures: map[string]float64{"battery.soc": flat, "open.leak": 0.4}, Meters: kit, Seed: 11,
		Procedures: []string{"look-belt", "battery-rest-volts", "charge-volts", "field-ends", "field-feed-key-on", "plug-pins-key-on", "bench-rotor-ohms"},
	},
	{
		File: "low-output", Complaint: "low-charge", Words: "lights go dim in traffic, battery low by the week's end",
		Story: `Low output. Invented vehicle, readings from a time-domain simulation through
meters with their noise (internal/examplegen, examples/source).
What is really wrong: one of the six diodes is open. Which one cannot be told
from outside, and the bridge is changed whole.`,
		Faults: []fault{{ID: "diode-open"}}, Figures: map[string]float64{"battery.soc": -0.5}, Meters: kit, Seed: 12,
		Procedures: []string{"look-belt", "battery-rest-volts", "charge-volts", "loaded-output-idle", "ac-volts-low", "drop-feed"},
	},
	{
		File: "overcharge", Complaint: "overcharge", Words: "battery boils, bulbs blow",
		Story: `Overcharge. Invented vehicle, readings from a time-domain simulation through
meters with their noise (internal/examplegen, examples/source).
What is really wrong: the field control wire has chafed through on the body, so
that the field runs full whatever the regulator does.`,
		Faults: []fault{{ID: "control-wire-earthed", Magnitude: 0.12}}, Figures: map[string]float64{"battery.soc": full}, Meters: kit, Seed: 13,
		Procedures: []string{"battery-rest-volts", "quick-volts", "reg-pin-volts", "plug-off-field", "rotor-ohms"},
	},
	{
		File: "feed-drop", Complaint: "low-charge", Words: "headlamps bright, battery always low",
		Story: `Volts lost in the charging line. Invented vehicle, readings from a time-domain
simulation through meters with their noise (internal/examplegen,
examples/source).
What is really wrong: pin A of the bulkhead connector has corroded to 60 mOhm.`,
		Faults: []fault{{ID: "feed-joint-bulkhead-a", Magnitude: 0.060}}, Figures: map[string]float64{"battery.soc": -0.6}, Meters: kit, Seed: 14,
		Procedures: []string{"look-belt", "charge-volts", "stud-volts", "drop-feed", "drop-earth", "walk-stud", "walk-bulkhead-a"},
	},
	{
		File: "two-faults", Complaint: "low-charge", Words: "new battery, flat again in a week",
		Story: `Two faults at once. Invented vehicle, readings from a time-domain simulation
through meters with their noise (internal/examplegen, examples/source).
What is really wrong: pin B of the bulkhead connector has corroded to 50 mOhm,
and one diode is open. Mending the connector alone would bring it back.`,
		Faults:  []fault{{ID: "feed-joint-bulkhead-b", Magnitude: 0.050}, {ID: "diode-open"}},
		Figures: map[string]float64{"battery.soc": -0.8}, Meters: kit, Seed: 15,
		Procedures: []string{"look-belt", "battery-rest-volts", "charge-volts", "loaded-output-idle", "ac-volts-low", "drop-feed", "walk-bulkhead-b"},
	},
	{
		System: "supply-side-contact", File: "contact-regulator", Complaint: "low-charge", Words: "lamps go dim in town, battery low after a week of short trips",
		Story: `Low charge with vibrating contacts. An invented van of about 1967 whose field is
earthed inside the alternator and fed by a contact regulator; readings from a
time-domain simulation through meters with their noise (internal/examplegen,
examples/source).
What is really wrong: the regulator's contacts are burnt to 5 Ohm.`,
		Faults: []fault{{ID: "regulator-contacts-burnt", Magnitude: 5}}, Figures: map[string]float64{"battery.soc": -0.6}, Meters: kit, Seed: 16,
		Procedures: []string{"look-belt", "battery-rest-volts", "charge-volts", "loaded-output", "field-feed-supply", "walk-reg-contacts"},
	},
	{
		System: "isolated-supply-side", File: "earth-jumper", Complaint: "no-charge", Words: "no charge since another alternator was fitted",
		Story: `No charge after the alternator was changed. The van of contact-regulator with an
isolated-field alternator, whose second brush a short jumper has to earth;
readings from a time-domain simulation through meters with their noise
(internal/examplegen, examples/source).
What is really wrong: the jumper is off.`,
		Faults: []fault{{ID: "field-earth-off"}}, Figures: map[string]float64{"battery.soc": flat}, Meters: kit, Seed: 17,
		Procedures: []string{"look-belt", "battery-rest-volts", "charge-volts", "field-draw-supply", "field-ends-supply"},
	},
	{
		System: "output-fed-earth-side", File: "sense-wire", Complaint: "overcharge", Words: "needle on charge all day, battery needs water every week",
		Story: `Overcharge with a three-way plug. An invented saloon of about 1974 whose field is
fed inside from the output; readings from a time-domain simulation through meters
with their noise (internal/examplegen, examples/source).
What is really wrong: the sense wire is broken, so the regulator sees nothing and
asks for all. A shorted regulator and an earthed control wire do the same running,
but not with the key off.`,
		Faults: []fault{{ID: "sense-wire-open"}}, Figures: map[string]float64{"battery.soc": 0}, Meters: kit, Seed: 18,
		Procedures: []string{"battery-rest-volts", "charge-volts", "field-draw-key-off", "sense-volts", "plug-pins-key-off-three"},
	},
	{
		System: "lamp-excited", File: "warning-lamp", Complaint: "no-charge", Words: "does not charge since the dash was out; after a fast run it does",
		Story: `The lamp that lights and does not wake. An invented light van of about 1985 with nine
diodes, excited through its warning lamp; readings from a time-domain simulation
through meters with their noise (internal/examplegen, examples/source).
What is really wrong: an LED of 900 Ohm sits where the 2.2 W bulb belongs. It lights
with the key on, and what it lets through is too little for the machine to wake on
before 3000 rpm and more.`,
		Faults: []fault{{ID: "lamp-led", Magnitude: 900}}, Figures: map[string]float64{"battery.soc": -0.8}, Meters: kit, Seed: 19,
		Procedures: []string{"look-lamp-key-on", "battery-rest-volts", "idle-volts", "quick-volts", "look-lamp-earthed", "dplus-volts-key-on"},
	},
	{
		System: "lamp-excited-24", File: "middle-tapped", Complaint: "overcharge", Words: "front battery boils, rear one always low, second regulator already",
		Story: `One battery boils and the other starves. An invented 24 V tipper of about 1990 with two
batteries in series; readings from a time-domain simulation through meters with their
noise (internal/examplegen, examples/source).
What is really wrong: a 12 V fridge and a radio, together 2.1 Ohm, hang on the middle of
the batteries. The pair reads as it should.`,
		Faults: []fault{{ID: "middle-tapped", Magnitude: 2.1}}, Figures: map[string]float64{"battery.soc": full}, Meters: kit, Seed: 21,
		Procedures: []string{"look-lamp-key-on-pair", "battery-rest-volts", "charge-volts", "half-rest-volts", "half-charge-volts", "middle-amps"},
	},
	{
		System: "split-charge", File: "relay-earth", Complaint: "flat-battery", Words: "battery of the living part never full, two new ones already, the engine always starts",
		Story: `The second battery that is never full. An invented motor caravan of about 1988 whose second
battery hangs behind a relay that D+ holds; readings from a time-domain simulation
through meters with their noise (internal/examplegen, examples/source).
What is really wrong: the earth of the relay's coil has 400 Ohm under a rusty screw, so
that the coil gets two volts of fourteen and never pulls.`,
		Faults: []fault{{ID: "relay-earth-poor", Magnitude: 400}}, Figures: map[string]float64{"battery.soc": 0.5, "second-battery.soc": flat}, Meters: kit, Seed: 22,
		Procedures: []string{"second-rest-volts", "second-charge-volts", "listen-relay", "relay-drop", "relay-coil-volts"},
	},
	{
		System: "diode-splitter", File: "sense-before", Complaint: "low-charge", Words: "house bank never full, two new ones already, engine always starts",
		Story: `The house bank that is never full. An invented motor sailer of about 1988 whose two
batteries hang behind a diode splitter, insulated return; readings from a time-domain
simulation through meters with their noise (internal/examplegen, examples/source).
What is really wrong: the regulator's sense wire hangs on the output stud, before the
splitter. The set volts stand there, and both banks get a diode less.`,
		Faults: []fault{{ID: "sense-before-splitter"}}, Figures: map[string]float64{"battery.soc": full, "second-battery.soc": 0.5}, Meters: kit, Seed: 23,
		Procedures: []string{"second-rest-volts", "stud-minus-volts", "splitter-drop", "splitter-drop-loaded", "sense-pin-volts"},
	},
	{
		System: "built-in-sense", File: "lamp-pin", Complaint: "no-charge", Words: "charge lamp does not come on any more, battery flat, somebody has a new alternator on order",
		Story: `No charge, and no charge lamp. An invented hatchback of about 1998 whose regulator
sits in the alternator and is woken by the lamp's current; readings from a
time-domain simulation through meters with their noise (internal/examplegen,
examples/source).
What is really wrong: the lamp pin has backed out of the alternator plug. The lamp
lights when its wire is earthed at the plug, and the pin of the alternator is dead:
so it is neither the lamp nor the alternator.`,
		Faults: []fault{{ID: "reg-plug-lamp-pin-open"}}, Figures: map[string]float64{"battery.soc": flat}, Meters: kit, Seed: 19,
		Procedures: []string{"look-lamp-key-on-inside", "battery-rest-volts", "charge-volts", "lamp-wire-to-earth", "lamp-pin-key-on"},
	},
	{
		System: "coach-24", File: "resting-alternator", Complaint: "other", Words: "second alternator has no amps and its lamp glows at times, exchange one is on order",
		Story: `The alternator that is blamed for resting. An invented coach of about 2000 with two
alternators on one line; readings from a time-domain simulation through meters with their
noise (internal/examplegen, examples/source).
What is really wrong: nothing. The two set-points are 0.2 V apart, as two sound ones may
be. At light load the first carries all and the second has no amps; where more is wanted
than one can give, both give.`,
		Figures: map[string]float64{"battery.soc": 0.3, "regulator.setpoint": 0.67, "second-regulator.setpoint": -0.67}, Meters: kit, Seed: 24,
		Procedures: []string{"look-lamp-2-key-on", "look-belt-2", "battery-rest-volts", "both-light-amps", "both-forced-amps", "look-lamps-forced"},
	},
	{
		System: "coach-24", File: "dead-second", Complaint: "low-charge", Words: "batteries low after a night service, by day nothing is wrong, lamp 2 lit",
		Story: `The alternator that is dead while nobody misses it. An invented coach of about 2000 with
two alternators on one line; readings from a time-domain simulation through meters with
their noise (internal/examplegen, examples/source).
What is really wrong: the second regulator gives no field. At light load the first carries
all, as a sound pair may; where more is wanted than one can give the second gives nothing.`,
		Faults: []fault{{ID: "second-regulator-no-field"}}, Figures: map[string]float64{"battery.soc": -0.4}, Meters: kit, Seed: 25,
		Procedures: []string{"look-lamp-2-key-on", "look-belt-2", "battery-rest-volts", "both-light-amps", "both-forced-amps", "second-stud-dead", "second-plug-pins", "look-lamps-forced"},
	},
	{
		System: "commanded", File: "overrunning-pulley", Complaint: "low-charge", Words: "battery message in town with the screen on, two belts already",
		Story: `Short of output on a commanded alternator. An invented hatchback of about 2012 whose
control unit says what is to be held; readings from a time-domain simulation through
meters with their noise (internal/examplegen, examples/source).
What is really wrong: the overrunning pulley slips both ways, so the alternator runs
at half its speed. The control unit asks for 14.5 V and does not get it.`,
		Faults: []fault{{ID: "overrunning-pulley", Magnitude: 0.5}}, Figures: map[string]float64{"battery.soc": -0.4}, Meters: append(slices.Clone(kit), "control-unit"), Seed: 20,
		Procedures: []string{"look-belt", "battery-rest-volts", "loaded-output-idle", "readout-loads", "ac-volts-low", "look-overrunning-pulley"},
	},
}
