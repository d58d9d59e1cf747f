package truth

import (
	"math"

	"chargewright/regulator"
	"chargewright/system"
)

// The regulator's small print, as docs/models/regulator.md states it; written
// anew here so that the two can be held against each other.
const (
	regulatorOwn    = 600.0  // supply to case [Ohm]
	regulatorKnee   = 0.05   // below which its fixed drops fade [A]
	regulatorBlocks = 1e4    // freewheel diode backwards [Ohm]
	regulatorAt     = 300.15 // at which the set-point is stated [K]
	regulatorCorner = 0.02   // softness of the band's ends, of the band
	regulatorSleeps = 4.0    // supply below which it is dead, 12 V set [V]
	regulatorWakes  = 6.0
	compensatesFrom = 13.2 // what temperature compensation asks for [V]
	compensatesTo   = 15.0
	compensatesOver = 0.5
	regulatorLooks  = 2000.0 // sense wire to case [Ohm]
	contactSecond   = 0.1    // second pair of vibrating contacts, closed [Ohm]
	contactOverlap  = 0.1    // over which the armature's swing reaches both pairs, of the range of one
	senseSeconds    = 60e-3  // averaging of the sensed voltage, ripple out, at the first try [s]
)

// middle is the sensed voltage at half duty [V].
func (w *writer) middle() float64 {
	p, k := w.v.Law, w.x.Regulator.Volts/12
	x := p[regulator.SetPoint] + p[regulator.Slope]*(p[regulator.Temperature]-regulatorAt)
	if w.x.Regulator.Kind == system.Commanded {
		return x // as it is told
	}
	if lo := compensatesFrom * k; x < lo {
		return lo + compensatesOver*k*math.Tanh((x-lo)/(compensatesOver*k))
	}
	if hi := compensatesTo * k; x > hi {
		return hi + compensatesOver*k*math.Tanh((x-hi)/(compensatesOver*k))
	}
	return x
}

// regulator writes the law (averaged sense, duty) and the output stage, averaged
// over its switching.
func (w *writer) regulator() {
	w.duty()
	r := w.x.Regulator
	switch r.Kind {
	case system.SupplySideVibrating:
		w.contacts()
	case system.BuiltInSensing:
		w.lampDriver()
		w.electronic(w.node(r.Supply))
	case system.Commanded:
		w.report()
		w.electronic(w.node(r.Supply))
	case system.EarthSideThreeWay:
		w.line("Rxlooks %s %s %.4g", w.node(r.SensePlus), w.node(r.Case), regulatorLooks)
		w.electronic(w.node(r.SensePlus))
	case system.BuiltInLampExcited:
		w.electronic(w.node(r.Supply))
	default:
		w.electronic(w.node(r.Supply))
	}
}

// duty writes what the law makes of the sensed voltage, as node xduty.
func (w *writer) duty() {
	r, law := w.x.Regulator, w.v.Law
	first := 1.1 * w.rest()
	if w.o.Resting {
		first = 1.6 * w.rest()
	}
	w.line("Bxsense 0 xsense I=(v(%s,%s)-v(xsense))/%.4g", w.node(r.SensePlus), w.node(r.SenseMinus), senseSeconds*w.t.slow)
	w.line("Cxsense xsense 0 1 IC=%.4g", first)
	band := math.Max(law[regulator.Band], 0.005)
	switch stuck := law[regulator.Stuck]; {
	case stuck <= -0.5:
		w.line("Vxduty xduty 0 0")
	case stuck >= 0.5:
		w.line("Vxduty xduty 0 1")
	case w.o.HardCorners:
		w.line("Bxduty xduty 0 V=max(0,min(1,(%.7g-v(xsense))/%.7g+0.5))", w.middle(), band)
	default:
		w.line("Bxask xask 0 V=(%.7g-v(xsense))/%.7g+0.5", w.middle(), band)
		w.line("Bxduty xduty 0 V=0.5*(1+sqrt(v(xask)^2+%.4g)-sqrt((v(xask)-1)^2+%.4g))", 4*regulatorCorner*regulatorCorner, 4*regulatorCorner*regulatorCorner)
	}
}

