package truth

import (
	"fmt"

	"chargewright/regulator"
	"chargewright/system"
)

// The small print of a regulator inside the machine, as
// docs/models/vehicles-built-in.md states it; written anew here.
const (
	lampWakes    = 0.3  // lamp terminal to case: asleep below [V]
	lampAwake    = 0.7  // awake from [V]
	lampLeast    = 0.9  // what its driver leaves [V]
	lampSoftness = 0.05 // over which its knee is rounded [V]
	lampBleeds   = 1e4  // lamp terminal to case [Ohm]
	phaseQuiet   = 4.0  // line volts by which the machine counts as still, 12 V set
	phaseCharges = 8.0
	reportOver   = 1000.0 // resistance that the control unit feeds the feedback line over [Ohm]
	reportFree   = 0.02   // share of the time that a line at full duty is free
	askedBehind  = 1.0    // resistance behind the control unit's word [Ohm]
)

// smoothly is the C2 step from 0 to 1 of a node that is held within them.
func smoothly(node string) string {
	return fmt.Sprintf("v(%s)^3*(10+v(%s)*(6*v(%s)-15))", node, node, node)
}

// gate is what a regulator inside the machine lets of its duty, as a factor, and
// of its own draw; nothing for one that sits elsewhere.
func (w *writer) gate() (allowed, own string) {
	p := w.v.Regulator
	switch w.x.Regulator.Kind {
	case system.BuiltInSensing:
		share := p[regulator.Standing] + (1-p[regulator.Standing])*p[regulator.Turning]
		return fmt.Sprintf("*v(xlit)*%.7g", share), "v(xlit)"
	case system.Commanded:
		return fmt.Sprintf("*%.7g", p[regulator.Turning]), fmt.Sprintf("%.7g", p[regulator.Turning])
	}
	return "", ""
}

// lampDriver writes what the lamp terminal does: it wakes the regulator, and its
// driver holds it low until a phase is loud. Line volts are the amperes of field that
// the stage carries times what one of them makes at this speed.
func (w *writer) lampDriver() {
	r, p, k := w.x.Regulator, w.v.Regulator, w.x.Regulator.Volts/12
	lamp, frame := w.node(r.Lamp), w.node(r.Case)
	w.line("Bxlamp xlamp 0 V=max(0,min(1,(v(%s,%s)-%.4g)/%.4g))", lamp, frame, lampWakes, lampAwake-lampWakes)
	w.line("Bxlit xlit 0 V=%s", smoothly("xlamp"))
	w.line("Bxphase xphase 0 V=max(0,min(1,(%.7g*i(vxreg)^2/sqrt(i(vxreg)^2+%.4g)-%.4g)/%.4g))",
		p[regulator.Phase], regulatorKnee*regulatorKnee, phaseQuiet*k, (phaseCharges-phaseQuiet)*k)
	w.line("Bxknee xknee 0 V=max(0,min(1,(v(%s,%s)-%.4g)/%.4g))", lamp, frame, lampLeast, lampSoftness)
	w.line("Bxdriver %s %s I=(1-%s)*(v(%s,%s)-%.4g)*%s/%.7g", lamp, frame, smoothly("xphase"),
		lamp, frame, lampLeast, smoothly("xknee"), p[regulator.LampOhms])
	w.line("Rxbleeds %s %s %.4g", lamp, frame, lampBleeds)
}

// report writes the feedback terminal, on the case for the duty's share of the
// time, and the point at which the control unit's word is read.
func (w *writer) report() {
	r, p := w.x.Regulator, w.v.Regulator
	line, frame := w.node(r.Feedback), w.node(r.Case)
	w.line("Bxtells %s %s I=v(%s,%s)*v(xd)/(%.4g-v(xd))*%.7g", line, frame, line, frame, 1+reportFree, p[regulator.Answers]/reportOver)
	w.line("Rxasked %s xasked %.4g", w.node(r.Asked), askedBehind)
	w.line("Vxasked xasked 0 %.7g", w.v.Asked)
}
