package truth

import (
	"fmt"
	"math"

	"chargewright/machine"
)

// Resistances of the machine that its model knows only as parts of others.
const (
	capacitor     = 2.2e-6 // suppressor at the output stud [F], 0.5 to 3 uF (memory)
	capacitorOhms = 0.05
	shortOhms     = 1e-3  // of a shorted diode or winding [Ohm]
	studRunning   = 1e3   // stud to case with the machine turning, as in package machine [Ohm]
	studStanding  = 1e5   // the same at rest [Ohm]
	phaseLeak     = 1e5   // phase terminal to case: without it the simulator finds no step where all diodes block [Ohm]
	fieldSeconds  = 3e-3  // field time constant, shortened from about 40 ms, at the first try [s]
	fieldOhms     = 4.8   // for which that holds [Ohm]
	fluxWidth     = 0.01  // rounding of the flux's corner at no field [A], as in package machine
	brushWidth    = 0.05  // rounding of the brush drop's corner [A], as in package machine
	fullField     = 3.0   // [A] at which inductance is what the figures say
	torqueSeconds = 10e-3 // in which the belt follows the torque [s]
)

// machine writes the three phases in the time domain with the rectifier.
// Phase k: EMF behind inductance and resistance, to the terminal xa, xb or xc.
func (w *writer) machine() {
	p, f := w.v.Alternator, w.x.Machine
	stud, frame := w.node(f.Output), w.node(f.Case)
	b := w.bridge(int(p[machine.PatternIndex] + 0.5))
	w.line(".model DX D(IS=%.7g N=%.7g RS=%.7g)", f.DiodeSaturation, f.DiodeEmission, f.DiodeOhms)
	w.line("Vxout xdc %s 0", stud)
	w.line("Rxstud %s %s %.7g", stud, frame, w.studLeak())
	w.line("Rxcap %s xcap %.4g", stud, capacitorOhms)
	w.line("Cxcap xcap %s %.4g", frame, capacitor)
	w.line("Rxstar xstar %s 1e8", frame)
	w.slip()
	for k, ph := range []string{"a", "b", "c"} {
		w.phase(k, ph)
		r := p[machine.StatorOhms] + b.PhaseOhms[k]
		if b.PhaseOpen[k] {
			r = 1e9
		}
		w.line("Rx%s x%s2 x%s %.7g", ph, ph, ph, r)
		w.line("Rx%sleak x%s %s %.7g", ph, ph, frame, phaseLeak)
		for _, d := range []struct {
			open             bool
			across           float64
			name, from, into string
		}{
			{b.Open[k], b.Across[k], ph + "p", "x" + ph, "xdc"},
			{b.Open[k+3], b.Across[k+3], ph + "m", frame, "x" + ph},
		} {
			if !d.open {
				w.line("Dx%s %s %s DX", d.name, d.from, d.into)
			}
			if d.across > 0 {
				w.line("Rx%s %s %s %.7g", d.name, d.from, d.into, 1/d.across)
			}
		}
		if b.Earth[k] > 0 {
			w.line("Rx%se x%s %s %.7g", ph, ph, frame, 1/b.Earth[k])
		}
	}
	if b.Between > 0 {
		w.line("Rxbetween xa xb %.7g", 1/b.Between)
	}
	w.fieldDiodes(int(p[machine.PatternIndex] + 0.5))
}

// bridge is what differs from a sound bridge of main diodes.
func (w *writer) bridge(pattern int) machine.Bridge {
	if w.x.Machine.DPlus == "" {
		return machine.Pattern(pattern).Changes(1 / shortOhms)
	}
	switch machine.NinePattern(pattern) {
	case machine.NineNegativeOpen:
		var b machine.Bridge
		b.Open[machine.AMinus] = true
		return b
	case machine.NineFieldOpen, machine.NineFieldShort:
		return machine.Bridge{}
	}
	return machine.NinePattern(pattern).Output().Changes(1 / shortOhms)
}

// fieldDiodes writes the three small diodes to D+, where there are any. What they
// feed moves slowly; so that D+ may follow the crests of the phases as it does with a
// held field current, nothing else hangs on it.
func (w *writer) fieldDiodes(pattern int) {
	f := w.x.Machine
	if f.DPlus == "" {
		return
	}
	w.line(".model DXF D(IS=%.7g N=%.7g RS=%.7g)", f.FieldDiodeSaturation, f.FieldDiodeEmission, f.FieldDiodeOhms)
	for k, ph := range []string{"a", "b", "c"} {
		switch {
		case k == 0 && machine.NinePattern(pattern) == machine.NineFieldShort:
			w.line("Rx%sf x%s %s %.7g", ph, ph, w.node(f.DPlus), shortOhms)
		case k != 0 || machine.NinePattern(pattern) != machine.NineFieldOpen:
			w.line("Dx%sf x%s %s DXF", ph, ph, w.node(f.DPlus))
		}
	}
}

// studLeak is the resistance from stud to case [Ohm]. As in package machine it is
// there for a stud on which there is EMF: a field whose turns are gone leaves what
// remanence makes, and that much of it.
func (w *writer) studLeak() float64 {
	p := w.v.Alternator
	switch running := or(w.o.StudOhms, studRunning); {
	case p[machine.Omega] <= 0:
		return studStanding
	case p[machine.Turns] == 0:
		e := p[machine.Flux] * p[machine.Residual] * p[machine.Omega] * (1 - p[machine.Slip])
		return 1 / (1/studStanding + e*e/(e*e+1)/running)
	default:
		return running
	}
}

