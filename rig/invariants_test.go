package rig

import (
	"slices"
	"strings"
)

// The safety invariants, written from the cautions and not from the data: each
// looks at positions by name and knows nothing of guards or forbidden rows. The
// source is that of the caution; "memory" and "common practice" are habits of
// the trade.

// invariant holds on every state, or on every step (from and to differ in place
// i only).
type invariant struct {
	name, source string
	state        func(s State) bool
	step         func(from State, i int, to State) bool
	// structural: held because no move exists, so no guard's removal can show
	// it; TestStructuralInvariantsBite adds the move instead.
	structural bool
	of         string // the place or position that it is about, where some vehicles do without
}

func invariants(v vehicle) []invariant {
	list := append(append(append(runningInvariants(v), stoppingInvariants(v)...), isolationInvariants(v)...), fieldInvariants(v)...)
	if v.fed {
		list = append(list, fedInvariants(v)...)
	}
	if v.has("half-tester") {
		list = append(list, pairInvariants(v)...)
	}
	if v.has("split-link") {
		list = append(list, splitInvariants(v)...)
	}
	if v.has("engine/blip") {
		list = append(list, lampInvariants(v)...)
	}
	return slices.DeleteFunc(list, func(i invariant) bool { return i.of != "" && !v.has(i.of) })
}

// lampInvariants are those of a machine that a warning lamp wakes.
func lampInvariants(v vehicle) []invariant {
	earthed, stopped, keyOff := v.in("field-leads", "earthed"), v.stopped(), v.in("ignition", "off")
	out, dead := v.in("regulator-plug", "off"), v.in("earth-cable", "off")
	leads, plug := v.at("field-leads"), v.at("regulator-plug")
	return []invariant{
		{
			name: "R39 lamp wire on earth only stopped", source: "memory: a look of 5 s with the key on",
			state: func(s State) bool { return !earthed(s) || stopped(s) },
		},
		{
			name: "R39 lamp wire to earth and off it with the key off", source: "common practice",
			step: func(from State, i int, to State) bool {
				return i != leads || earthed(from) == earthed(to) || stopped(from) && keyOff(from)
			},
		},
		{
			name: "R6 regulator out and in only dead", source: "US Army TM 10-3930-669-20 p. 7-106 (earthed cable first): its screws lie beside the output stud",
			step: func(from State, i int, to State) bool { return i != plug || out(from) == out(to) || dead(from) },
		},
	}
}

// pairInvariants are those of two batteries in series.
func pairInvariants(v vehicle) []invariant {
	off, stopped, keyOff := v.in("half-tester", "absent"), v.stopped(), v.in("ignition", "off")
	draws, earthOff := v.in("half-tester", "front-drawing", "rear-drawing"), v.in("earth-cable", "off")
	bankOff, half := v.in("load-bank", "absent"), v.at("half-tester")
	return []invariant{
		{
			name: "R38 a 12 V tester is on one battery of a vehicle that stands", source: "memory: 12 V tools never end to end",
			state: func(s State) bool { return off(s) || stopped(s) },
		},
		{
			name: "R38 one load tester at a time", source: "memory: 12 V tools never end to end",
			state: func(s State) bool { return off(s) || bankOff(s) },
		},
		{
			name: "R7 earth cable with nothing drawing from one battery", source: "29 CFR 1917.157, for jump leads; common practice",
			state: func(s State) bool { return !draws(s) || !earthOff(s) },
		},
		{
			name: "R10 clips of one battery with the key off", source: "29 CFR 1910.178(g)(10)-(11) (no sparks near charging)",
			step: func(from State, i int, to State) bool { return i != half || off(from) == off(to) || keyOff(from) },
		},
		{
			name: "R9 12 V tester clipped at zero load", source: "technician study guide; common practice",
			step: func(from State, i int, to State) bool {
				return i != half || !(off(from) && draws(to)) && !(draws(from) && off(to))
			},
			structural: true,
		},
	}
}

