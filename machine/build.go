package machine

import (
	"errors"
	"fmt"
	"math"
)

// Winding is how the three phases are joined.
type Winding int

// The two ways.
const (
	Star Winding = iota
	Delta
)

var windingNames = [...]string{"star", "delta"}

// String returns the word of a machine file.
func (w Winding) String() string {
	if w < 0 || int(w) >= len(windingNames) {
		return fmt.Sprintf("winding %d", int(w))
	}
	return windingNames[w]
}

// Build is one machine with its rectifier at one speed and excitation, for Run.
// It holds what OperatingPoint does not: a delta winding, diodes at the star
// point, three field diodes with a terminal D+, and changes anywhere.
type Build struct {
	Winding Winding
	EMF     float64 // peak of a winding's fundamental [V]; 0: no EMF at all
	// Third and Fifth are EMF harmonics as fractions of the fundamental, in
	// phase with it.
	Third, Fifth float64
	Omega        float64 // electrical [rad/s]
	Ohms         float64 // of one winding [Ohm]
	Henries      float64 // of one winding while the three currents sum to zero [H]
	// ZeroHenries is that of one winding while all three carry the same current:
	// what limits the third harmonic round a delta. 0 takes Henries [H].
	ZeroHenries float64
	Diode       Diode      // of the six, and of the two at the star point
	StarDiodes  bool       // two more diodes, from the star point to output and case
	Field       *FieldSide // three field diodes; nil without
	Volts       float64    // held at the output behind SourceOhms [V]
	SourceOhms  float64    // between the output terminal and Volts [Ohm]
	Changes     Changes
	Steps       int  // per period; 0 takes DefaultSteps
	Wave        bool // keep samples of one period
}

// FieldSide is three small diodes from the phases to D+, and what D+ feeds: a
// held current and a conductance. A field takes 40 ms to change its current,
// a period 3 ms: while it is switched on it draws a held current.
type FieldSide struct {
	Diode   Diode
	Amps    float64 // drawn at D+ whatever its voltage [A]
	Siemens float64 // drawn on top, from D+ to Behind [S]
	Behind  float64 // [V]
}

// SmallDiode is a field diode of this model: 0.71 V at 0.1 A and 0.92 V at 3 A.
// Basis: memory, an ordinary 1 A to 3 A rectifier diode.
var SmallDiode = Diode{Saturation: 1e-8, Emission: 1.7, Ohms: 20e-3}

// check joins everything that is wrong with the build.
func (c *Build) check() error {
	var problems []error
	need := func(ok bool, what string, got float64) {
		if !ok || math.IsNaN(got) || math.IsInf(got, 0) {
			problems = append(problems, fmt.Errorf("machine: %s, not %g", what, got))
		}
	}
	diode := func(d Diode, which string) {
		need(d.Saturation > 0, which+" saturation current must be above 0 A", d.Saturation)
		need(d.Emission > 0, which+" emission must be above 0", d.Emission)
		need(d.Ohms > 0, which+" resistance must be above 0 Ohm (a micro-ohm will do)", d.Ohms)
	}
	need(c.Winding == Star || c.Winding == Delta, "the winding is star (0) or delta (1)", float64(c.Winding))
	need(c.EMF >= 0, "EMF must be 0 V or more", c.EMF)
	need(math.Abs(c.Third) < 1 && math.Abs(c.Fifth) < 1, "EMF harmonics must be below the fundamental", max(math.Abs(c.Third), math.Abs(c.Fifth)))
	need(c.Omega > 0 || c.EMF == 0, "Omega must be above 0 rad/s where there is EMF", c.Omega)
	need(c.Ohms >= 0 && (c.Ohms > 0 || c.EMF > 0), "winding resistance must be above 0 Ohm (0 only while there is EMF)", c.Ohms)
	need(c.Henries > 0, "inductance must be above 0 H", c.Henries)
	need(c.ZeroHenries >= 0, "zero-sequence inductance must be 0 H or more", c.ZeroHenries)
	need(true, "the voltage held must be a number", c.Volts)
	need(c.SourceOhms >= 0, "source resistance must be 0 Ohm or more", c.SourceOhms)
	need(c.Steps == 0 || c.Steps >= 48, "Steps must be 0 or at least 48", float64(c.Steps))
	need(!c.StarDiodes || c.Winding == Star, "star-point diodes need a star winding", float64(c.Winding))
	diode(c.Diode, "diode")
	if f := c.Field; f != nil {
		diode(f.Diode, "field diode")
		need(f.Siemens >= 0, "the conductance at D+ must be 0 S or more", f.Siemens)
		need(true, "the current at D+ must be a number", f.Amps)
		need(true, "the voltage behind the conductance at D+ must be a number", f.Behind)
	}
	if err := c.Changes.check(c); err != nil {
		problems = append(problems, err)
	}
	return errors.Join(problems...)
}
