package main

import (
	"fmt"
	"strings"

	"chargewright/battery"
	"chargewright/circuit"
	"chargewright/machine"
	"chargewright/prediction"
	"chargewright/question"
)

// deadDeck writes the circuit with nothing live: resistances, the battery's
// ohmic part, the rotor. A current of 1 mA through the meter's own leads reads
// each resistance in turn.
func (s *situation) deadDeck(b *strings.Builder, seek []question.Observable, v prediction.Values) {
	for i, e := range s.sys.Elements {
		line := fmt.Sprintf("R%s %s %s %.9g", strings.ReplaceAll(e.ID, "-", "_"), s.node(e.From), s.node(e.To), v.Ohms[i])
		b.WriteString(s.commented(line) + "\n")
	}
	for i, x := range s.sys.Accumulators() {
		ohms, name := 0.0, "Rxbat"
		if bat, err := battery.New(x.AmpHours, int(x.Volts/2+0.5)); err == nil { // Compile has refused any other
			ohms = bat.ACResistance(v.Batteries[i], nil)
		}
		if i > 0 {
			name += fmt.Sprint(i + 1)
		}
		fmt.Fprintf(b, "%s %s %s %.9g ; %s, its ohmic resistance\n", name, s.node(x.Positive), s.node(x.Negative), ohms, x.Device)
	}
	for i, x := range v.Resting {
		fmt.Fprintf(b, "Rxreg%d %s %s %.9g ; %s\n", i+1, s.node(x.From), s.node(x.To), x.Ohms, x.Name)
	}
	fmt.Fprintf(b, "Rxfield %s %s %.9g ; rotor winding\n", s.node(s.sys.Machine.RingA), s.node(s.sys.Machine.RingB), v.Alternator[machine.RotorOhms])
	if x := v.Second; x != nil {
		fmt.Fprintf(b, "Rxfield2 %s %s %.9g ; rotor winding of the second alternator\n", s.node(s.sys.SecondMachine.RingA), s.node(s.sys.SecondMachine.RingB), x.Alternator[machine.RotorOhms])
	}
	for i, p := range s.sys.Points {
		if !p.Reference {
			fmt.Fprintf(b, "Rxleak%d %s 0 %.9g ; what every point leaks\n", i, s.node(p.ID), 1/circuit.Leak)
		}
	}
	for i, o := range seek {
		fmt.Fprintf(b, "Ix%d %s %s 0 ; the meter, %s\n", i+1, s.node(o.Black), s.node(o.Red), leads(o))
	}
	b.WriteString(".options temp=27 gmin=1e-16 reltol=1e-9 abstol=1e-15 vntol=1e-12\n.control\nset numdgt=7\n")
	for i, o := range seek {
		n := i + 1
		fmt.Fprintf(b, "* r%d: %s, %s\nalter Ix%d dc = 1e-3\nop\nlet r%d = (%s)/1e-3\nprint r%d\nalter Ix%d dc = 0\n", n, o.Note, leads(o), n, n, s.across(o.Red, o.Black), n, n)
	}
	b.WriteString("quit\n.endc\n.end\n")
}

