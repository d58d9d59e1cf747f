package truth

import (
	"fmt"
	"math"

	"chargewright/battery"
	"chargewright/system"
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

// battery writes a battery: open-circuit voltage, ohmic resistance, and behind
// a double-layer capacitance the polarisation while charging or the slow half of
// the resistance while discharging; across the posts the gassing. What is of a
// second one bears a 2.
func (w *writer) battery(i int, b system.Accumulator) {
	p := w.v.Batteries[i]
	plus, minus := w.node(b.Positive), w.node(b.Negative)
	cells := math.Round(b.Volts / 2)
	scale := cells / 6
	model, err := battery.New(b.AmpHours, int(cells))
	if err != nil {
		w.line("* %v", err) // Compile has refused such a system
		return
	}
	k := ""
	if i > 0 {
		k = fmt.Sprint(i + 1)
	}
	soc := math.Min(math.Max(p[battery.SoC], 0), 1)
	ocv, _ := model.OpenCircuitVolts(soc) // between 0 and 1
	r := model.ACResistance(p, nil)
	fifties := b.AmpHours / 50 * p[battery.Capacity]
	warm := p[battery.Temperature] - batteryAt
	vc := polarises * scale * p[battery.Sulphation] * or(w.o.Polarisation, 1)
	ic := fifties * math.Pow(10, warm/acceptsDecade) * (acceptsFull + acceptsSlope*(1-soc)/(1+acceptsBend*(1-soc)))

	w.line("Vxbat%s %s xpost%s 0", k, plus, k)
	w.line("Rxbat%s xpost%s xinner%s %.7g", k, k, k, r)
	w.line("Bxslowly%s xinner%s xrest%s V=v(xpol%s)", k, k, k, k)
	w.line("Vxocv%s xrest%s %s %.7g", k, k, minus, ocv+p[battery.Surface]-p[battery.CellLoss])
	w.line("Bxpol%s 0 xpol%s I=(i(vxbat%s)-(v(xpol%s)>0 ? %.7g*sinh(min(30,v(xpol%s)/%.7g)) : v(xpol%s)/%.7g))/(%.4g*v(xslow))",
		k, k, k, k, ic, k, vc, k, slowHalf*r, or(w.o.DoubleLayer, 1))
	w.line("Cxpol%s xpol%s 0 1 IC=0", k, k)

	fold := gasFold * scale * or(w.o.GassingFold, 1)
	sense := "v(" + plus + ")-v(" + minus + ")"
	if !w.o.GassingFast {
		w.line("Bxgas%s 0 xgas%s I=(%s-v(xgas%s))/(%.4g*v(xslow))", k, k, sense, k, gasSeconds)
		w.line("Cxgas%s xgas%s 0 1 IC=%.4g", k, k, system.Rested(b.Volts))
		sense = "v(xgas" + k + ")"
	}
	top := (gasTop - gasVolts) / gasFold
	w.line("Bxover%s xover%s 0 V=(%s+%.7g-%.7g)/%.7g", k, k, sense, p[battery.CellLoss], gasVolts*scale, fold)
	w.line("Bxbubbles%s %s %s I=%.7g*exp(min(v(xover%s),%.4g))*(1+max(0,v(xover%s)-%.4g))",
		k, plus, minus, gasAmps*fifties*math.Exp(warm/gasKelvin), k, top, k, top)
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