// electronic writes an electronic output stage whose freewheel diode leads back
// to a node.
func (w *writer) electronic(back string) {
	r, p := w.x.Regulator, w.v.Regulator
	supply, field, frame := w.node(r.Supply), w.node(r.Field), w.node(r.Case)
	k := w.x.Regulator.Volts / 12
	if r.Kind == system.BuiltInLampExcited {
		w.line("Vxwake xwake 0 1")
	} else {
		// Awake: 0 below 4 V, 1 above 6 V of supply.
		w.line("Bxwake xwake 0 V=max(0,min(1,(v(%s,%s)-%.4g)/%.4g))", supply, frame, regulatorSleeps*k, (regulatorWakes-regulatorSleeps)*k)
	}
	allowed, own := w.gate()
	if w.o.HardCorners {
		w.line("Bxd xd 0 V=v(xduty)*v(xwake)%s", allowed)
	} else {
		w.line("Bxd xd 0 V=v(xduty)*v(xwake)^3*(10+v(xwake)*(6*v(xwake)-15))%s", allowed)
	}
	switch {
	case r.Kind == system.BuiltInLampExcited:
		w.line("Rxown %s %s %.4g", supply, frame, regulatorLooks*k)
	case own == "":
		w.line("Rxown %s %s %.4g", supply, frame, regulatorOwn)
	default:
		w.line("Bxown %s %s I=v(%s,%s)/%.4g*%s", supply, frame, supply, frame, regulatorOwn, own)
	}
	w.line("Vxreg %s xr 0", field)
	w.line("Bxsign xsign 0 V=i(vxreg)/sqrt(i(vxreg)^2+%.4g)", regulatorKnee*regulatorKnee)
	w.line("Bxr xr 0 V=v(xd)*(v(%s)+%.7g*v(xsign)+%.7g*i(vxreg))+(1-v(xd))*(v(%s)+%.7g*v(xsign)+%.7g*i(vxreg)+%.4g*min(0,i(vxreg)))",
		frame, p[regulator.Drop], p[regulator.OnOhms], back, p[regulator.Freewheel], p[regulator.FreewheelOhms], regulatorBlocks)
	w.line("Bxlow 0 %s I=v(xd)*i(vxreg)", frame)
	w.line("Bxhigh 0 %s I=(1-v(xd))*i(vxreg)", back)
}

// contacts writes vibrating contacts between supply and field: shares of the
// time with the first pair closed, both open and the second pair closed.
func (w *writer) contacts() {
	r, p := w.x.Regulator, w.v.Regulator
	supply, field, frame := w.node(r.Supply), w.node(r.Field), w.node(r.Case)
	on, series := p[regulator.OnOhms], p[regulator.SeriesOhms]
	part := series / (on + series)
	g := 1/series + 1/contactSecond
	for _, x := range []struct{ name, share string }{{"Bxfirst xfirst", "2*v(xduty)-1"}, {"Bxsecond xsecond", "1-2*v(xduty)"}} {
		if w.o.HardCorners {
			w.line("%s 0 V=max(0,%s)", x.name, x.share)
			continue
		}
		w.line("%s 0 V=0.5*(%s+sqrt((%s)^2+%.6g)-%.9g)", x.name, x.share, x.share, 4*contactOverlap*contactOverlap, math.Sqrt(1+4*contactOverlap*contactOverlap)-1)
	}
	w.line("Rxown %s %s %.4g", supply, frame, p[regulator.CoilOhms])
	w.line("Vxreg xr %s 0", field) // its current is the field's
	w.line("Bxsign xsign 0 V=i(vxreg)/sqrt(i(vxreg)^2+%.4g)", regulatorKnee*regulatorKnee)
	w.line("Bxearthed xearthed 0 V=(v(%s)*%.7g+v(%s)*%.7g-i(vxreg))/%.7g", supply, 1/series, frame, 1/contactSecond, g)
	w.line("Bxr xr 0 V=v(xfirst)*(v(%s)-%.7g*i(vxreg)-%.7g*v(xsign))+(1-v(xfirst)-v(xsecond))*(v(%s)-%.7g*i(vxreg))+v(xsecond)*v(xearthed)",
		supply, on*part, p[regulator.Drop]*part, supply, series)
	w.line("Bxhigh %s 0 I=(1-v(xsecond))*i(vxreg)+v(xsecond)*(v(%s)-v(xearthed))/%.7g", supply, supply, series)
	w.line("Bxlow %s 0 I=v(xsecond)*(i(vxreg)-(v(%s)-v(xearthed))/%.7g)", frame, supply, series)
}
