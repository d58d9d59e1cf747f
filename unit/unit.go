// Package unit reads and prints quantities at the edges: "14.2 V", "420 mV",
// "2,5 A", "20 degC", "10 AWG". Inside the program everything is SI float64.
//
// It refuses a missing or wrong unit, a number that is not finite, and a
// thousands comma that may be a decimal comma, each time with what to write.
// It knows no limits: whether 80 V is sensible is for the caller. Open parse.go
// for what is accepted, table.go for the units, format.go for what is printed.
package unit

// Dim is what kind of quantity a number is.
type Dim int

// The kinds of quantity, with the SI unit that a number of the kind is in.
const (
	One           Dim = iota // plain number, share [1]
	Volt                     // [V]
	Amp                      // [A]
	Ohm                      // [Ohm]
	Farad                    // [F]
	Henry                    // [H]
	Watt                     // [W]
	Hertz                    // [Hz]
	Second                   // [s]
	Metre                    // [m]
	SquareMetre              // cross-section [m2]
	Kelvin                   // temperature [K]
	KelvinDiff               // temperature difference, spread of a temperature [K]
	AngularSpeed             // [rad/s]
	AmpHour                  // charge, capacity [C]
	VoltPerKelvin            // [V/K]
	PerKelvin                // temperature coefficient [1/K]
	VoltSecond               // flux linkage, EMF per angular speed [V s]
	NewtonMetre              // torque [N m]
	dims
)

// about says how a kind is named, which unit is suggested, and an example.
var about = [dims]struct{ name, symbol, example string }{
	One:           {"a plain number", "", "1.225"},
	Volt:          {"volts", "V", "14.2 V"},
	Amp:           {"amps", "A", "2.5 A"},
	Ohm:           {"ohms", "ohm", "1.9 ohm"},
	Farad:         {"farads", "uF", "2.2 uF"},
	Henry:         {"henries", "mH", "200 mH"},
	Watt:          {"watts", "W", "21 W"},
	Hertz:         {"hertz", "Hz", "600 Hz"},
	Second:        {"time", "min", "2 min"},
	Metre:         {"length", "m", "1.5 m"},
	SquareMetre:   {"cross-section", "mm2", "16 mm2"},
	Kelvin:        {"temperature", "degC", "20 degC"},
	KelvinDiff:    {"temperature difference", "K", "5 K"},
	AngularSpeed:  {"speed", "rpm", "1250 rpm"},
	AmpHour:       {"charge", "Ah", "55 Ah"},
	VoltPerKelvin: {"volts per kelvin", "mV/K", "-10 mV/K"},
	PerKelvin:     {"per kelvin", "1/K", "0.0039 1/K"},
	VoltSecond:    {"volt seconds", "V s", "0.013 V s"},
	NewtonMetre:   {"torque", "N m", "4 N m"},
}

// known maps a Dim from outside the list to One, so that no table is read past
// its end.
func (d Dim) known() Dim {
	if d < 0 || d >= dims {
		return One
	}
	return d
}

// String names the kind of quantity in words.
func (d Dim) String() string { return about[d.known()].name }

// Example is a quantity of the kind as a person may write it, for hints.
func (d Dim) Example() string { return about[d.known()].example }

// Symbol is the unit suggested for the kind, "" for a plain number.
func (d Dim) Symbol() string { return about[d.known()].symbol }

// ZeroCelsius is 0 degC [K], by the definition of the Celsius scale.
const ZeroCelsius = 273.15

// rpm is one turn a minute [rad/s], 2 pi / 60.
const rpm = 0.10471975511965977461542144610931676280657

// Celsius converts a temperature [K] to [degC].
func Celsius(kelvin float64) float64 { return kelvin - ZeroCelsius }

// FromCelsius converts a temperature [degC] to [K].
func FromCelsius(c float64) float64 { return c + ZeroCelsius }

// Fahrenheit converts a temperature [K] to [degF].
func Fahrenheit(kelvin float64) float64 { return kelvin*1.8 - 459.67 }

// FromFahrenheit converts a temperature [degF] to [K].
func FromFahrenheit(f float64) float64 { return (f + 459.67) / 1.8 }

// RPM converts an angular speed [rad/s] to turns a minute.
func RPM(radPerSecond float64) float64 { return radPerSecond / rpm }

// FromRPM converts turns a minute to [rad/s].
func FromRPM(turns float64) float64 { return turns * rpm }
