package truth

import (
	"math"

	"chargewright/battery"
)

// Charge acceptance and gassing of the battery's model, written anew from
// docs/models/battery.md so that Options can bend them and the two can be held
// against each other. Six cells and 50 Ah where they scale.
const (
	batteryAt     = 298.15 // [K]
	polarises     = 0.9    // [V] for e-fold charge current
	acceptsFull   = 0.15   // exchange current when full [A]
	acceptsSlope  = 14.0   // its growth with the charge that is missing [A]
	acceptsBend   = 1.23
	acceptsDecade = 50.0 // tenfold in this many kelvin [K]
	gasAmps       = 0.05 // at gasVolts, 25 degC [A]
	gasVolts      = 14.1
	gasFold       = 0.55 // [V] for e-fold gassing
	gasKelvin     = 15.0 // [K] for e-fold gassing
	gasTop        = 20.0 // beyond which gassing goes on in a straight line [V]
	slowHalf      = 0.5  // discharge resistance that follows slowly, of the ohmic one
	gasSeconds    = 20e-3
)

// battery writes the battery: open-circuit voltage, ohmic resistance, and behind
// a double-layer capacitance the polarisation while charging or the slow half of
// the resistance while discharging; across the posts the gassing.
func (w *writer) battery() {
	p, sys := w.v.Battery, w.m.Sys
	plus, minus := w.node(sys.Battery.Positive), w.node(sys.Battery.Negative)
	cells := math.Round(sys.Volts / 2)
	scale := cells / 6
	model, err := battery.New(sys.Battery.AmpHours, int(cells))
	if err != nil {
		w.line("* %v", err) // Compile has refused such a system
		return
	}
	soc := math.Min(math.Max(p[battery.SoC], 0), 1)
	ocv, _ := model.OpenCircuitVolts(soc) // between 0 and 1
	r := model.ACResistance(p, nil)
	fifties := sys.Battery.AmpHours / 50 * p[battery.Capacity]
	warm := p[battery.Temperature] - batteryAt
	vc := polarises * scale * p[battery.Sulphation] * or(w.o.Polarisation, 1)
	ic := fifties * math.Pow(10, warm/acceptsDecade) * (acceptsFull + acceptsSlope*(1-soc)/(1+acceptsBend*(1-soc)))

	w.line("Vxbat %s xpost 0", plus)
	w.line("Rxbat xpost xinner %.7g", r)
	w.line("Bxslowly xinner xrest V=v(xpol)")
	w.line("Vxocv xrest %s %.7g", minus, ocv+p[battery.Surface]-p[battery.CellLoss])
	w.line("Bxpol 0 xpol I=(i(vxbat)-(v(xpol)>0 ? %.7g*sinh(min(30,v(xpol)/%.7g)) : v(xpol)/%.7g))/(%.4g*v(xslow))",
		ic, vc, slowHalf*r, or(w.o.DoubleLayer, 1))
	w.line("Cxpol xpol 0 1 IC=0")

	fold := gasFold * scale * or(w.o.GassingFold, 1)
	sense := "v(" + plus + ")-v(" + minus + ")"
	if !w.o.GassingFast {
		w.line("Bxgas 0 xgas I=(%s-v(xgas))/(%.4g*v(xslow))", sense, gasSeconds)
		w.line("Cxgas xgas 0 1 IC=%.4g", w.rest())
		sense = "v(xgas)"
	}
	top := (gasTop - gasVolts) / gasFold
	w.line("Bxover xover 0 V=(%s+%.7g-%.7g)/%.7g", sense, p[battery.CellLoss], gasVolts*scale, fold)
	w.line("Bxbubbles %s %s I=%.7g*exp(min(v(xover),%.4g))*(1+max(0,v(xover)-%.4g))",
		plus, minus, gasAmps*fifties*math.Exp(warm/gasKelvin), top, top)
}

// The load tester, as prediction has it.
const (
	testerOn      = 2.0  // [V] below which it draws less and less
	testerDroop   = 1e-3 // [Ohm] of a hand that holds volts
	testerSoft    = 1e-3 // [V]
	testerSeconds = 5e-3 // it follows the mean voltage [s]
)

// loadTester writes what the load tester draws across the battery.
func (w *writer) loadTester() {
	b := &w.m.Sys.Bank
	plus, minus := w.node(b.Plus), w.node(b.Minus)
	if w.v.BankAmps != 0 {
		w.line("Bxload %s %s I=%.7g*v(%s,%s)/sqrt(%.4g+v(%s,%s)^2)", plus, minus, w.v.BankAmps, plus, minus, testerOn*testerOn, plus, minus)
	}
	if w.v.HoldVolts == 0 {
		return
	}
	w.line("Bxheld 0 xheld I=(v(%s,%s)-v(xheld))/%.4g", plus, minus, testerSeconds)
	w.line("Cxheld xheld 0 1 IC=%.4g", w.rest())
	w.line("Bxhold %s %s I=(v(xheld)-%.7g+sqrt((v(xheld)-%.7g)^2+%.4g))/%.4g", plus, minus, w.v.HoldVolts, w.v.HoldVolts, 4*testerSoft*testerSoft, 2*testerDroop)
}