// splitInvariants are those of a second battery behind a relay.
func splitInvariants(v vehicle) []invariant {
	keyOff, bankOff := v.in("ignition", "off"), v.in("load-bank", "absent")
	out, link := v.in("split-link", "off"), v.at("split-link")
	return []invariant{
		{
			name: "R37 a battery is load-tested alone", source: "common practice: else the other one answers for it",
			state: func(s State) bool { return bankOff(s) || out(s) },
		},
		{
			name: "R37 link out and in with the key off", source: "common practice: no relay pulls then",
			step: func(from State, i int, to State) bool { return i != link || out(from) == out(to) || keyOff(from) },
		},
	}
}

// fedInvariants are those of a regulator that feeds the field: its wire is live
// while the plug is on, and shorts the regulator where it touches the body.
func fedInvariants(v vehicle) []invariant {
	leadOff, plugOn := v.in("field-leads", "off"), v.in("regulator-plug", "on")
	keyOn, fieldFeed := v.in("ignition", "on"), v.in("bypass", "field-feed")
	return []invariant{{
		name: "F1 a loose field wire is dead", source: "follows from the wiring: supply, closed contacts and field wire are one path",
		state: func(s State) bool { return !leadOff(s) || !plugOn(s) || !keyOn(s) && !fieldFeed(s) },
	}}
}

func runningInvariants(v vehicle) []invariant {
	turning, running := v.in("engine", "crank", "idle", "fast", "quick", "blip"), v.in("engine", "idle", "fast", "quick", "blip")
	stopped, keyOff := v.stopped(), v.in("ignition", "off")
	held, extracted := v.in("brake", "held"), v.in("exhaust", "extracted")
	outputLead, earthOn := v.in("output-lead", "on", "ammeter"), v.in("earth-cable", "on")
	slack, fieldFeed := v.in("belt", "slack"), v.in("bypass", "field-feed")
	unit, belt, bypass := v.place["unit"], v.place["belt"], v.place["bypass"]
	clamp, bank, jumper := v.place["clamp"], v.place["load-bank"], v.at("field-jumper")
	pressed, drawing := v.in("field-jumper", "pressed"), v.in("load-bank", "drawing")
	pullsFuse := func(from, to State) bool { return fieldFeed(from) && v.in("bypass", "field-feed-out")(to) }
	return []invariant{
		{
			name: "P1 turns only with the key on", source: "points ignition dies with the key; starter on the key switch (common practice)",
			state: func(s State) bool { return !turning(s) || !keyOff(s) },
		},
		{
			name: "R1 brake, gear, chocks", source: "29 CFR 1917.157(e), 1910.178(g)(8); gear and chocks common practice",
			state: func(s State) bool { return !turning(s) || held(s) },
		},
		{
			name: "R2 exhaust", source: "29 CFR 1910.1000 (CO 50 ppm); IMC 2012 502.14",
			state: func(s State) bool { return !running(s) || extracted(s) },
		},
		{
			name: "R3 hands in the belt", source: "29 CFR 1910.147(a)(1)(i) (unexpected start); common practice",
			state: func(s State) bool { return !slack(s) || stopped(s) && keyOff(s) && !fieldFeed(s) },
		},
		{
			name: "R3 work beside the belt", source: "29 CFR 1910.219 (guarding, memory); common practice",
			step: func(from State, i int, _ State) bool {
				return i != clamp && i != belt && i != unit || stopped(from) && keyOff(from)
			},
		},
		{
			name: "R4 output lead on while turning", source: "US Army TM 5-3805-260-24 (load dump)",
			state: func(s State) bool { return !turning(s) || outputLead(s) },
		},
		{
			name: "R5 earth cable on while turning", source: "US Army TM 5-3805-260-24 (load dump)",
			state: func(s State) bool { return !turning(s) || earthOn(s) },
		},
		{
			name: "R19 what hangs in the bay is fitted and seen before the start", source: "common practice",
			step: func(from State, i int, to State) bool {
				fitting := i == clamp || i == bypass && !pullsFuse(from, to) || i == bank && from.At(i)*to.At(i) == 0 || i == jumper && from.At(i)*to.At(i) == 0
				return !fitting || stopped(from)
			},
		},
		{
			name: "R19 start with the field open", source: "common practice",
			step:       func(from State, i int, to State) bool { return !stopped(from) || !turning(to) || !pressed(from) },
			structural: true, of: "field-jumper",
		},
		{
			name: "R11 no start on the load tester", source: "technician study guide (15 s of load); common practice",
			step: func(from State, i int, to State) bool { return !stopped(from) || !turning(to) || !drawing(from) },
		},
		{
			name: "R29 bypass leads fitted stopped", source: "memory",
			step: func(from State, i int, to State) bool {
				return i != bypass || pullsFuse(from, to) || stopped(from) && keyOff(from)
			},
		},
	}
}

