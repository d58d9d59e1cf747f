package truth

// relaySeconds is how slowly a relay follows its coil's mean voltage [s].
const relaySeconds = 5e-3

// relay writes a relay: its winding, and contacts that conduct by the mean voltage
// across it, in part between its two voltages.
func (w *writer) relay() {
	v, x := w.v.Relay, w.m.Sys.Relay
	if v == nil {
		return
	}
	plus, minus, in, out := w.node(x.CoilPlus), w.node(x.CoilMinus), w.node(x.In), w.node(x.Out)
	w.line("Rxcoil %s %s %.7g", plus, minus, v.Coil)
	w.line("Bxsees 0 xsees I=(v(%s,%s)-v(xsees))/(%.4g*v(xslow))", plus, minus, relaySeconds)
	w.line("Cxsees xsees 0 1 IC=0")
	w.line("Bxpull xpull 0 V=max(0,min(1,(v(xsees)-%.7g)/%.7g))", v.Opens, v.Closes-v.Opens)
	w.line("Bxcontacts %s %s I=v(%s,%s)*v(xpull)^3*(10+v(xpull)*(6*v(xpull)-15))/%.7g", in, out, in, out, v.Contacts)
}
