package machine

import (
	"fmt"
	"math"
	"strings"
)

// Netlist returns the build as a SPICE transient netlist, for holding Run
// against an independent simulator: periods from rest, at least steps time
// steps each; the last period's time, output current and D+ voltage (the output
// voltage where there is no D+) go to the file out. It needs EMF.
//
// What OperatingPoint.Netlist says of uic and the star point's megohm holds
// here too; a delta has its megohm at corner a.
func (c *Build) Netlist(title, out string, periods, steps int) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	hertz := c.Omega / (2 * math.Pi)
	line("* %s", strings.ReplaceAll(title, "\n", " "))
	line(".model DR D(IS=%.9g N=%.9g RS=%.9g)", c.Diode.Saturation, c.Diode.Emission, c.Diode.Ohms)
	if c.Field != nil {
		line(".model DF D(IS=%.9g N=%.9g RS=%.9g)", c.Field.Diode.Saturation, c.Field.Diode.Emission, c.Field.Diode.Ohms)
	}
	line(".options temp=27 reltol=1e-4 abstol=1e-7 vntol=1e-5 method=gear maxord=2 gmin=1e-10")
	for k := range 3 {
		c.windingLines(line, k, hertz)
		c.legLines(line, k)
	}
	if zero := c.ZeroHenries; zero != 0 && zero != c.Henries {
		// Mutual coupling k = M/L of each pair, with L = self inductance.
		self, mutual := (2*c.Henries+zero)/3, (zero-c.Henries)/3
		for k, pair := range []string{"a Lb", "b Lc", "c La"} {
			line("K%d L%s %.9g", k, pair, mutual/self)
		}
	}
	c.dplusLines(line)
	line("Rn %s 0 1e6", map[Winding]string{Star: "n", Delta: c.corner(0)}[c.Winding])
	line("Vs dcp dct DC 0")
	line("Rsource dct held %.9g", max(c.SourceOhms, 1e-4))
	line("Vheld held 0 DC %.9g", c.Volts)
	period := 1 / hertz
	line(".tran %.9g %.12g %.12g %.9g uic", period/float64(steps), float64(periods)*period,
		float64(periods-1)*period, period/float64(steps))
	line(".control\nset numdgt=9\nrun\nwrdata %s i(Vs) v(%s)\nquit\n.endc\n.end", out, map[bool]string{true: "dp", false: "dct"}[c.Field != nil])
	return b.String()
}

// windingLines writes a winding between its ends, harmonics and all.
func (c *Build) windingLines(line func(string, ...any), k int, hertz float64) {
	ph := string(rune('a' + k))
	from, to := "n", ph
	if c.Winding == Delta {
		from, to = c.corner((k+1)%3), c.corner(k)
	}
	for _, h := range []struct {
		order int
		share float64
	}{{5, c.Fifth}, {3, c.Third}} {
		if h.share != 0 {
			next := fmt.Sprintf("%s%de", ph, h.order)
			line("V%s%d %s %s SIN(0 %.9g %.9g 0 0 %d)", ph, h.order, next, from, c.EMF*h.share, hertz*float64(h.order), -120*k*h.order%360)
			from = next
		}
	}
	self := c.Henries
	if c.ZeroHenries != 0 {
		self = (2*c.Henries + c.ZeroHenries) / 3
	}
	r := c.Ohms + c.Changes.WindingOhms[k]
	lead := c.Changes.LeadOhms[k]
	if c.Changes.LeadOpen[k] {
		lead = 1e9
	}
	if c.Winding == Star {
		r += lead
	}
	if c.Changes.WindingOpen[k] {
		r = 1e9
	}
	line("V%s %s1 %s SIN(0 %.9g %.9g 0 0 %d)", ph, ph, from, c.EMF, hertz, -120*k)
	line("L%s %s1 %s2 %.9g", ph, ph, ph, self)
	line("R%s %s2 %s %.9g", ph, ph, to, max(r, 1e-9))
	if c.Winding == Delta && lead > 0 {
		line("Rlead%s k%s %s %.9g", ph, ph, ph, lead)
	}
}

// corner is the node of a delta's corner: the rectifier's own behind a sound lead.
func (c *Build) corner(k int) string {
	ph := string(rune('a' + k))
	if c.Changes.LeadOpen[k] || c.Changes.LeadOhms[k] > 0 {
		return "k" + ph
	}
	return ph
}

// legLines writes a leg of the rectifier and what happened to it.
func (c *Build) legLines(line func(string, ...any), k int) {
	ph, next := string(rune('a'+k)), string(rune('a'+(k+1)%3))
	diode := func(name, anode, cathode, model string, ch Change) {
		if !ch.Open {
			line("D%s %s %s %s", name, anode, cathode, model)
		}
		if ch.Across > 0 {
			line("R%s %s %s %.9g", name, anode, cathode, 1/ch.Across)
		}
	}
	diode(ph+"p", ph, "dcp", "DR", c.Changes.Main[k])
	diode(ph+"m", "0", ph, "DR", c.Changes.Main[k+3])
	if c.Field != nil {
		diode(ph+"f", ph, "dp", "DF", c.Changes.Field[k])
	}
	if c.StarDiodes && k == 0 {
		diode("np", "n", "dcp", "DR", c.Changes.Star[0])
		diode("nm", "0", "n", "DR", c.Changes.Star[1])
	}
	if g := c.Changes.Between[k]; g > 0 {
		line("R%s%s %s %s %.9g", ph, next, ph, next, 1/g)
	}
	if g := c.Changes.Earth[k]; g > 0 {
		line("R%se %s 0 %.9g", ph, ph, 1/g)
	}
	if g := c.Changes.StarEarth; g > 0 && k == 0 {
		line("Rne n 0 %.9g", 1/g)
	}
}

// dplusLines writes what D+ feeds.
func (c *Build) dplusLines(line func(string, ...any)) {
	f := c.Field
	if f == nil {
		return
	}
	line("Ifield dp 0 DC %.9g", f.Amps)
	line("Rdp dp 0 1e8")
	if f.Siemens > 0 {
		line("Rfeed dp behind %.9g", 1/f.Siemens)
		line("Vbehind behind 0 DC %.9g", f.Behind)
	}
}