// stoppingInvariants are about what comes before the engine is stopped, and what
// is done to it while it stands.
func stoppingInvariants(v vehicle) []invariant {
	running, stopped, keyOff := v.in("engine", "idle", "fast", "quick", "blip"), v.stopped(), v.in("ignition", "off")
	above, idle := v.in("engine", "fast", "quick"), v.in("engine", "idle")
	ready, crank, blip := v.in("engine", "ready"), v.in("engine", "crank"), v.in("engine", "blip")
	drawing, lampsOn := v.in("load-bank", "drawing"), v.in("accessories", "on")
	bank := v.place["load-bank"]
	return []invariant{
		{
			name: "R43 the load is off before the engine is stopped", source: "common practice: with the alternator still the battery feeds it alone",
			step: func(from State, _ int, to State) bool {
				return !running(from) || !stopped(to) || !drawing(from) && !lampsOn(from)
			},
		},
		{
			name: "R43 the load tester is down before the speed falls to idle", source: "common practice: at idle the alternator carries little of it",
			step: func(from State, _ int, to State) bool {
				falls := above(from) && idle(to) || !blip(from) && blip(to) // a rev falls at once
				return !falls || !drawing(from)
			},
		},
		{
			name: "R24 the key stops the engine", source: "follows from the wiring: the field supply lead feeds the ignition circuit", of: "bypass/field-feed",
			step: func(from State, _ int, to State) bool {
				return !running(from) || !stopped(to) || !v.in("bypass", "field-feed")(from)
			},
		},
		{
			name: "R8 coil lead with the key off", source: "common practice",
			step: func(from State, _ int, to State) bool {
				return !stopped(from) || !stopped(to) || ready(from) == ready(to) || keyOff(from)
			},
		},
		{
			name: "R24 clips are not put on while the coil waits", source: "memory: 2 min with the key on, of which clips take one",
			step: func(from State, i int, to State) bool {
				return i != bank || from.At(i)*to.At(i) != 0 || keyOff(from)
			},
		},
		{
			name: "R1 cranked only with the coil lead off", source: "common practice: an engine that fires runs on",
			step:       func(from State, _ int, to State) bool { return !crank(to) || crank(from) || ready(from) },
			structural: true,
		},
	}
}

func isolationInvariants(v vehicle) []invariant {
	stopped, keyOff := v.stopped(), v.in("ignition", "off")
	earthOff, earthPath := v.in("earth-cable", "off"), v.in("bypass", "earth", "reg-earth")
	isolated := func(s State) bool { return earthOff(s) && !earthPath(s) }
	quiet := func(s State) bool {
		return stopped(s) && keyOff(s) && v.in("accessories", "off")(s) && !v.in("load-bank", "drawing")(s)
	}
	atStud := v.in("bypass", "feed")
	onBench, slack := v.in("unit", "bench", "stripped"), v.in("belt", "slack")
	leadsOff := func(s State) bool {
		return v.in("output-lead", "off")(s) && v.in("field-leads", "off")(s) && v.in("field-jumper", "absent")(s) && !atStud(s)
	}
	earth, output, bank := v.place["earth-cable"], v.place["output-lead"], v.place["load-bank"]
	plug, leads := v.at("regulator-plug"), v.place["field-leads"]
	fieldFeed, drawing, absent := v.in("bypass", "field-feed"), v.in("load-bank", "drawing"), v.in("load-bank", "absent")
	return []invariant{
		{
			name: "R6 tagged off means dead", source: "29 CFR 1910.147(a)(1)(i); US Army TM 10-3930-669-20 p. 7-106",
			state: func(s State) bool { return !earthOff(s) || isolated(s) },
		},
		{
			name: "R6 output stud touched only dead", source: "US Army TM 10-3930-669-20 p. 7-106 (earthed cable first)",
			step: func(from State, i int, to State) bool {
				return i != output && atStud(from) == atStud(to) || isolated(from) && isolated(to)
			},
		},
		{
			name: "R7 earth cable with everything off", source: "29 CFR 1917.157 (ignition, lights, accessories off), for jump leads; common practice",
			step: func(from State, i int, to State) bool { return i != earth || quiet(from) && quiet(to) },
		},
		{
			name: "R8 output lead, plug, field leads with key off", source: "common practice",
			step: func(from State, i int, _ State) bool {
				return i != output && i != plug && i != leads || stopped(from) && keyOff(from)
			},
		},
		{
			name: "R8 no change on a field circuit that a bypass keeps live", source: "follows from the wiring: the feed blade is joined to the ignition circuit", of: "bypass/field-feed",
			step: func(from State, i int, _ State) bool { return i != plug && i != leads || !fieldFeed(from) },
		},
		{
			name: "R9 load tester clipped at zero load", source: "technician study guide; common practice",
			step: func(from State, i int, to State) bool {
				return i != bank || !(absent(from) && drawing(to)) && !(drawing(from) && absent(to))
			},
			structural: true,
		},
		{
			name: "R10 no clip at a battery on charge", source: "29 CFR 1910.178(g)(10)-(11) (no sparks near charging)",
			step: func(from State, i int, to State) bool {
				return i != bank || absent(from) == absent(to) || stopped(from)
			},
		},
		{
			name: "R32 alternator off", source: "US Army TM 10-3930-669-20 p. 7-106 (earthed cable first); common practice",
			state: func(s State) bool { return !onBench(s) || isolated(s) && slack(s) && leadsOff(s) },
		},
	}
}

