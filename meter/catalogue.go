package meter

// The kinds of quantity, spelled as questions spell them.
const (
	volts   = "volts"
	acVolts = "ac-volts"
	amps    = "amps"
	ohms    = "ohms"
	density = "density"
	speed   = "speed"
)

// oneRPM is one turn a minute [rad/s].
const oneRPM = 0.10471975511965977

// Catalogue returns the built-in instruments: typical ones of a workshop, not
// any maker's. A fresh copy each time.
//
// What was read: hand-held meters reach 0.025 to 0.7 % + 1 to 2 counts on DC
// volts (meter application pages); DC clamps 2 to 3 % + counts + zero offset
// (clamp instructions); test leads 0.2 to 0.5 ohm (meter application page).
// Everything else is memory: replace it by the figures of the instrument used.
func Catalogue() []Instrument {
	return []Instrument{
		dmm(),
		{
			ID: "dc-clamp", Name: "DC clamp meter", Basis: "common practice",
			Source: "clamp instructions: 2 to 3 % + digits + zero offset; here 2 % + 0.3 A after zeroing, 0.1 A resolution",
			Ranges: []Range{{Kind: amps, Full: 400, Resolution: 0.1, Percent: 2, Counts: 3}},
		},
		{
			ID: "ma-clamp", Name: "low-range DC clamp meter", Basis: "memory",
			Source: "clamp of the 10 mA class: 2 % + 2 counts of 10 mA after zeroing",
			Ranges: []Range{{Kind: amps, Full: 20, Resolution: 0.01, Percent: 2, Counts: 2}},
		},
		{
			ID: "control-unit", Name: "read-out of the control unit", Basis: "memory",
			Source: "what control units print: volts to 0.1, battery amps to 0.1 with 1 % and an offset of 0.3 A (memory)",
			Ranges: []Range{
				{Kind: volts, Full: 32, Resolution: 0.1, Counts: 1},
				{Kind: amps, Full: 1500, Resolution: 0.1, Percent: 1, Counts: 3},
			},
		},
		{
			ID: "shunt-ammeter", Name: "ammeter with shunt, in series", Basis: "memory", SeriesOhms: 0.010,
			Source: "600 mV across 10 mohm at 60 A; 1 % + 2 counts",
			Ranges: []Range{{Kind: amps, Full: 60, Resolution: 0.1, Percent: 1, Counts: 2}},
		},
		{
			ID: "field-ammeter", Name: "10 A ammeter, in series with the field", Basis: "memory", SeriesOhms: 0.030,
			Source: "10 A jack of a hand-held meter: 1 % + 3 counts; 30 mohm with its fuse and leads",
			Ranges: []Range{{Kind: amps, Full: 10, Resolution: 0.01, Percent: 1, Counts: 3}},
		},
		{
			ID: "hydrometer", Name: "battery hydrometer", Basis: "memory",
			Source: "graduation 0.005, reading good to 0.003 to 0.005 (memory); hook-up: drop left in the barrel, bubbles, eye height",
			Ranges: []Range{{Kind: density, Full: 1.3, Resolution: 0.005, Counts: 1, HookUp: 0.001}},
		},
		{
			ID: "milliohm-meter", Name: "milliohm meter, four leads", Basis: "memory",
			Source: "four-wire meter: 0.5 % + 3 counts; hook-up: where exactly the probes stand",
			Ranges: []Range{
				{Kind: ohms, Full: 0.2, Resolution: 1e-4, Percent: 0.5, Counts: 3, HookUp: 2e-4},
				{Kind: ohms, Full: 2, Resolution: 1e-3, Percent: 0.5, Counts: 3, HookUp: 2e-4},
				{Kind: ohms, Full: 20, Resolution: 1e-2, Percent: 0.5, Counts: 3, HookUp: 2e-4},
			},
		},
		{
			ID: "tachometer", Name: "hand tachometer", Basis: "memory",
			Source: "digital tachometers 0.05 to 0.5 % + 1 digit",
			Ranges: []Range{{Kind: speed, Full: 20000 * oneRPM, Resolution: oneRPM, Percent: 0.5, Counts: 1}},
		},
	}
}

// dmm is a hand-held multimeter of 6,000 counts.
func dmm() Instrument {
	// Probe tips on a stud or post: contact and where on the part they stand.
	const tip = 0.5e-3 // [V] standard uncertainty, memory
	return Instrument{
		ID: "dmm", Name: "hand-held multimeter", Basis: "common practice", InputOhms: 10e6,
		Source: "DC volts 0.5 % + 2 counts, within the 0.025 to 0.7 % + 1 to 2 of meter application pages (read); AC and ohms rows and hook-up memory",
		Ranges: []Range{
			{Kind: volts, Full: 0.6, Resolution: 1e-4, Percent: 0.5, Counts: 2, HookUp: tip},
			{Kind: volts, Full: 6, Resolution: 1e-3, Percent: 0.5, Counts: 2, HookUp: tip},
			{Kind: volts, Full: 60, Resolution: 1e-2, Percent: 0.5, Counts: 2, HookUp: tip},
			{Kind: volts, Full: 600, Resolution: 0.1, Percent: 0.5, Counts: 2, HookUp: tip},
			{Kind: acVolts, Full: 0.6, Resolution: 1e-4, Percent: 1, Counts: 5, HookUp: tip},
			{Kind: acVolts, Full: 6, Resolution: 1e-3, Percent: 1, Counts: 5, HookUp: tip},
			{Kind: acVolts, Full: 60, Resolution: 1e-2, Percent: 1, Counts: 5, HookUp: tip},
			// Leads of 0.2 to 0.5 ohm are taken off by touching the tips; 0.1
			// ohm is what remains (memory).
			{Kind: ohms, Full: 600, Resolution: 0.1, Percent: 0.9, Counts: 2, HookUp: 0.1},
			{Kind: ohms, Full: 6e3, Resolution: 1, Percent: 0.9, Counts: 2, HookUp: 0.1},
			{Kind: ohms, Full: 60e3, Resolution: 10, Percent: 0.9, Counts: 2, HookUp: 0.1},
			{Kind: ohms, Full: 600e3, Resolution: 100, Percent: 0.9, Counts: 2, HookUp: 0.1},
			{Kind: ohms, Full: 6e6, Resolution: 1000, Percent: 1.5, Counts: 3, HookUp: 0.1},
		},
	}
}

// Find returns the built-in instrument with the id.
func Find(id string) (Instrument, bool) {
	for _, in := range Catalogue() {
		if in.ID == id {
			return in, true
		}
	}
	return Instrument{}, false
}
