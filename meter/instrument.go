// Package meter says how far a reading can be trusted: limits of error of an
// instrument, standard uncertainty, propagation through a formula, and the
// probability that a value stands within limits.
//
// It refuses a value above every range of the instrument, and it never decides:
// the inference uses readings with their uncertainty, the verdict words are for
// people. Open instrument.go for instruments, catalogue.go for the built-in
// ones, conform.go for verdicts, propagate.go for formulas.
package meter

import (
	"fmt"
	"math"
	"strings"
)

// Range is one range of an instrument. All in SI units of its kind.
type Range struct {
	Kind       string  // volts, amps, ac-volts, ohms, density, speed
	Full       float64 // largest value shown
	Resolution float64 // one count, or what can be read off a scale
	Percent    float64 // limit of error, of the reading [%]
	Counts     float64 // limit of error, in counts of Resolution
	PercentFS  float64 // limit of error, of Full: an analogue class [%]
	HookUp     float64 // standard uncertainty that hooking up adds
}

// Instrument is one measuring instrument.
type Instrument struct {
	ID, Name   string
	Ranges     []Range
	SeriesOhms float64 // what it adds in series when in a circuit [Ohm]; 0 = nothing
	InputOhms  float64 // what it adds between its leads on volts [Ohm]; 0 = nothing
	Source     string
	Basis      string // read, memory, common practice
}

// Limit is the largest error the maker's figures allow at the reading x:
// percent of reading, counts and class added up. Hook-up is not in it.
func (r Range) Limit(x float64) float64 {
	return r.Percent/100*math.Abs(x) + r.Counts*r.Resolution + r.PercentFS/100*r.Full
}

// Standard is the standard uncertainty of the reading x in this range. Limits
// of error are rectangular, u = a/sqrt(3); a count is q/sqrt(12); hook-up is
// already standard. Source: JCGM 100:2008 4.3.7 and F.2.2.1 (memory), EURACHEM
// guide appendix E (read).
func (r Range) Standard(x float64) float64 {
	a := r.Limit(x)
	return math.Sqrt(a*a/3 + r.Resolution*r.Resolution/12 + r.HookUp*r.HookUp)
}

// OverRange says that a value is more than an instrument can show.
type OverRange struct {
	Instrument, Kind string
	X, Full          float64
}

func (e *OverRange) Error() string {
	return fmt.Sprintf("%s shows %s up to %g, and %g is more: take an instrument with a larger range", e.Instrument, e.Kind, e.Full, e.X)
}

// Range returns the smallest range of the kind that holds x.
func (in Instrument) Range(kind string, x float64) (Range, error) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return Range{}, fmt.Errorf("%s: the value is not a number: give the reading, or say that it was over range", in.ID)
	}
	var best Range
	largest, found := 0.0, false
	for _, r := range in.Ranges {
		if r.Kind != kind {
			continue
		}
		largest = math.Max(largest, r.Full)
		if r.Full >= math.Abs(x) && (!found || r.Full < best.Full) {
			best, found = r, true
		}
	}
	switch {
	case found:
		return best, nil
	case largest > 0:
		return Range{}, &OverRange{in.ID, kind, x, largest}
	}
	return Range{}, fmt.Errorf("%s does not measure %s: it measures %s", in.ID, kind, strings.Join(in.Kinds(), ", "))
}

// Standard returns the standard uncertainty u of a reading x of the kind, the
// resolution and the end of the range it was taken in, the smallest that holds
// x. A value above every range gives *OverRange.
func (in Instrument) Standard(kind string, x float64) (u, resolution, full float64, err error) {
	r, err := in.Range(kind, x)
	if err != nil {
		return 0, 0, 0, err
	}
	return r.Standard(x), r.Resolution, r.Full, nil
}

// Figure is an instrument's own limit of error for a kind of quantity.
type Figure struct {
	Kind    string
	Percent float64 // of the reading
	Counts  float64 // of the range's resolution
}

// With is the instrument with figures of its own in place of those of every range
// of their kind. Ranges, resolution and hook-up stay.
func (in Instrument) With(own []Figure) Instrument {
	ranges := append([]Range(nil), in.Ranges...)
	for i := range ranges {
		for _, f := range own {
			if f.Kind == ranges[i].Kind {
				ranges[i].Percent, ranges[i].Counts, ranges[i].PercentFS = f.Percent, f.Counts, 0
			}
		}
	}
	in.Ranges = ranges
	return in
}

// Kinds lists the kinds the instrument measures, in the order of its ranges.
func (in Instrument) Kinds() []string {
	var out []string
	seen := map[string]bool{}
	for _, r := range in.Ranges {
		if !seen[r.Kind] {
			seen[r.Kind] = true
			out = append(out, r.Kind)
		}
	}
	return out
}

// Problems lists what is wrong with an instrument's figures, nothing if sound.
func (in Instrument) Problems() []string {
	var out []string
	if in.ID == "" {
		out = append(out, "the instrument has no id")
	}
	if len(in.Ranges) == 0 {
		out = append(out, in.ID+" has no range")
	}
	for i, r := range in.Ranges {
		for _, v := range []float64{r.Percent, r.Counts, r.PercentFS, r.HookUp} {
			if !(v >= 0) || math.IsInf(v, 0) {
				out = append(out, fmt.Sprintf("%s range %d: accuracy figures must be zero or more", in.ID, i+1))
				break
			}
		}
		if !(r.Full > 0) || !(r.Resolution > 0) || r.Resolution > r.Full || math.IsInf(r.Full, 0) {
			out = append(out, fmt.Sprintf("%s range %d: the resolution must be above zero and below the end of the range", in.ID, i+1))
		}
		if r.Kind == "" {
			out = append(out, fmt.Sprintf("%s range %d: no kind of quantity", in.ID, i+1))
		}
	}
	return out
}