func fieldInvariants(v vehicle) []invariant {
	stopped, idle, keyOff := v.stopped(), v.in("engine", "idle"), v.in("ignition", "off")
	running := v.in("engine", "idle", "fast", "quick", "blip")
	absent, pressed := v.in("field-jumper", "absent"), v.in("field-jumper", "pressed")
	plugOff, watched := v.in("regulator-plug", "off"), v.in("watch-meter", "battery")
	drawing, lampsOn := v.in("load-bank", "drawing"), v.in("accessories", "on")
	loaded := func(s State) bool { return drawing(s) || lampsOn(s) }
	jumper := v.at("field-jumper")
	list := []invariant{
		{
			name: "R14 jumper fitted and taken off with everything dead", source: "NAVEDTRA 14050 p. 4-5; order common practice",
			step: func(from State, i int, to State) bool {
				return i != jumper || absent(from) == absent(to) || stopped(from) && keyOff(from) && plugOff(from)
			},
		},
		{
			name: "R14 regulator off while the jumper is on", source: "NAVEDTRA 14050 p. 4-5",
			state: func(s State) bool { return absent(s) || plugOff(s) },
		},
		{
			name: "R14 no press without fitting first", source: "common practice",
			step:       func(from State, i int, to State) bool { return i != jumper || !(absent(from) && pressed(to)) },
			structural: true,
		},
		{
			name: "R15 pressed at idle, loaded, watched", source: "common practice (ceiling 15-16 V)",
			step: func(from State, i int, to State) bool {
				return i != jumper || !pressed(to) || idle(from) && loaded(from) && watched(from)
			},
		},
		{
			name: "R16 watched while pressed", source: "common practice",
			state: func(s State) bool { return !pressed(s) || watched(s) },
		},
		{
			name: "R17 loaded and running while pressed", source: "common practice; NAVEDTRA 14050 p. 4-5 (time and voltage limited)",
			state: func(s State) bool { return !pressed(s) || loaded(s) && running(s) },
		},
	}
	for k := range list {
		list[k].of = "field-jumper"
	}
	return list
}

// broken tells which invariants a step breaks, a bit each, 0 if none.
func broken(list []invariant, from State, i int, to State) (mask uint64) {
	for k, inv := range list {
		if inv.state != nil && !inv.state(to) || inv.step != nil && !inv.step(from, i, to) {
			mask |= 1 << k
		}
	}
	return mask
}

// named lists the invariants of a mask.
func named(list []invariant, mask uint64) string {
	var out []string
	for k, inv := range list {
		if mask>>k&1 == 1 {
			out = append(out, inv.name)
		}
	}
	return strings.Join(out, "; ")
}
