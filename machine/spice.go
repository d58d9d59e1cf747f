package machine

import (
	"fmt"
	"math"
	"strings"
)

// Netlist returns the point as a SPICE transient netlist, for holding
// SteadyState against an independent simulator: periods from rest, at least
// steps time steps each, with the last period's output current written to the
// file out as time and current.
//
// It always says uic: without it the simulator's operating point at time zero
// shorts the inductors and starts with E/R amperes. The star point's megohm
// holds its potential while nothing conducts (15 uA); with a gigohm there the
// simulator can stall at two phases joined.
func (c OperatingPoint) Netlist(title, out string, periods, steps int) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	hertz := c.Omega / (2 * math.Pi)
	line("* %s", strings.ReplaceAll(title, "\n", " "))
	line(".model DR D(IS=%.9g N=%.9g RS=%.9g)", c.Diode.Saturation, c.Diode.Emission, c.Diode.Ohms)
	line(".options temp=27 reltol=1e-4 abstol=1e-7 vntol=1e-5 method=gear maxord=2 gmin=1e-10")
	for k, ph := range []string{"a", "b", "c"} {
		c.phase(line, ph, k, hertz)
	}
	if c.Bridge.Between > 0 {
		line("Rab a b %.9g", 1/c.Bridge.Between)
	}
	line("Rn n 0 1e6")
	line("Vs dcp dct DC 0")
	line("Rsource dct held %.9g", max(c.SourceOhms, 1e-4))
	line("Vheld held 0 DC %.9g", c.Volts)
	period := 1 / hertz
	line(".tran %.9g %.12g %.12g %.9g uic", period/float64(steps), float64(periods)*period,
		float64(periods-1)*period, period/float64(steps))
	line(".control")
	line("set numdgt=9")
	line("run")
	line("wrdata %s i(Vs)", out)
	line("quit")
	line(".endc")
	line(".end")
	return b.String()
}

// phase writes one phase: EMF and its harmonics, winding, diodes, shorts.
func (c *OperatingPoint) phase(line func(string, ...any), ph string, k int, hertz float64) {
	star := "n"
	for _, h := range []struct {
		order int
		share float64
	}{{5, c.Fifth}, {3, c.Third}} {
		if h.share != 0 {
			next := fmt.Sprintf("%s%de", ph, h.order)
			line("V%s%d %s %s SIN(0 %.9g %.9g 0 0 %d)", ph, h.order, next, star,
				c.EMF*h.share, hertz*float64(h.order), -120*k*h.order%360)
			star = next
		}
	}
	line("V%s %s1 %s SIN(0 %.9g %.9g 0 0 %d)", ph, ph, star, c.EMF, hertz, -120*k)
	line("L%s %s1 %s2 %.9g", ph, ph, ph, c.Henries)
	r := c.Ohms + c.Bridge.PhaseOhms[k]
	if c.Bridge.PhaseOpen[k] {
		r = 1e9
	}
	line("R%s %s2 %s %.9g", ph, ph, ph, max(r, 1e-9))
	if !c.Bridge.Open[k] {
		line("D%sp %s dcp DR", ph, ph)
	}
	if !c.Bridge.Open[k+3] {
		line("D%sm 0 %s DR", ph, ph)
	}
	for _, s := range []struct {
		siemens  float64
		name, to string
	}{{c.Bridge.Across[k], "p", "dcp"}, {c.Bridge.Across[k+3], "m", "0"}, {c.Bridge.Earth[k], "e", "0"}} {
		if s.siemens > 0 {
			line("R%s%s %s %s %.9g", ph, s.name, ph, s.to, 1/s.siemens)
		}
	}
}