// phase writes a phase's EMF and inductance, from the star point to x<ph>2.
func (w *writer) phase(k int, ph string) {
	p := w.v.Alternator
	omega := p[machine.Omega] * (1 - p[machine.Slip])
	if w.t.periods == 0 && math.Abs(omega) < 1 {
		w.line("Vx%s x%s1 xstar 0", ph, ph)
	} else {
		angle := fmt.Sprintf("(%.9g*time-6.283185307*v(xlate)-%.9g)", omega, 2*math.Pi/3*float64(k)+w.angle())
		wave := "sin" + angle
		if w.o.Third != 0 {
			wave += fmt.Sprintf("+%.4g*sin(3*%s)", w.o.Third, angle)
		}
		if w.o.Fifth != 0 {
			wave += fmt.Sprintf("+%.4g*sin(5*%s)", w.o.Fifth, angle)
		}
		w.line("Bx%s x%s1 xstar V=%.9g*v(xturning)*v(xflux)*(%s)", ph, ph, p[machine.Flux], wave)
	}
	l := p[machine.Inductance]
	if w.o.InductanceFall == 0 {
		w.line("Lx%s x%s1 x%s2 %.7g", ph, ph, ph, l)
		return
	}
	// Flux linkage [mVs] on a capacitor; the current follows from it, with an
	// inductance that falls in a straight line until full field.
	w.line("Bx%sl 0 x%sl I=v(x%s1,x%s2)", ph, ph, ph, ph)
	w.line("Cx%sl x%sl 0 1e-3 IC=0", ph, ph)
	w.line("Rx%sl x%sl 0 1e9", ph, ph)
	w.line("Bx%si x%s1 x%s2 I=v(x%sl)/(%.7g*(1+%.4g*(1-min(1.3,abs(i(vxfield))/%.4g))))", ph, ph, ph, ph, 1e3*l, w.o.InductanceFall, fullField)
}

// slip writes the electrical speed [rad/s] as node xturning, and the turns that
// the belt lost beyond its constant slip as node xlate.
func (w *writer) slip() {
	p, f := w.v.Alternator, w.x.Machine
	omega, s := p[machine.Omega], p[machine.Slip]
	if w.v.Reached > omega {
		// Up there until a third of the run, and back: what woke stays awake.
		w.line("Vxturning xturning 0 PWL(0 %.9g %.6g %.9g %.6g %.9g)", w.v.Reached*(1-s), w.t.settle/3, w.v.Reached*(1-s), w.t.settle/2, omega*(1-s))
		w.line("Bxlate 0 xlate I=(%.9g-v(xturning))/6.283185307", omega*(1-s))
		w.line("Cxlate xlate 0 1 IC=0")
		return
	}
	if w.o.SlipWithTorque == 0 || omega == 0 {
		w.line("Vxturning xturning 0 %.9g", omega*(1-s))
		w.line("Vxlate xlate 0 0")
		return
	}
	// Torque over that at the rated point, times one and a half: the belt has
	// its stated slip at two thirds of rated torque.
	rated := f.RatedAmps * f.RatedVolts / (f.RatedEngine * f.PulleyRatio * float64(f.PolePairs))
	w.line("Bxtorque 0 xtorque I=(max(0,v(xdc,%s)*i(vxout))/max(%.7g,v(xturning))/%.7g*1.5-v(xtorque))/%.4g",
		w.node(f.Case), 0.01*omega, rated, torqueSeconds)
	w.line("Cxtorque xtorque 0 1 IC=0")
	most := math.Max(s, 0.97) // a belt that is off is off
	w.line("Bxturning xturning 0 V=%.9g*(1-min(%.7g,%.7g*(1+%.4g*(v(xtorque)-1))))", omega, most, s, w.o.SlipWithTorque)
	w.line("Bxlate 0 xlate I=(%.9g-v(xturning))/6.283185307", omega*(1-s))
	w.line("Cxlate xlate 0 1 IC=0")
}

// field writes the rotor between the rings, its brushes' fixed drop, and the
// flux it makes as node xflux.
func (w *writer) field() {
	p, f := w.v.Alternator, w.x.Machine
	w.line("Vxfield %s xf1 0", w.node(f.RingA))
	w.line("Lxfield xf1 xf2 %.7g IC=0", fieldSeconds*fieldOhms/math.Sqrt(w.t.slow))
	w.line("Rxfield xf2 xf3 %.7g", p[machine.RotorOhms])
	w.line("Bxbrush xf3 %s V=%.7g*i(vxfield)/sqrt(i(vxfield)^2+%.4g)", w.node(f.RingB), p[machine.BrushVolts], brushWidth*brushWidth)
	w.line("Bxat xat 0 V=(%.7g*i(vxfield))^2/sqrt((%.7g*i(vxfield))^2+%.4g)", p[machine.Turns], p[machine.Turns], fluxWidth*fluxWidth)
	w.line("Bxflux xflux 0 V=%.7g*v(xat)/(%.7g+%.7g*v(xat))+%.7g", 1+f.Saturation, f.FluxKnee, f.Saturation, p[machine.Residual])
}
