package unit

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Refusal says why a quantity was not taken and what to write instead.
type Refusal struct {
	Given   string // as written, shortened
	What    string
	Instead string
}

func (r *Refusal) Error() string {
	return strconv.Quote(r.Given) + " " + r.What + "; write instead: " + r.Instead
}

// maxLength of a quantity as written [bytes]; nothing sensible is longer.
const maxLength = 80

// Parse reads a quantity of the kind dim and returns it in SI. It accepts a
// decimal point or comma, an exponent, a true minus sign, metric prefixes, and
// wire gauges for a cross-section. Errors are *Refusal.
func Parse(dim Dim, s string) (float64, error) {
	dim = dim.known()
	q, err := split(s, dim)
	if err != nil {
		return 0, err
	}
	if q.gauge {
		if dim != SquareMetre {
			return 0, q.refuse("is a wire gauge, and "+dim.String()+" is wanted", such(dim))
		}
		return q.value, nil
	}
	if q.unit == "" {
		if dim == One {
			return q.si(meaning{One, 1, 0})
		}
		return 0, q.refuse("has no unit", q.digits+" "+dim.Symbol())
	}
	all := meanings(q.unit)
	for _, m := range all {
		if m.dim == dim {
			return q.si(m)
		}
	}
	return 0, q.wrong(dim, all)
}

// ParseAny reads a quantity of any kind and says which kind it is. "K" is taken
// as a temperature. A unit with two meanings ("F") is refused.
func ParseAny(s string) (float64, Dim, error) {
	q, err := split(s, One)
	if err != nil {
		return 0, One, err
	}
	if q.gauge {
		return q.value, SquareMetre, nil
	}
	if q.unit == "" {
		v, err := q.si(meaning{One, 1, 0})
		return v, One, err
	}
	all := meanings(q.unit)
	switch {
	case len(all) == 0:
		return 0, One, q.refuse("has a unit that is not known here", "14.2 V, 2.5 A, 1.9 ohm, 20 degC, 1250 rpm")
	case len(all) > 1 && all[0].dim != Kelvin:
		return 0, One, q.refuse("can be "+all[0].dim.String()+" or "+all[1].dim.String(), all[0].dim.Example()+" or "+all[1].dim.Example())
	}
	v, err := q.si(all[0])
	return v, all[0].dim, err
}

// such is a hint for a quantity that cannot be guessed: nobody shall take the
// figure of the hint for what was meant.
func such(dim Dim) string { return "a value such as " + dim.Example() }

// quantity is a number and a unit, apart.
type quantity struct {
	given, digits, unit string
	value               float64
	thousands           bool // the comma may part thousands
	gauge               bool // value is a gauge's cross-section [m2]
}

func (q quantity) refuse(what, instead string) error {
	return &Refusal{Given: q.given, What: what, Instead: instead}
}

func (q quantity) wrong(dim Dim, got []meaning) error {
	instead := such(dim)
	if dim == One {
		return q.refuse("has a unit, and a plain number is wanted", q.digits)
	}
	if len(got) == 0 {
		return q.refuse("has a unit that is not known for "+dim.String(), instead)
	}
	return q.refuse("is "+got[0].dim.String()+", and "+dim.String()+" is wanted", instead)
}

// si applies the unit.
func (q quantity) si(m meaning) (float64, error) {
	small := m.factor == 1 && (m.dim == Volt || m.dim == Amp || m.dim == One)
	if q.thousands && !small {
		at := strings.IndexByte(q.digits, ',')
		rest := strings.TrimSpace(" " + q.unit)
		whole, parted := q.digits[:at]+q.digits[at+1:], q.digits[:at]+"."+q.digits[at+1:]
		return 0, q.refuse("has a comma that may be a decimal comma or part thousands", whole+" "+rest+" or "+parted+" "+rest)
	}
	v := (q.value + m.offset) * m.factor
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, q.refuse("is too large", such(m.dim))
	}
	if m.dim == Kelvin && v < 0 {
		return 0, q.refuse("is below absolute zero", such(Kelvin))
	}
	return v, nil
}

// split parts the number from the unit; want only shapes the hints.
func split(s string, want Dim) (quantity, error) {
	trimmed := strings.TrimSpace(s)
	q := quantity{given: shorten(trimmed)}
	if trimmed == "" {
		return q, q.refuse("is empty", such(want))
	}
	if len(trimmed) > maxLength || !utf8.ValidString(trimmed) {
		return q, q.refuse("is not a quantity", such(want))
	}
	if area, is, err := parseGauge(trimmed); is {
		q.value, q.gauge = area, true
		if err != nil {
			return q, q.refuse(err.Error(), "10 AWG or 5.26 mm2")
		}
		return q, nil
	}
	number, rest := scan(trimmed)
	if number == "" {
		return q, q.refuse("does not begin with a number", such(want))
	}
	q.digits, q.unit = number, strings.TrimSpace(rest)
	if q.unit != "" && strings.ContainsRune(".,0123456789", rune(q.unit[0])) && !strings.HasPrefix(q.unit, "1/") {
		return q, q.refuse("is not one number", such(want))
	}
	q.thousands = thousands(number)
	plain := strings.Replace(strings.Replace(number, ",", ".", 1), "−", "-", 1)
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return q, q.refuse("is not a number that can be used", such(want))
	}
	q.value = v
	return q, nil
}

// scan returns the number at the start of s, with its sign and exponent, and
// what follows. "" when there is none.
func scan(s string) (number, rest string) {
	i := 0
	for _, sign := range []string{"+", "-", "−"} {
		if strings.HasPrefix(s, sign) {
			i = len(sign)
			break
		}
	}
	run := func(i int) int {
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		return i
	}
	start := i
	i = run(i)
	figures := i - start
	if i < len(s) && (s[i] == '.' || s[i] == ',') {
		end := run(i + 1)
		figures += end - i - 1
		i = end
	}
	if figures == 0 {
		return "", s
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '+' || s[j] == '-') {
			j++
		}
		if end := run(j); end > j {
			i = end
		}
	}
	return s[:i], s[i:]
}

// thousands says whether the comma of a number may part thousands: 1,250 but
// not 0,420 and not 14,2.
func thousands(number string) bool {
	whole, fraction, found := strings.Cut(strings.TrimLeft(number, "+-−"), ",")
	return found && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' && len(fraction) == 3
}

// shorten keeps what is shown of a long or broken text readable.
func shorten(s string) string {
	r := []rune(strings.ToValidUTF8(s, "?"))
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return string(r)
}