// elementWords says what the lines of a vehicle's netlist are that are no
// element of the system file, by the first word.
var elementWords = map[string]string{
	".model": "rectifier diode", ".tran": "from start to the end of the readings", ".save": "points, field and output current, duty",
	".ic": "12.5 V on the positive side", ".options": "",
	"Bxslow": "share of their own time constant that slow states have",
	"Vxout":  "output current of the machine", "Rxstud": "alternator, stud to case", "Rxstar": "star point",
	"Vxturning": "electrical speed [rad/s]", "Vxlate": "turns that the belt lost", "Bxlate": "turns more than at the speed that is held", "Cxlate": "turns more than at the speed that is held", "Rxbetween": "two phases shorted",
	"Vxfield": "field current", "Lxfield": "field inductance, shortened", "Rxfield": "rotor winding",
	"Bxbrush": "fixed drop of both brushes", "Bxat": "field amps whose turns work", "Bxflux": "flux, 1 at the knee",
	"Bxsense": "sensed volts, ripple averaged out", "Cxsense": "sensed volts", "Bxask": "bands below the top of the band",
	"Bxduty": "duty as the law has it", "Vxduty": "duty of a stuck regulator", "Bxwake": "0 asleep to 1 awake, by the supply", "Vxwake": "fed as the field is: never asleep",
	"Bxd": "duty", "Rxown": "what the regulator itself draws", "Vxreg": "current into the field pin",
	"Bxsign": "sign of that current, rounded", "Bxr": "volts of the field pin, averaged over the switching",
	"Bxlow": "share of the current to the case", "Bxhigh": "share of the current on the other side",
	"Rxlooks": "what the sense wire carries", "Bxfirst": "share of the time with the first contacts closed",
	"Bxsecond": "share of the time with the second contacts closed", "Bxearthed": "volts of the field pin while they are",
	"Vxbat": "battery current", "Rxbat": "battery, ohmic resistance", "Bxslowly": "battery, polarisation and slow part",
	"Vxocv": "battery, open-circuit volts", "Bxpol": "battery, charge acceptance", "Cxpol": "battery, double layer",
	"Bxgas": "mean volts that make gas", "Cxgas": "mean volts that make gas", "Bxover": "volts over the gassing voltage, in folds",
	"Bxbubbles": "battery, gassing", "Bxload": "load tester", "Bxheld": "volts that the hand goes by", "Cxheld": "volts that the hand goes by",
	"Bxlamp": "lamp terminal, 0 dead to 1 live", "Bxlit": "0 asleep to 1 awake, by the lamp terminal", "Bxown": "what the regulator itself draws",
	"Bxknee": "knee of the lamp driver", "Bxphase": "a phase, 0 silent to 1 loud", "Bxdriver": "driver of the charge warning lamp", "Rxbleeds": "lamp terminal to the case",
	"Bxtells": "feedback terminal, on the case for the duty's share of the time", "Rxasked": "the control unit's word", "Vxasked": "what the control unit asks for",
	"Rxcap": "output capacitor", "Cxcap": "output capacitor",
	"Bxhold": "load tester turned to hold the volts",
	"Rxcoil": "winding of the relay", "Bxsees": "mean coil volts", "Cxsees": "mean coil volts", "Bxpull": "relay, 0 open to 1 closed", "Bxcontacts": "contacts of the relay",
	"Dxsplit1": "splitter, diode to the first battery", "Dxsplit2": "splitter, diode to the second battery",
}

// phaseWords are the same for each phase, by what follows its letter.
var phaseWords = map[string]string{
	"Bx": "EMF", "Vx": "EMF, standing", "Lx": "inductance", "Rx": "winding", "Rx.leak": "leak to the case",
	"Dx.p": "positive diode", "Dx.m": "negative diode", "Dx.f": "field diode", "Rx.f": "short across the field diode", "Rx.p": "short across the positive diode", "Rx.m": "short across the negative diode", "Rx.e": "on the frame",
}

// commented puts behind a line what it stands for.
func (s *situation) commented(line string) string {
	name, _, _ := strings.Cut(line, " ")
	if name == "" || name[0] == '*' {
		return line
	}
	words, ok := elementWords[name]
	if first, second := strings.CutSuffix(name, "2"); second && !ok {
		if words, ok = elementWords[first]; ok {
			words = "second battery: " + words
		}
	}
	for _, e := range s.sys.Elements {
		if name == "R"+strings.ReplaceAll(e.ID, "-", "_") {
			words, ok = e.Name, true
		}
	}
	if strings.HasPrefix(name, "Rxleak") {
		words, ok = "what every point leaks: a 10 MOhm meter", true
	}
	if !ok && len(name) >= 3 && strings.Contains("abc", name[2:3]) {
		key := name[:2]
		if len(name) > 3 {
			key += "." + name[3:]
		}
		if words, ok = phaseWords[key]; ok {
			words = "phase " + name[2:3] + ": " + words
		}
	}
	if !ok || words == "" {
		return line
	}
	return line + " ; " + words
}
